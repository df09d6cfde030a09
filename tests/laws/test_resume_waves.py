"""Laws: a print that stops on a wall that bobs up and down is found again from its bead's top, and nothing is hit.

What stands, and how high, is the reference interpreter's; the walls are written in tests/reference/wavywalls.py.
"""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Iterator
from decimal import Decimal
from typing import Any, NamedTuple

import pytest
from hypothesis import assume, event, given
from hypothesis import strategies as st

from gpost.errors import PlanError
from gpost.plan.restart import Asked
from gpost.plan.resume import PAPER_MM
from gpost.supply.stopped import Stopped
from tests.laws.stopped import Rest, Stop, check_opening, check_rest, place_on, stopper
from tests.reference.interpreter import Machine, run
from tests.reference.pieces import Piece
from tests.reference.state import Dialect, Event
from tests.reference.wavywalls import MIDDLE_MM, WavyWall, wavy_walls

CONFIG = {"clay": {"metering": {"unit": "mm3"}}}
OVER_MM = 0.5
"""A bead stands at a place if its middle passes within so much of it."""
SAME_MM = 0.012
"""Places are written to 1e-5 of an inch; a measured one that lies between two strokes is as near as that."""
CLOSE_MM = 0.1
"""Where a wall begins to climb, its first turn hardly lies higher than the one below: nobody can tell them apart."""
NOTHING = re.compile("nothing stands|nothing is left|the first layer lies on the bed|has its full height|is above the piece")


@pytest.fixture(scope="session")
def stop(tmp_path_factory: pytest.TempPathFactory) -> Stop:
    """One print, stopped and gone on with."""
    return stopper(tmp_path_factory.mktemp("waves") / "piece.gcode")


class Stood(NamedTuple):
    """A place at which the print stopped."""

    laid: list[Event]
    """The beads of the whole print."""
    number: int
    """Of the bead in which it stopped."""
    share: float
    at_mm: tuple[float, float, float]

    def standing(self, x: float, y: float) -> list[float]:
        """The heights of what stands at a place."""
        return [*passes(self.laid[: self.number], x, y), *over(self.laid[self.number], x, y, self.share)]


def over(bead: Event, x: float, y: float, upto: float = 1.0) -> Iterator[float]:
    """The height of a bead, up to a share of it, where it passes a place, as seen from above; nothing elsewhere."""
    (ax, ay, _), (bx, by, _) = bead.start_mm, bead.end_mm
    if bead.arc is not None:
        turned = math.atan2(y - MIDDLE_MM, x - MIDDLE_MM) - math.atan2(ay - MIDDLE_MM, ax - MIDDLE_MM)
        share = (turned + 1e-9) % (2 * math.pi) / abs(bead.arc.sweep_rad)
    else:
        share = ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / ((bx - ax) ** 2 + (by - ay) ** 2)
    if -1e-6 <= share <= upto + 1e-6:
        there = place_on(bead, share)
        if math.dist(there[:2], (x, y)) < OVER_MM:
            yield there[2]


def passes(laid: list[Event], x: float, y: float) -> list[float]:
    """The heights of some beads at a place."""
    return [z for bead in laid for z in over(bead, x, y)]


def gap_mm(stood: Stood) -> float:
    """How far the next bead of the whole print lies over or under that which stood highest there, at its place."""
    x, y, z = stood.at_mm
    others = [abs(mm - z) for mm in passes(stood.laid, x, y) if abs(mm - z) > SAME_MM]
    return min(others)


def stopped_at(piece: Piece, data: st.DataObject) -> Stood:
    """Any place of the wall above its first turn."""
    laid = [e for e in run(piece.program, piece.dialect) if e.lays_clay]
    first = next(at for at, e in enumerate(laid) if e.line >= piece.layer_lines[1])
    number, share = data.draw(st.integers(first, len(laid) - 1)), data.draw(st.floats(0.03, 0.97))
    return Stood(laid, number, share, place_on(laid[number], share))


def done(rest: Rest) -> list[Event]:
    """What the rest does on a machine that stands beside the wall, as high as it may."""
    found = Machine(rest.piece.dialect)
    for axis, mm in zip("XYZ", (50.0, 50.0, rest.going.restart.nozzle_below_mm), strict=True):
        found.state.register[axis] = Decimal(str(mm))
        found.state.known[axis] = True
    return found.run(rest.rest)


