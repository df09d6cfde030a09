"""Laws: what goes on with a stopped print lays exactly the rest of it, and touches nothing on the way there.

The reference interpreter runs the whole file and the rest; where the nozzle stands when the rest begins, and
which modes the machine is in, is drawn: the machine may have been moved, or switched off, meanwhile.
"""

from __future__ import annotations

import math
import re
from decimal import Decimal
from itertools import takewhile

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from gpost.errors import PlanError
from gpost.plan.ends import HARDLY
from gpost.plan.intentions import Air, Command, Intention, Pause, Say, ScaleFeed, ScaleFlow, Wait
from gpost.plan.restart import Asked
from gpost.spot import Spot
from gpost.supply.cartridges import cartridges
from gpost.supply.stopped import Stopped
from tests.laws.stopped import (
    Stop,
    attempt,
    check_opening,
    check_rest,
    check_told,
    end_of_whole,
    given_ml,
    machine,
    split_count,
    standing_at,
    state_at,
    stopper,
    tail_of_whole,
)
from tests.reference.interpreter import run
from tests.reference.outputs import split_lines, without_number
from tests.reference.programs import Piece, piece_programs
from tests.reference.state import Dialect

SHIFTS = st.sampled_from([0.0, 0.0, 0.31, -0.29, 0.07])


@pytest.fixture(scope="session")
def stop(tmp_path_factory: pytest.TempPathFactory) -> Stop:
    """One print, stopped and gone on with."""
    return stopper(tmp_path_factory.mktemp("resume") / "piece.gcode")


def places(piece: Piece) -> st.SearchStrategy[Asked]:
    """Where a print may have stopped: at a layer, on a line."""
    lines = st.integers(piece.layer_lines[0] + 1, split_count(piece.program) - 1)
    layers = st.integers(2, len(piece.layer_lines))
    return st.one_of(layers.map(lambda n: Asked(layer=n)), lines.map(lambda n: Asked(spot=Spot(n))))


def wishes(piece: Piece) -> st.SearchStrategy[list[Intention]]:
    """What steps may want on the way."""
    lines = st.integers(piece.layer_lines[0], split_count(piece.program) - 1)
    spots = st.one_of(st.sampled_from(piece.layer_lines).map(Spot), lines.map(Spot))
    end = split_count(piece.program)
    return st.lists(
        st.one_of(
            st.builds(Pause, spots, st.just("look"), st.just("to look"), st.just("Look"), st.just(3.0)),
            st.builds(Say, spots, st.just("half way")),
            st.builds(Air, spots, st.sampled_from([0.0, 0.4, 1.0])),
            st.builds(Wait, spots, st.sampled_from([0.5, 2.0])),
            st.builds(Command, spots, st.just(("M300 S440",))),
            st.builds(lambda spot: ScaleFeed(spot.line, end, 0.7), spots),
            st.builds(lambda spot: ScaleFlow(spot.line, end, 1.1), spots),
        ),
        max_size=4,
    )


@given(piece=piece_programs(), data=st.data())
def test_the_rest_is_laid_as_it_was_planned(stop: Stop, piece: Piece, data: st.DataObject) -> None:
    """In every dialect, after any stop and from any place: each line of the rest does what it did."""
    wanted, asked = data.draw(wishes(piece)), data.draw(places(piece))
    rest = attempt(stop, piece, wanted, Stopped(asked))
    here = [wish for wish in wanted if getattr(wish, "spot", None) == rest.going.found.spot]
    # beside a pause that is not repeated, words and commands of that very place come (again) behind the opening
    assume(all(isinstance(wish, Pause) for wish in here) or not any(isinstance(wish, Pause) for wish in here))
    own = machine(rest, data).run(rest.rest)
    check_opening(rest, own)
    check_rest(rest, own)


