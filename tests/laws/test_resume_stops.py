"""The law of a stopped print over many stops: 2,000 in the long profile, some dozens else.

Programs in every dialect, round pots in arcs, walls as people's own scripts write them and pieces of the demo, each
stopped four times in any of the ways that a potter may say; the machine may have lost its places, clay may be
run out first, and it may have stopped before. The reference interpreter runs whole print and rest.
"""

from __future__ import annotations

import math
import re
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import Phase, event, given, settings
from hypothesis import strategies as st

from gpost.demo.gcode import Piece as DemoPiece
from gpost.demo.gcode import SliceStyle
from gpost.errors import PlanError, SourceError
from gpost.plan.intentions import Intention, Pause, Say, ScaleFeed, ScaleFlow, Wait
from gpost.plan.restart import Asked
from gpost.spot import Spot
from gpost.supply.cartridges import cartridges
from gpost.supply.stopped import Stopped
from tests.laws.stopped import (
    Print,
    Rest,
    check_opening,
    check_rest,
    check_told,
    end_of_whole,
    given_ml,
    machine,
    place_on,
    split_count,
    tail_of_whole,
)
from tests.reference.pieces import STRAND_MM2, Piece, piece_programs
from tests.reference.roundpots import round_pots
from tests.reference.state import Dialect, Event
from tests.reference.walls import Wall, walls
from tests.sliced import slice_piece

QUICKLY = settings(phases=(Phase.explicit, Phase.reuse, Phase.generate, Phase.shrink))
"""Nothing is explained: each try is two prints, line by line."""
STOPS = 4
"""Of each program: 500 of them in the long profile are 2,000 stops."""
STRAND_ML = STRAND_MM2 / 1000
HIGH = re.compile(rb"(?<=G0 Z)[-\d.]+|\*\d+")
"""What differs where it had stopped before: it is lifted higher, for the nozzle may stand higher."""
CONFIG: dict[str, Any] = {
    "machine": {
        "bed": {"x_min_mm": -900, "x_max_mm": 900, "y_min_mm": -900, "y_max_mm": 900},
        "park": {"x_mm": -700, "y_mm": -700},
    },
    "cartridge": {"volume_ml": 9000, "reserve_ml": 20, "line_ml": 30},
}


