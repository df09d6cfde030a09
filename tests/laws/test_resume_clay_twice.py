"""Laws: what a cartridge holds where a print stops again is what the written files have left in it.

The reference interpreter runs both files and sums up what they meter since the cartridge was put on: nothing
of gpost reckons there, but for what the sheet tells to load, which is what it gives and its reserve.
"""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from gpost.plan.intentions import Pause
from gpost.plan.restart import Asked
from gpost.spot import Spot
from gpost.supply.cartridges import cartridges
from gpost.supply.loads import on_from
from gpost.supply.stopped import Stopped
from gpost.supply.sure import told_ml
from tests.laws.stopped import (
    Given,
    Rest,
    Stop,
    attempt,
    check_told,
    given_ml,
)
from tests.laws.test_resume import stop
from tests.laws.test_resume_clay import CLOSE_ML, ML_PER_MM
from tests.reference.interpreter import run
from tests.reference.outputs import split_lines
from tests.reference.programs import Piece, piece_programs

__all__ = ["stop"]

RESERVE_ML = 20
CONFIG = {
    "cartridge": {"volume_ml": 9000, "reserve_ml": RESERVE_ML, "line_ml": 0.5},
    "machine": {"pause": {"relieve_ml": 0}},
}
WAYS = ["nothing", "left", "came", "run out", "left and run out", "came and run out"]


def drawn(piece: Piece, data: st.DataObject) -> tuple[list[Pause], int, int]:
    """Refills at layers' starts, and the layers from which it goes on, the first stop's first."""
    layers = len(piece.layer_lines)
    places = data.draw(st.lists(st.integers(2, layers), min_size=2, max_size=2, unique=True).map(sorted))
    refills = data.draw(st.lists(st.integers(1, layers - 1), max_size=2, unique=True).map(sorted))
    wishes = [
        Pause(Spot(piece.layer_lines[at]), "refill", f"at {at}", "Refill", prime_ml=0.25, new_cartridge=True)
        for at in refills
    ]
    return wishes, places[0], places[1]


def before(rest: Rest, file: bytes, *, paused: int = 0) -> list[Given]:
    """What each cartridge of a file had given where a rest begins."""
    lines = split_lines(file)
    end = len(lines) - (b"here it ends" in lines[-1]) - len(rest.tail)
    return given_ml(run(file, rest.piece.dialect)[:end], ML_PER_MM, paused=paused)


def held_ml(rest: Rest) -> float:
    """What is told to be in the cartridge that is on."""
    return told_ml(rest.plan, cartridges(rest.plan)[on_from(rest.plan)])


@given(piece=piece_programs(min_layers=5), way=st.sampled_from(WAYS), data=st.data())
def test_the_cartridge_holds_what_the_files_have_left_in_it(
    stop: Stop, piece: Piece, way: str, data: st.DataObject
) -> None:
    """Whatever was said at the first stop: that, less what the rest's own file has metered since."""
    wishes, first, second = drawn(piece, data)
    plain = attempt(stop, piece, wishes, Stopped(Asked(layer=first)), config=CONFIG)
    gave = before(plain, plain.whole)
    loaded_ml = round(held_ml(plain) + gave[-1].now_ml)
    check_told(loaded_ml, given_ml(plain.print.events, ML_PER_MM)[len(gave) - 1], RESERVE_ML, CLOSE_ML)
    at_first_ml, said = loaded_ml - gave[-1].now_ml, Stopped(Asked(layer=first))
    if "left" in way:
        at_first_ml = data.draw(st.floats(RESERVE_ML + 5, 9000))
        said = said._replace(left_ml=at_first_ml)
    if "came" in way:
        came_ml = data.draw(st.floats(0, 1.2)) * gave[-1].now_ml
        at_first_ml, said = loaded_ml - came_ml, said._replace(came_ml=came_ml)
    if "run out" in way:
        said = said._replace(run_out_ml=0.5)
    once = attempt(stop, piece, wishes, said, config=CONFIG)
    assert held_ml(once) == pytest.approx(at_first_ml, abs=CLOSE_ML)

    twice = attempt(stop, piece, wishes, said, Stopped(Asked(layer=second)), config=CONFIG)
    since = before(twice, once.rest, paused=1)
    if len(since) > 1:  # another one is on by then, loaded by the rest's own sheet
        whole = given_ml(run(once.rest, piece.dialect), ML_PER_MM, paused=1)
        at_first_ml = round(held_ml(twice) + since[-1].now_ml)
        check_told(at_first_ml, whole[len(since) - 1], RESERVE_ML, CLOSE_ML)
    assert held_ml(twice) == pytest.approx(at_first_ml - since[-1].now_ml, abs=CLOSE_ML)
    assert twice.going.left.number == len(gave) + len(since) - 1


@given(piece=piece_programs(min_layers=5), data=st.data())
def test_a_second_stop_is_a_first_one_later(stop: Stop, piece: Piece, data: st.DataObject) -> None:
    """From the first summary straight to that place the same is told, but for what was run out between."""
    wishes, first, second = drawn(piece, data)
    run_out_ml = data.draw(st.sampled_from([0.0, 0.5]))
    later = Stopped(Asked(layer=second))
    stops = Stopped(Asked(layer=first), run_out_ml=run_out_ml), later
    direct = attempt(stop, piece, wishes, later, config=CONFIG)
    twice = attempt(stop, piece, wishes, *stops, config=CONFIG)
    # where a wall climbs a layer's start is found a line off from where it was written: what is put on behind counts
    begins = attempt(stop, piece, wishes, stops[0], config=CONFIG).going.found.spot
    assume(not any(begins < pause.spot <= twice.going.found.spot for pause in wishes))
    assert direct.tail == twice.tail
    assert held_ml(twice) == pytest.approx(held_ml(direct) - run_out_ml, abs=CLOSE_ML)