@given(piece=piece_programs(), data=st.data())
def test_the_rest_is_the_file_itself(stop: Stop, piece: Piece, data: st.DataObject) -> None:
    """Behind its opening it is the end of the file that was run, byte for byte."""
    rest = attempt(stop, piece, [], Stopped(data.draw(places(piece))))
    tail = [without_number(line).rstrip(b"\r") for line in rest.tail]
    whole = [without_number(line).rstrip(b"\r") for line in split_lines(rest.whole)[: end_of_whole(rest)]]
    assert tail
    assert whole[-len(tail) :] == tail


@given(piece=piece_programs(), data=st.data())
def test_the_sum_of_e_is_said_to_the_digit(stop: Stop, piece: Piece, data: st.DataObject) -> None:
    """What E counts from is the sum of the words before it, without the noise of sums of floats."""
    rest = attempt(stop, piece, [], Stopped(data.draw(places(piece))))
    state = state_at(rest)
    said = [line for line in map(without_number, rest.opening) if line.startswith(b"G92 E")]
    number = Decimal(said[0].rstrip(b"\r").removeprefix(b"G92 E").decode())
    assert number == (state.register["E"] / state.scale).normalize()


def test_a_long_sum_of_e_has_no_noise(stop: Stop) -> None:
    """12,800 relative words of 0.0723 are 925.44, which sums of floats miss in the tenth decimal."""
    lines, first = ["G21", "G90", "M83", "G28", "G1 Z8 F900", "G1 X190 Y150 F3000"], []
    for layer in range(34):
        lines.append(f"G1 Z{2 * layer + 2}")
        first.append(len(lines))
        for step in range(1, 401):
            angle = 2 * math.pi * step / 400
            lines.append(f"G1 X{150 + 40 * math.cos(angle):.3f} Y{150 + 40 * math.sin(angle):.3f} E0.0723")
    heights = tuple(2.0 * layer + 2 for layer in range(34))
    program = ("\n".join(lines) + "\n").encode()
    piece = Piece(
        program, Dialect(), "flat", heights, (), (), tuple(first), 0.0, 0.0, relative=False, e_relative=True, inch=False
    )
    opening = stop(piece, [], Stopped(Asked(layer=33))).opening
    assert [line for line in opening if line.startswith(b"G92 E")] == [b"G92 E925.44"]


@given(piece=piece_programs(min_layers=4), data=st.data())
def test_a_measured_top_shifts_the_rest(stop: Stop, piece: Piece, data: st.DataObject) -> None:
    """By less than half a layer it is laid higher or lower, and by nothing else."""
    layer, by = data.draw(st.integers(3, len(piece.layer_lines))), data.draw(SHIFTS)
    top = piece.layer_heights_mm[layer - 2]
    rest = attempt(stop, piece, [], Stopped(Asked(height_mm=top + by)))
    shift = rest.going.found.shift_mm
    rise = piece.layer_heights_mm[1] - piece.layer_heights_mm[0]
    if piece.rise == "flat":
        assert abs(shift) < rise / 2
        assert shift == pytest.approx(by, abs=2e-3) or abs(by) > rise / 2 - 0.01
    own = machine(rest, data).run(rest.rest)
    check_opening(rest, own, shift)
    check_rest(rest, own, (0.0, 0.0, shift))