@pytest.fixture(scope="session")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the sliced file lies."""
    return tmp_path_factory.mktemp("stops") / "piece.gcode"


@st.composite
def pieces(draw: st.DrawFn) -> tuple[Piece, dict[str, Any], float]:
    """(any program, its config, ml in 1 mm of E); a wall of many lines is not interpreted in its every digit here."""
    kind = draw(st.sampled_from(["program", "program", "arcs", "wall", "demo"]))
    event(f"piece: {kind}")
    if kind == "program":
        return draw(piece_programs(min_layers=3)), CONFIG, STRAND_ML
    if kind == "arcs":
        return draw(round_pots()), CONFIG, STRAND_ML
    if kind == "wall":
        wall = draw(walls().filter(lambda wall: len(wall.program) < 200_000 and len(wall.layers) > 2))
        return of_wall(wall), {**CONFIG, "clay": {"metering": wall.metering}}, wall.mm3_per_e / 1000
    return draw(demo_pieces()), CONFIG, STRAND_ML


def of_wall(wall: Wall) -> Piece:
    """A wall as a piece."""
    return of_program(wall.program, [(layer.first_line, layer.height_mm) for layer in wall.layers])


def of_program(program: bytes, layers: list[tuple[int, float]]) -> Piece:
    """A program with (first line, height) of each layer."""
    lines, heights = zip(*layers, strict=True)
    inch = b"g20" in program.lower()
    return Piece(
        program, Dialect(), "flat", heights, (), (), lines, 0.0, 0.0, relative=False, e_relative=False, inch=inch
    )


@st.composite
def demo_pieces(draw: st.DrawFn) -> Piece:
    """A small bottle of the demo, with base and hops, flat or rising, as a slicing program writes it."""
    flags = ["relative_axes", "relative_e", "inches", "z_hop", "retract", "heaters", "g92_every_layer", "modal_g", "numbered"]
    style = {name: draw(st.booleans()) for name in flags}
    piece = DemoPiece(
        height_mm=16, radius_mm=25, segments=draw(st.sampled_from([12, 40])), base_layers=draw(st.integers(0, 2)),
        lobes=draw(st.sampled_from([0, 5])), twist_deg_per_mm=draw(st.sampled_from([0.0, 2.0])),
    )  # fmt: skip
    decimals = 4 if style["inches"] else 3
    wall = draw(st.sampled_from(["flat", "rise"]))
    sliced = slice_piece(piece, SliceStyle(wall=wall, decimals=decimals, **style))
    truth = sliced.truth
    return of_program(sliced.text, list(zip(truth.first_line.tolist(), truth.height_mm.tolist(), strict=True)))


@st.composite
def wishes(draw: st.DrawFn, piece: Piece) -> list[Intention]:
    """What steps want on the way: at most one thing of a kind, and none in the same place."""
    end = split_count(piece.program)
    starts = draw(st.lists(st.sampled_from(piece.layer_lines[1:]), unique=True, max_size=3))
    makers = [
        lambda line: Pause(Spot(line), "refill", "used up", "Refill", prime_ml=5.0, new_cartridge=True),
        lambda line: Pause(Spot(line), "look", "to look", "Look", prime_ml=0.0),
        lambda line: Say(Spot(line), "half way"),
        lambda line: Wait(Spot(line), 1.5),
        lambda line: ScaleFeed(line, end, 0.7),
        lambda line: ScaleFlow(line, end, 1.1),
    ]
    chosen = draw(st.permutations(makers))
    return [make(line) for make, line in zip(chosen, starts, strict=False)]


@st.composite
def stops(draw: st.DrawFn, whole: Print) -> Stopped:
    """Where it has stopped, in any of the ways to say it."""
    piece = whole.piece
    way = draw(st.sampled_from(["layer", "line", "clock", "top", "at", "at", "along"]))
    event(f"way: {way}")
    if way == "layer":
        return Stopped(Asked(layer=draw(st.integers(2, len(piece.layer_lines)))))
    if way == "line":
        line = draw(st.integers(piece.layer_lines[1], split_count(piece.program) - 1))
        return Stopped(Asked(spot=Spot(line)))
    if way == "clock":
        first_s = whole.plan.clock_before(piece.layer_lines[1])
        return Stopped(clock_s=first_s + draw(st.floats(0.01, 0.99)) * (whole.plan.total_s - first_s))
    by = draw(st.sampled_from([0.0, 0.0, 0.11, -0.13]))
    if way == "top":
        return Stopped(Asked(height_mm=draw(st.sampled_from(piece.layer_heights_mm)) + by))
    laid = [e for e in whole.events if e.lays_clay and (e.arc or e.end_mm[:2] != e.start_mm[:2])]
    x, y, z = place_on(draw(st.sampled_from(laid[len(laid) // len(piece.layer_lines) :])), draw(st.floats(0.02, 0.98)))
    if way == "at":
        return Stopped(Asked(height_mm=z + by, at_mm=(x, y)))
    return Stopped(Asked(height_mm=z + by, along_mm=draw(st.floats(0.0, 200.0))))


def meets(wishes: list[Intention], spot: Spot) -> bool:
    """Whether something that steps want stands just there: what of it has been can't be told by anybody."""
    return any(getattr(wish, "spot", None) == spot for wish in wishes)


@QUICKLY
@given(given_piece=pieces(), data=st.data())
def test_wherever_it_has_stopped(path: Path, given_piece: tuple[Piece, dict[str, Any], float], data: st.DataObject) -> None:
    """The rest is laid as it was, shifted as said; nothing is touched on the way; clay is the plain sum."""
    piece, config, ml_per_mm = given_piece
    wanted = data.draw(wishes(piece))
    try:
        whole = Print.of(path, piece, wanted, config)
        assert whole.events
    except (PlanError, SourceError):
        event("program refused")
        return
    for _ in range(STOPS):
        rest = stopped(whole, data)
        if rest is not None:
            check(rest, ml_per_mm, data)


def stopped(whole: Print, data: st.DataObject) -> Rest | None:
    """One stop that is not refused, by one of three tries."""
    for _ in range(3):
        said = data.draw(stops(whole))
        said = said._replace(
            lost=data.draw(st.sampled_from(["nothing", "nothing", "z", "all"])),
            run_out_ml=data.draw(st.sampled_from([None, None, 3.0])),
        )
        try:
            rest = whole.stopped(said)
        except PlanError as refused:
            event("stop refused: " + re.sub(r"[-\d.]+", "_", str(refused))[:60])
            continue
        if meets(list(whole.wishes), rest.going.found.spot):
            continue
        event("stop done, inside a move" if rest.going.found.spot.fraction else "stop done")
        return rest
    return None