def check_nothing_hit(rest: Rest, stood: Stood, off_mm: float, slack_mm: float = 0.0) -> None:
    """The nozzle comes down on nothing that stands, nor does its first move go into it, but by the slack."""
    own = done(rest)
    check_opening(rest, own, off_mm)
    down = [e for e in own[: len(rest.opening)] if e.kind == "move" and e.path_mm > 0][-1]
    first = next(e for e in own[len(rest.opening) :] if e.lays_clay)
    for x, y, z in (down.end_mm, first.start_mm, first.end_mm):
        assert z >= max(stood.standing(x, y), default=0.0) + off_mm - SAME_MM - slack_mm


@given(wall=wavy_walls(), off=st.sampled_from([0.0, 0.2, -0.2]), data=st.data())
def test_the_bead_is_found_again_by_its_top_and_its_place(
    stop: Stop, wall: WavyWall, off: float, data: st.DataObject
) -> None:
    """Whichever bead it is that comes by there, be its whole wall so much higher or lower than planned."""
    piece = wall.piece()
    stood = stopped_at(piece, data)
    gap = gap_mm(stood)
    assume(gap > CLOSE_MM)
    by = round(off * min(gap, wall.rise_mm), 3)
    x, y, z = stood.at_mm
    try:
        rest = stop(piece, [], Stopped(Asked(height_mm=z + by, at_mm=(x, y))), config=CONFIG)
    except PlanError as error:
        assert NOTHING.search(str(error)), error
        return
    found, bead = rest.going.found, stood.laid[stood.number]
    assert found.shift_mm == pytest.approx(by, abs=SAME_MM)
    check_nothing_hit(rest, stood, by)
    before_mm = sum(e.path_mm for e in stood.laid[: stood.number] if e.line >= start_of(piece, bead))
    if wall.spiral or before_mm + stood.share * bead.path_mm > rest.plan.bead_width_mm / 4:  # else all of it may be laid
        assert found.end_mm == pytest.approx((x, y, z + by), abs=0.02)
        assert found.spot.line == bead.line
        assert found.spot.fraction == pytest.approx(stood.share, abs=3e-3)
        check_rest(rest, done(rest), (0.0, 0.0, found.shift_mm))


def start_of(piece: Piece, bead: Event) -> int:
    """The line of the first bead of its turn."""
    return max(line for line in piece.layer_lines if line <= bead.line)


@given(wall=wavy_walls(), off=st.sampled_from([0.0, 0.2, -0.2]), data=st.data())
def test_a_top_alone_hits_nothing_or_the_place_is_asked_for(
    stop: Stop, wall: WavyWall, off: float, data: st.DataObject
) -> None:
    """The turn that begins on that top is laid if no other height stands; else the potter has to say the place.

    What waves by no more than a sheet of paper counts as level: the top may be that much off elsewhere.
    """
    piece = wall.piece()
    stood = stopped_at(piece, data)
    by = round(off * min(gap_mm(stood), wall.rise_mm), 3)
    layer = sum(line <= stood.laid[stood.number].line for line in piece.layer_lines) - 1
    try:
        rest = stop(piece, [], Stopped(Asked(height_mm=stood.at_mm[2] + by)), config=CONFIG)
    except PlanError as error:
        asks = "and say where that is (--at X,Y)" in str(error)
        event("asks" if asks else "refuses")
        assert asks or NOTHING.search(str(error)), error
        assert wall.spiral or layer > wall.level or not asks  # below the wave each height is one turn's alone
        return
    event("goes on")
    check_nothing_hit(rest, stood, by, min(wall.rise_mm * wall.depth, PAPER_MM))
    assert rest.going.found.spot.line <= start_of_layer(piece, layer + 1)


def start_of_layer(piece: Piece, layer: int) -> float:
    """The line of the first bead of a layer counted from 0."""
    return piece.layer_lines[layer] if layer < len(piece.layer_lines) else math.inf


@given(wall=wavy_walls(), off=st.sampled_from([0.0, 0.2, -0.2]), data=st.data())
def test_the_bead_is_found_again_by_what_of_its_turn_is_laid(
    stop: Stop, wall: WavyWall, off: float, data: st.DataObject
) -> None:
    """Its top at that length along it, measured along the wave; rings, whose turns begin where they are written."""
    piece = dataclasses.replace(wall, spiral=False).piece()
    stood = stopped_at(piece, data)
    bead, by = stood.laid[stood.number], round(off * min(gap_mm(stood), wall.rise_mm), 3)
    before_mm = sum(e.path_mm for e in stood.laid[: stood.number] if e.line >= start_of(piece, bead))
    asked = Asked(height_mm=stood.at_mm[2] + by, along_mm=before_mm + stood.share * bead.path_mm)
    rest = stop(piece, [], Stopped(asked), config=CONFIG)
    assert rest.going.found.shift_mm == pytest.approx(by, abs=SAME_MM)
    assert rest.going.found.end_mm == pytest.approx((*stood.at_mm[:2], stood.at_mm[2] + by), abs=0.02)
    assert rest.going.found.spot.line + rest.going.found.spot.fraction == pytest.approx(bead.line + stood.share, abs=3e-3)
    check_nothing_hit(rest, stood, by)


