"""Laws: at the seam of a closed turn, where it both begins and ends, what stands there says which of both it is.

What stands and what is laid is the reference interpreter's, the programs' rings being written here.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.errors import PlanError
from gpost.plan.restart import Asked
from gpost.supply.stopped import Stopped
from tests.laws.stopped import Rest, Stop, attempt, check_opening, check_rest, stopper
from tests.reference.interpreter import Machine, run
from tests.reference.pieces import Piece
from tests.reference.state import Dialect, Event

RISE_MM = 1.5
RADIUS_MM = 30.0
LAYERS = 8


@pytest.fixture(scope="session")
def stop(tmp_path_factory: pytest.TempPathFactory) -> Stop:
    """One print, stopped and gone on with."""
    return stopper(tmp_path_factory.mktemp("seam") / "piece.gcode")


def rings(kind: str, turn: float, middles: Sequence[float] = (100.0,)) -> Piece:
    """Rings that close, each on that below, their seams turned by so many degrees from layer to layer.

    `kind`: how they are laid, as 24 straight moves, two arcs, or one arc that is a whole circle.
    """
    lines, first = ["G21", "G90", "M83", "G28", "G0 Z20 F3000"], []
    for layer in range(LAYERS):
        z = RISE_MM * (layer + 1)
        for number, middle in enumerate(middles):
            at = [math.radians(turn * layer) + 2 * math.pi * step / 24 for step in range(25)]
            points = [(middle + RADIUS_MM * math.cos(a), 100 + RADIUS_MM * math.sin(a)) for a in at]
            x, y = points[0]
            lines += [f"G0 Z{z + 3:.3f}", f"G0 X{x:.4f} Y{y:.4f}", f"G0 Z{z:.3f}"]
            if not number:
                first.append(len(lines))
            for goal in {"straight": points[1:], "arcs": points[12::12], "circle": points[24:]}[kind]:
                way = 2 * math.pi * RADIUS_MM / {"straight": 24, "arcs": 2, "circle": 1}[kind]
                how = "G1" if kind == "straight" else f"G3 I{middle - x:.4f} J{100 - y:.4f}"
                code, *more = how.split()
                x, y = goal
                lines.append(" ".join([code, f"X{x:.4f}", f"Y{y:.4f}", *more, f"E{way * 6:.4f}", "F1200"]))
    heights = tuple(RISE_MM * (layer + 1) for layer in range(LAYERS))
    return Piece(
        ("\n".join(lines) + "\n").encode(), Dialect(), "flat", heights, (), (), tuple(first), 0.0, 0.0,
        relative=False, e_relative=True, inch=False,
    )  # fmt: skip


def turns(piece: Piece) -> list[list[Event]]:
    """The moves that lay each closed ring, in their order."""
    laid = [e for e in run(piece.program, piece.dialect) if e.lays_clay]
    starts = [0, *(at for at, (a, b) in enumerate(pairwise(laid), 1) if a.end_mm != b.start_mm), len(laid)]
    return [laid[low:high] for low, high in pairwise(starts)]


KINDS = st.sampled_from(["straight", "arcs", "circle"])
MIDDLES = st.sampled_from([(100.0,), (100.0, 200.0)])
CONFIG = {"clay": {"metering": {"unit": "mm3"}}}


@given(kind=KINDS, turn=st.sampled_from([0.0, 3.0, -3.0]), middles=MIDDLES, past=st.floats(0, 1), data=st.data())
def test_a_turn_that_stands_is_not_laid_again(
    stop: Stop, kind: str, turn: float, middles: tuple[float, ...], past: float, data: st.DataObject
) -> None:
    """Its own top measured at its seam, or less than a quarter of a bead past it: it is laid, and what follows comes next."""
    piece = rings(kind, turn, middles)
    found = turns(piece)
    number = data.draw(st.integers(len(middles), len(found) - 2))
    x, y, z = found[number][-1].end_mm
    middle = middles[number % len(middles)]
    angle = math.atan2(y - 100, x - middle) + past / RADIUS_MM
    place = (middle + RADIUS_MM * math.cos(angle), 100 + RADIUS_MM * math.sin(angle))
    by, lost = data.draw(st.sampled_from([0.0, 0.31, -0.29])), data.draw(st.sampled_from(["nothing", "all"]))
    rest = attempt(stop, piece, [], Stopped(Asked(height_mm=z + by, at_mm=place), lost=lost), config=CONFIG)
    assert rest.going.found.shift_mm == pytest.approx(by, abs=1e-3)
    assert rest.going.found.end_mm == pytest.approx((x, y, z + by), abs=1e-3)
    own = machine_at(rest).run(rest.rest)
    check_opening(rest, own, by)
    check_rest(rest, own, (0.0, 0.0, by))
    laid = [mm for e in own[len(rest.opening) :] if e.lays_clay for mm in e.end_mm]
    later = [mm for each in found[number + 1 :] for e in each for mm in (*e.end_mm[:2], e.end_mm[2] + by)]
    assert laid == pytest.approx(later, abs=2e-3)


@given(kind=KINDS, middles=MIDDLES, data=st.data())
def test_a_turn_that_has_begun_goes_on(
    stop: Stop, kind: str, middles: tuple[float, ...], data: st.DataObject
) -> None:
    """Farther from the seam the bead ends where it was measured, and what is left of its turn is laid."""
    piece = rings(kind, 0.0, middles)
    found = turns(piece)
    number, past_mm = data.draw(st.integers(len(middles), len(found) - 1)), data.draw(st.floats(5, 175))
    z, middle = found[number][-1].end_mm[2], middles[number % len(middles)]
    angle = past_mm / RADIUS_MM
    place = (middle + RADIUS_MM * math.cos(angle), 100 + RADIUS_MM * math.sin(angle))
    rest = attempt(stop, piece, [], Stopped(Asked(height_mm=z, at_mm=place)), config=CONFIG)
    laid = [e for e in machine_at(rest).run(rest.rest)[len(rest.opening) :] if e.lays_clay]
    left_mm = sum(e.path_mm for e in found[number]) * (1 - angle / (2 * math.pi))
    assert laid[0].start_mm == pytest.approx((*place, z), abs=0.3)
    assert sum(e.path_mm for e in laid if e.end_mm[2] < z + 0.1) == pytest.approx(
        left_mm + sum(e.path_mm for each in found[number + 1 :] for e in each if e.end_mm[2] < z + 0.1), abs=0.3
    )


@pytest.mark.parametrize("kind", ["straight", "arcs", "circle"])
def test_by_what_of_the_turn_is_laid(stop: Stop, kind: str) -> None:
    """None of a turn on the top of that below, or all of it on its own: the next begins there."""
    piece = rings(kind, 0.0)
    whole_mm = sum(e.path_mm for e in turns(piece)[4])
    for height_mm, along_mm in ((5 * RISE_MM, whole_mm), (5 * RISE_MM, 0.0)):
        rest = stop(piece, [], Stopped(Asked(height_mm=height_mm, along_mm=along_mm)), config=CONFIG)
        assert rest.going.found.end_mm == pytest.approx((130, 100, height_mm), abs=1e-3)
        laid = [e for e in machine_at(rest).run(rest.rest)[len(rest.opening) :] if e.lays_clay]
        assert [e.e_delta_mm for e in laid] == pytest.approx([e.e_delta_mm for each in turns(piece)[5:] for e in each])
        assert laid[0].end_mm[2] == 6 * RISE_MM


def machine_at(rest: Rest) -> Machine:
    """A machine that stands where the potter has set it, or anywhere."""
    found = Machine(rest.piece.dialect)
    at = rest.going.restart.set_at_mm or (50.0, 50.0, 12.0)
    for axis, mm in zip("XYZ", at, strict=True):
        found.state.register[axis] = Decimal(str(mm))
        found.state.known[axis] = True
    return found


@pytest.mark.parametrize("place", [{"at_mm": (70.0, 100.0)}, {"along_mm": math.pi * RADIUS_MM}, {}])
@pytest.mark.parametrize("off", [0.5, 0.34, 0.26, 0.24, -0.26, 0.0])
def test_the_other_turn_is_named_where_it_is_about_as_near(stop: Stop, place: dict[str, Any], off: float) -> None:
    """Beyond a quarter of a layer the turn above or below is told with its height and place; half is refused."""
    piece, top = rings("straight", 0.0), 5 * RISE_MM
    asked = Asked(height_mm=top + off * RISE_MM, **place)
    if off == 0.5:
        with pytest.raises(PlanError, match=r"half a layer \(0.75 mm\).*the nearest tops are 7.50 mm.* and 9.00 mm"):
            stop(piece, [], Stopped(asked), config=CONFIG)
        return
    words = stop(piece, [], Stopped(asked), config=CONFIG).going.found.words
    other = {True: r"the turn at 9.00 mm \(layer 6", False: r"the turn at 6.00 mm \(layer 4"}[off > 0]
    x = 130 if not place else 70
    assert bool(re.search(rf"{other}, x {x}.\d, y (100.0|99.\d)", words)) == (abs(off) > 0.25)


@pytest.mark.parametrize(("past_mm", "named"), [(2.0, True), (3.5, True), (8.0, False)])
def test_a_little_behind_the_seam_the_whole_turn_is_named(stop: Stop, past_mm: float, named: bool) -> None:
    """A wet end is measured to some millimetres: whether the turn has begun or is whole the potter must say."""
    piece = rings("straight", 0.0)
    angle = past_mm / RADIUS_MM
    at_mm = (100 + RADIUS_MM * math.cos(angle), 100 + RADIUS_MM * math.sin(angle))
    rest = attempt(stop, piece, [], Stopped(Asked(height_mm=4 * RISE_MM, at_mm=at_mm)), config=CONFIG)
    assert rest.going.restart.spot.line >= piece.layer_lines[3]
    assert ("if the whole turn is laid already, say --from-layer 5" in rest.going.found.words) == named


@pytest.mark.parametrize(("layer", "middles"), [(LAYERS, (100.0,)), (4, (100.0, 170.0))])
def test_but_no_layer_that_is_not_there_or_leaves_out_clay(
    stop: Stop, layer: int, middles: tuple[float, ...]
) -> None:
    """Behind the last turn nothing is left; a ring that another one follows in its layer is no whole turn."""
    piece = rings("straight", 0.0, middles)
    at_mm = (100 + RADIUS_MM * math.cos(2 / RADIUS_MM), 100 + RADIUS_MM * math.sin(2 / RADIUS_MM))
    asked = Asked(height_mm=layer * RISE_MM, at_mm=at_mm)
    words = attempt(stop, piece, [], Stopped(asked), config=CONFIG).going.found.words
    assert "--from-layer" not in words
    assert ("if the whole turn is laid already, nothing is left to print" in words) == (layer == LAYERS)


@pytest.mark.parametrize("kind", ["straight", "arcs", "circle"])
@pytest.mark.parametrize("middles", [(100.0, 170.0), (100.0, 170.0, 240.0)])
@pytest.mark.parametrize("number", [0, 1])
@pytest.mark.parametrize("past_mm", [2.0, 3.5])
def test_behind_the_seam_of_a_turn_that_others_follow_in_its_layer(
    stop: Stop, kind: str, middles: tuple[float, ...], number: int, past_mm: float
) -> None:
    """It is said how much of the layer stands if that turn is whole: by that length nothing is laid on it again."""
    piece = rings(kind, 0.0, middles)
    z, middle, of_layer = 5 * RISE_MM, middles[number], turns(piece)[4 * len(middles) : 5 * len(middles)]
    angle = past_mm / RADIUS_MM
    at_mm = (middle + RADIUS_MM * math.cos(angle), 100 + RADIUS_MM * math.sin(angle))
    words = stop(piece, [], Stopped(Asked(height_mm=z, at_mm=at_mm)), config=CONFIG).going.found.words
    if number == len(middles) - 1:
        assert "if the whole turn is laid already, say --from-layer 6" in words
        return
    [said] = re.findall(r"if the whole turn is laid already, say --along ([\d.]+) instead of --at", words)
    asked = Asked(height_mm=z, along_mm=float(said))
    rest = attempt(stop, piece, [], Stopped(asked, lost="all"), config=CONFIG)
    assert rest.going.found.end_mm == pytest.approx((*of_layer[number][-1].end_mm[:2], z), abs=0.11)
    laid = [e for e in machine_at(rest).run(rest.rest)[len(rest.opening) :] if e.lays_clay and e.end_mm[2] < z + 0.1]
    due_mm = sum(e.path_mm for each in of_layer[number + 1 :] for e in each)
    assert sum(e.path_mm for e in laid) == pytest.approx(due_mm, abs=0.11), "what is left of the layer, and no more"