def check(rest: Rest, ml_per_mm: float, data: st.DataObject) -> None:
    """All that must hold of one stop."""
    found, off = machine(rest, data), [0.0, 0.0, 0.0]
    going, lost = rest.going, rest.going.restart.lost
    if lost != "nothing":
        assert going.restart.set_at_mm is not None
        for number, axis in enumerate("XYZ"):
            if axis == "Z" or lost == "all":
                wrong = Decimal(data.draw(st.integers(-50, 300)))
                found.state.register[axis] = wrong
                off[number] = float(wrong + found.state.offset[axis]) - going.restart.set_at_mm[number]
    own = found.run(rest.rest)
    shift = (off[0], off[1], off[2] + going.found.shift_mm)
    check_opening(rest, own, going.found.shift_mm, (off[0], off[1], off[2]))
    check_rest(rest, own, shift)
    check_clay(rest, own, ml_per_mm)
    check_joint(rest)


def check_clay(rest: Rest, own: list[Event], ml_per_mm: float) -> None:
    """What is left in the cartridge is what has not passed since it was put on; later ones hold the plain rest."""
    events, tail = rest.print.events, tail_of_whole(rest)
    gone = events[: end_of_whole(rest) - len(tail)]
    put_on = next((n for n, e in enumerate(gone) if e.state.paused and "Refill" in e.state.messages), -1)
    # the wait that follows the words: of several pauses none stands between
    put_on = put_on if put_on < 0 or gone[put_on].state.messages[-1] == "Refill" else -1
    part = rest.going.found.spot.fraction
    passed_ml = sum(e.e_metered_mm for e in gone[put_on + 1 :]) * ml_per_mm
    passed_ml += part * tail[0].e_metered_mm * ml_per_mm if part else 0.0
    given = given_ml(events, ml_per_mm, words="Refill")[put_on >= 0]
    check_told(rest.going.left.clay_ml + passed_ml, given, 20, 2e-2)
    laid_ml = sum(e.e_metered_mm for e in own[len(rest.opening) :]) * ml_per_mm
    taken_ml = sum(use.clay_ml for use in cartridges(rest.plan)[1 + (put_on >= 0) :])
    assert taken_ml == pytest.approx(laid_ml + (rest.going.restart.prime_ml or 0.0), abs=2e-2)


def check_joint(rest: Rest) -> None:
    """Gap and overlap are no numbers below nought, and none where a place was given that can be split."""
    gap_mm, overlap_mm, at_most, _ = rest.going.found.joint
    for mm in (gap_mm, overlap_mm):
        assert mm is None or (math.copysign(1.0, mm) > 0 and math.isfinite(mm))
    asked = rest.going.stopped.asked
    if asked.at_mm is not None or asked.along_mm is not None:
        assert not at_most
        assert min(gap_mm or 0.0, overlap_mm or 0.0) == 0


@QUICKLY
@given(piece=st.one_of(piece_programs(min_layers=4), round_pots(min_layers=4)), data=st.data())
def test_however_often_it_has_stopped(path: Path, piece: Piece, data: st.DataObject) -> None:
    """Stopped anywhere and again later, inside moves too, it is stopped once at the later place."""
    whole = Print.of(path, piece, data.draw(wishes(piece)), CONFIG)
    found = []
    for said in data.draw(st.lists(stops(whole), min_size=2, max_size=3)):
        try:
            found.append((whole.stopped(said), said))
        except PlanError:
            event("stop refused")
    later = sorted((rest.going.found.spot, n) for n, (rest, _) in enumerate(found) if not rest.going.found.shift_mm)
    if len(later) < 2 or any(meets(list(whole.wishes), spot) for spot, _ in later):
        return
    once, _ = found[later[-1][1]]
    try:
        twice = whole.stopped(*(found[n][1]._replace(asked=Asked(spot=spot), clock_s=None) for spot, n in later))
    except PlanError:
        event("the second refused")
        return
    event("stopped twice or more")
    assert twice.going.found.spot == once.going.found.spot
    assert twice.tail == once.tail
    assert [HIGH.sub(b"", line) for line in twice.opening] == [HIGH.sub(b"", line) for line in once.opening]