@given(piece=piece_programs(min_layers=3), data=st.data())
def test_a_lost_height_is_taken_from_the_rim(stop: Stop, piece: Piece, data: st.DataObject) -> None:
    """However wrong the machine's own height is: what counts is where the potter has set the nozzle."""
    asked = Asked(layer=data.draw(st.integers(2, len(piece.layer_lines))))
    lost = data.draw(st.sampled_from(["z", "all"]))
    rest = attempt(stop, piece, [], Stopped(asked, lost=lost))
    set_at = rest.going.restart.set_at_mm
    assert set_at is not None
    assert set_at[2] == pytest.approx(rest.going.found.end_mm[2] + 0.1)
    found = machine(rest, data)
    wrong = [Decimal(data.draw(st.integers(-50, 300))) for _ in "XYZ"]
    off = [0.0, 0.0, 0.0]
    for number, axis in enumerate("XYZ"):
        if axis == "Z" or lost == "all":
            found.state.register[axis] = wrong[number]
            off[number] = float(wrong[number] + found.state.offset[axis]) - set_at[number]
    own = found.run(rest.rest)
    # where it really is: the machine's own account is off by what it was wrong by
    check_opening(rest, own, off=(off[0], off[1], off[2]))
    check_rest(rest, own, (off[0], off[1], off[2]))
    first = next(e for e in own if e.kind == "move" and e.path_mm > 0)
    assert first.start_mm[2] - off[2] == pytest.approx(set_at[2])
    assert first.end_mm[2] > first.start_mm[2] + 2


@given(piece=piece_programs(min_layers=3), homes=st.sampled_from(["xy", "all_up"]), data=st.data())
def test_it_homes_only_by_the_studios_word(stop: Stop, piece: Piece, homes: str, data: st.DataObject) -> None:
    """With it after the lift, once; the rest is the same. Without it never."""
    asked = Asked(layer=data.draw(st.integers(2, len(piece.layer_lines))))
    config = {"machine": {"home_with_piece": homes}}
    rest = attempt(stop, piece, [], Stopped(asked, lost="nothing"), config=config)
    home = [at for at, line in enumerate(rest.opening) if b"G28" in line]
    own = machine(rest, data).run(rest.rest)
    up = next(at for at, e in enumerate(own) if e.kind == "move")
    assert [without_number(rest.opening[at]).rstrip(b"\r") for at in home] == (
        [b"G28 X Y"] if homes == "xy" else [b"G28 Z", b"G28 X Y"]
    )
    assert up < home[0]
    check_opening(rest, own)
    check_rest(rest, own)
    without = attempt(stop, piece, [], Stopped(asked))
    assert not any(b"G28" in line for line in without.opening)


@given(piece=piece_programs(min_layers=4), data=st.data())
def test_stopped_twice_is_stopped_once_later(stop: Stop, piece: Piece, data: st.DataObject) -> None:
    """Where it stops a second time is all that counts."""
    wanted = data.draw(wishes(piece))
    first = data.draw(st.integers(2, len(piece.layer_lines) - 1))
    second = data.draw(st.integers(first + 1, len(piece.layer_lines)))
    twice = attempt(stop, piece, wanted, Stopped(Asked(layer=first)), Stopped(Asked(layer=second)))
    once = stop(piece, wanted, Stopped(Asked(layer=second)))
    assert twice.tail == once.tail
    high = re.compile(rb"(?<=G0 Z)[-\d.]+|\*\d+")  # it is lifted higher, for the nozzle may stand higher
    assert [high.sub(b"", line) for line in twice.opening] == [high.sub(b"", line) for line in once.opening]


@given(piece=piece_programs(min_layers=3), ml=st.sampled_from([0.5, 12.0]), data=st.data())
def test_clay_is_run_out_at_the_park(stop: Stop, piece: Piece, ml: float, data: st.DataObject) -> None:
    """So much is metered there and nowhere else before the rest, with the blower off."""
    asked = Asked(layer=data.draw(st.integers(2, len(piece.layer_lines))))
    rest = attempt(stop, piece, [], Stopped(asked, run_out_ml=ml))
    own = machine(rest, data).run(rest.rest)
    opening = own[: len(rest.opening)]
    pushed = [e for e in opening if e.e_metered_mm > 0 and e.path_mm == 0]
    assert sum(e.e_metered_mm for e in opening) == pytest.approx(ml / 0.00240528, rel=1e-4)
    assert max(e.e_metered_mm for e in pushed) == pytest.approx(ml / 0.00240528, rel=1e-4)
    assert all(float(e.state.fan) == 0 for e in pushed)
    check_rest(rest, own)