def big_wave() -> Piece:
    """Rings of 2 mm whose three crests grow by half a millimetre a ring up to 8 mm; the seam lies in a trough."""
    lines, first = ["G21", "G90", "M83", "G28", "G0 Z10 F3000"], []
    for ring in range(30):
        at = [2 * math.pi * step / 120 for step in range(121)]
        depth = min(8.0, ring * 0.5)
        points = [(140 + 45 * math.cos(a), 140 + 45 * math.sin(a), 2 + 2 * ring + depth * (1 - math.cos(3 * a)) / 2) for a in at]
        lines.append("G0 X{:.3f} Y{:.3f} Z{:.3f}".format(*points[0]))
        first.append(len(lines))
        lines += ["G1 X{:.3f} Y{:.3f} Z{:.3f} E24 F1500".format(*point) for point in points[1:]]
    return Piece(
        ("\n".join(lines) + "\n").encode(), Dialect(), "flat", (), (), (), tuple(first), 0.0, 0.0,
        relative=False, e_relative=True, inch=False,
    )  # fmt: skip


@pytest.mark.parametrize("place", [{"at_mm": (185.0, 140.0)}, {"along_mm": 0.0}])
@pytest.mark.parametrize("by", [0.0, 0.3])
def test_a_ring_is_found_by_its_trough(stop: Stop, place: dict[str, Any], by: float) -> None:
    """The ring at 38 mm is the nineteenth, though the crests of the sixteenth are higher; the twentieth goes on."""
    piece = big_wave()
    rest = stop(piece, [], Stopped(Asked(height_mm=38 + by, **place)), config=CONFIG)
    assert rest.going.found.end_mm == pytest.approx((185, 140, 38 + by), abs=1e-3)
    assert rest.going.found.shift_mm == pytest.approx(by)
    laid = [e for e in done(rest)[len(rest.opening) :] if e.lays_clay]
    assert laid[0].start_mm == pytest.approx((185, 140, 40 + by), abs=1e-3)


def test_of_that_height_alone_the_place_is_asked_for(stop: Stop) -> None:
    """What is to do is said, and which layers it may be; beyond the top nothing is asked."""
    with pytest.raises(PlanError, match=r"near 38.3 mm the wall waves: layers 16 to 19 .*say where that is \(--at X,Y\)"):
        stop(big_wave(), [], Stopped(Asked(height_mm=38.3)), config=CONFIG)
    with pytest.raises(PlanError, match="80 mm is above the piece"):
        stop(big_wave(), [], Stopped(Asked(height_mm=80)), config=CONFIG)


@pytest.mark.parametrize(("height_mm", "said"), [(37.0, "36.00 mm .layer 18. and 38.00 mm .layer 19."), (36.8, None)])
def test_the_turns_that_come_by_there_are_named(stop: Stop, height_mm: float, said: str | None) -> None:
    """Half-way between two troughs either may be meant; the crests elsewhere are none of them."""
    asked = Stopped(Asked(height_mm=height_mm, at_mm=(185.0, 140.0)))
    if said is None:
        words = stop(big_wave(), [], asked, config=CONFIG).going.found.words
        assert "the bead may have ended in the turn at 38.00 mm (layer 19, x 185.0, y 140.0 mm)" in words
        return
    with pytest.raises(PlanError, match=f"half a layer .1.00 mm.*the nearest tops are {said}"):
        stop(big_wave(), [], asked, config=CONFIG)


@pytest.mark.parametrize(("top_mm", "warns"), [(38.3, True), (38.0, False), (None, False)])
def test_with_a_layer_the_top_counts_where_that_begins(stop: Stop, top_mm: float | None, warns: bool) -> None:
    """The potter has named the seam, and may have measured elsewhere on the wave: that is said where it matters."""
    words = stop(big_wave(), [], Stopped(Asked(layer=20, top_mm=top_mm)), config=CONFIG).going.found.words
    assert ("The wall waves: its top counts at that place alone" in words) == warns