@given(piece=piece_programs(min_layers=3), data=st.data())
def test_the_way_is_looked_at_above(stop: Stop, piece: Piece, data: st.DataObject) -> None:
    """The rehearsal waits, goes its way and ends above the place, lays nothing; from there its rest begins.

    It ends a hand's width above what is laid there, or as high as its rest says that the nozzle may stand.
    """
    asked = Asked(layer=data.draw(st.integers(2, len(piece.layer_lines))))
    rest = attempt(stop, piece, [], Stopped(asked, look=True))
    own = machine(rest, data).run(rest.rest)
    assert not any(e.error or e.e_delta_mm for e in own)
    moves = [e for e in own if e.kind == "move" and e.path_mm > 0]
    whole = stop(piece, [], Stopped(asked))
    goal = state_at(whole).position_mm
    assert moves[-1].end_mm[:2] == pytest.approx(goal[:2], abs=1e-6)
    laid_mm = [e.end_mm[2] for e in whole.print.events[: end_of_whole(whole) - len(whole.tail)] if e.lays_clay]
    highest = whole.going.restart.nozzle_below_mm
    assert moves[-1].end_mm[2] == pytest.approx(min(laid_mm[-1] + 90, highest), abs=3e-3)
    assert moves[-1].end_mm[2] >= laid_mm[-1] + 2 - 3e-3
    assert rest.tail == []
    x, y, z = moves[-1].end_mm
    check_opening(whole, standing_at(whole, (x, y, min(z, highest)), data).run(whole.rest))


@given(piece=piece_programs(min_layers=4), share=st.floats(0.05, 0.95), data=st.data())
def test_it_goes_on_where_the_bead_ends(stop: Stop, piece: Piece, share: float, data: st.DataObject) -> None:
    """By its measured top and its place: inside the very move, of which only the rest is laid.

    Not of a bead that has hardly begun: where its turn closes that is taken to be whole.
    """
    events = run(piece.program, piece.dialect)
    laid = [e for e in events if e.lays_clay and e.line >= piece.layer_lines[1]]
    broken = data.draw(st.sampled_from(laid))
    x, y, z = (a + share * (b - a) for a, b in zip(broken.start_mm, broken.end_mm, strict=True))
    rest = attempt(stop, piece, [], Stopped(Asked(height_mm=z, at_mm=(x, y))))
    moves = [e for e in events[: events.index(broken)] if e.kind == "move" and e.path_mm > 0]
    same_bead = takewhile(lambda e: e.lays_clay, reversed(moves))
    assume(share * broken.path_mm + sum(e.path_mm for e in same_bead) > HARDLY * rest.plan.bead_width_mm)
    own = machine(rest, data).run(rest.rest)
    check_opening(rest, own, rest.going.found.shift_mm)
    assert abs(rest.going.found.shift_mm) < 0.02
    first = own[len(rest.opening)]
    assert max(abs(a - b) for a, b in zip(first.start_mm, (x, y, z), strict=True)) < 0.03
    theirs = tail_of_whole(rest)
    assert first.end_mm == pytest.approx(theirs[0].end_mm, abs=0.03)
    assert first.e_metered_mm == pytest.approx(
        (1 - share) * theirs[0].e_metered_mm, abs=0.02 * broken.e_delta_mm
    )
    for a, b in zip(own[len(rest.opening) + 1 :], theirs[1:], strict=False):
        assert a.end_mm == pytest.approx(b.end_mm, abs=0.03)
        assert a.e_metered_mm == pytest.approx(b.e_metered_mm, abs=1e-6)


@given(piece=piece_programs(min_layers=4), data=st.data())
def test_what_is_left_is_what_has_not_passed(stop: Stop, piece: Piece, data: st.DataObject) -> None:
    """The clay in the cartridge, by a plain sum of E since it was put on; what is said goes before that."""
    at, place = sorted(
        data.draw(st.lists(st.integers(2, len(piece.layer_lines)), min_size=2, max_size=2, unique=True))
    )
    refill = Pause(
        Spot(piece.layer_lines[at - 1]), "refill", "used up", "Refill", prime_ml=5.0, new_cartridge=True
    )
    config = {"cartridge": {"volume_ml": 9000, "reserve_ml": 20, "line_ml": 30}}
    asked = Asked(layer=place)
    rest = attempt(stop, piece, [refill], Stopped(asked), config=config)
    events = run(rest.whole, rest.piece.dialect)[: end_of_whole(rest) - len(rest.tail)]
    put_on = next(n for n, e in enumerate(events) if e.state.paused)
    ml_per_mm = math.pi / 4 * 1.75**2 / 1000
    passed_ml = sum(e.e_metered_mm for e in events[put_on + 1 :]) * ml_per_mm
    check_told(rest.going.left.clay_ml + passed_ml, given_ml(rest.print.events, ml_per_mm)[1], 20, 1e-3)
    assert rest.going.left.number == 2
    uses = cartridges(rest.plan)
    assert [use.number for use in uses] == [1, 2, 2]
    rest_ml = sum(e.e_metered_mm for e in tail_of_whole(rest)) * ml_per_mm
    assert uses[-1].clay_ml == pytest.approx(rest_ml, abs=1e-3)
    said = attempt(stop, piece, [refill], Stopped(asked, left_ml=777.0), config=config)
    assert cartridges(said.plan)[-1].held_ml == 777.0


@given(piece=piece_programs(min_layers=5), off=st.floats(0.55, 0.95), data=st.data())
def test_a_wrong_height_is_refused(stop: Stop, piece: Piece, off: float, data: st.DataObject) -> None:
    """A top more than half a layer off from what stands at that place is no measured top of it."""
    layer = data.draw(st.integers(3, len(piece.layer_lines)))
    rise = piece.layer_heights_mm[layer - 1] - piece.layer_heights_mm[layer - 2]
    assume(rise > 0.5)
    top = attempt(stop, piece, [], Stopped(Asked(layer=layer))).going.found.end_mm[2]
    wrong = top + off * rise * data.draw(st.sampled_from([-1, 1]))
    with pytest.raises(PlanError, match="less than half a layer"):
        stop(piece, [], Stopped(Asked(layer=layer, top_mm=wrong)))


@given(piece=piece_programs(min_layers=4), data=st.data())
def test_a_pause_that_is_due_there_is_not_repeated(stop: Stop, piece: Piece, data: st.DataObject) -> None:
    """It has been, as those before it; later ones come."""
    layer = data.draw(st.integers(2, len(piece.layer_lines) - 1))
    pauses = [
        Pause(Spot(piece.layer_lines[at]), "look", f"at {at}", f"Look {at}") for at in (layer - 1, layer)
    ]
    rest = attempt(stop, piece, pauses, Stopped(Asked(spot=Spot(piece.layer_lines[layer - 1]))))
    own = machine(rest, data).run(rest.rest)
    assert own[-1].state.paused == 2
    assert own[-1].state.messages == ("Not moved: go on", f"Look {layer}")
    assert [f"(look: at {layer - 1})" in text for text in rest.going.skipped] == [True]


@given(piece=piece_programs(), chunk_bytes=st.integers(40, 400), data=st.data())
def test_cuts_into_blocks_are_not_seen(
    stop: Stop, piece: Piece, chunk_bytes: int, data: st.DataObject
) -> None:
    """However the file is cut, the rest is the same, also where it goes on inside a block."""
    wanted, asked = data.draw(wishes(piece)), data.draw(places(piece))
    rest = attempt(stop, piece, wanted, Stopped(asked))
    assert stop(piece, wanted, Stopped(asked), chunk_bytes=chunk_bytes).rest == rest.rest
