"""Laws: a print that has stopped inside an arc goes on there, with the arc that is left.

The arc's place, its parts and what follows are the reference interpreter's (NIST RS274/NGC, section 3.5.3).
"""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.plan.restart import Asked
from gpost.supply.stopped import Stopped
from tests.laws.stopped import Rest, Stop, attempt, check_opening, machine, stopper, tail_of_whole
from tests.reference.interpreter import run
from tests.reference.pieces import Piece
from tests.reference.roundpots import round_pots
from tests.reference.state import Event

SHARES = st.floats(0.03, 0.97)


@pytest.fixture(scope="session")
def stop(tmp_path_factory: pytest.TempPathFactory) -> Stop:
    """One print, stopped and gone on with."""
    return stopper(tmp_path_factory.mktemp("arcs") / "piece.gcode")


def broken_arc(piece: Piece, data: st.DataObject) -> Event:
    """One of the arcs behind the first layer."""
    laid = [e for e in run(piece.program, piece.dialect) if e.arc and e.line >= piece.layer_lines[1]]
    found: Event = data.draw(st.sampled_from(laid))
    return found


def place_on(arc: Event, share: float) -> tuple[float, float, float]:
    """Where the nozzle is after a share of an arc in the level."""
    assert arc.arc is not None
    cx, cy, _ = arc.arc.centre_mm
    angle = math.atan2(arc.start_mm[1] - cy, arc.start_mm[0] - cx) + share * arc.arc.sweep_rad
    r, z = arc.arc.radius_mm, arc.start_mm[2] + share * (arc.end_mm[2] - arc.start_mm[2])
    return cx + r * math.cos(angle), cy + r * math.sin(angle), z


def check_left(rest: Rest, own: list[Event], broken: Event, share: float, shift_mm: float = 0.0) -> None:
    """The first line of the rest is what is left of the arc; all behind it does what it did, so much higher."""
    first, *later = own[len(rest.opening) :]
    assert broken.arc is not None
    assert first.arc is not None, first
    x, y, z = place_on(broken, share)
    assert first.start_mm == pytest.approx((x, y, z + shift_mm), abs=0.03)
    assert first.arc.sweep_rad == pytest.approx((1 - share) * broken.arc.sweep_rad, abs=2e-3)
    for axis in (0, 1):
        assert first.arc.centre_mm[axis] == pytest.approx(broken.arc.centre_mm[axis], abs=2e-3)
    theirs = tail_of_whole(rest)
    assert first.e_delta_mm == pytest.approx((1 - share) * broken.e_delta_mm, abs=2e-3 * broken.e_delta_mm)
    for a, b in zip([first, *later], theirs, strict=False):
        assert a.error is None
        assert a.motion == b.motion
        if a.kind == "move" and a.path_mm:
            assert a.end_mm == pytest.approx((*b.end_mm[:2], b.end_mm[2] + shift_mm), abs=0.003)
    for a, b in zip(later, theirs[1:], strict=False):
        assert a.e_metered_mm == pytest.approx(b.e_metered_mm, abs=1e-6)
        assert a.path_mm == pytest.approx(b.path_mm, abs=0.003)


def gone_on(stop: Stop, piece: Piece, asked: Asked, data: st.DataObject, **how: Any) -> tuple[Rest, list[Event]]:
    """The rest, and what it does."""
    rest = attempt(stop, piece, [], Stopped(asked, **how))
    own = machine(rest, data).run(rest.rest)
    check_opening(rest, own, rest.going.found.shift_mm)
    return rest, own


@given(piece=round_pots(), share=SHARES, by=st.sampled_from([0.0, 0.0, 0.21, -0.17]), data=st.data())
def test_where_the_bead_ends_on_an_arc(stop: Stop, piece: Piece, share: float, by: float, data: st.DataObject) -> None:
    """By its measured top and its place, however the arc is written, and shifted by the measured top."""
    broken = broken_arc(piece, data)
    x, y, z = place_on(broken, share)
    rest, own = gone_on(stop, piece, Asked(height_mm=z + by, at_mm=(x, y)), data)
    found = rest.going.found
    if abs(found.shift_mm - by) < 0.01:  # else another turn lies nearer to that top
        check_left(rest, own, broken, share, found.shift_mm)
    assert found.off_mm < 0.01
    assert found.joint == (0.0, 0.0, False)


@given(piece=round_pots(), share=SHARES, data=st.data())
def test_so_much_of_the_turn(stop: Stop, piece: Piece, share: float, data: st.DataObject) -> None:
    """By the path laid since the turn's start, measured along the arcs."""
    broken = broken_arc(piece, data)
    first = max(line for line in piece.layer_lines if line <= broken.line)
    events = run(piece.program, piece.dialect)
    along_mm = sum(e.path_mm for e in events[first : broken.line] if e.lays_clay) + share * broken.path_mm
    rest, own = gone_on(stop, piece, Asked(height_mm=place_on(broken, share)[2], along_mm=along_mm), data)
    if piece.rise == "flat":  # where a wall climbs, its turns begin where the survey has them
        check_left(rest, own, broken, share, rest.going.found.shift_mm)


@given(piece=round_pots(), share=SHARES, data=st.data())
def test_by_the_clock(stop: Stop, piece: Piece, share: float, data: st.DataObject) -> None:
    """Inside the arc at the plan's own clock, and what is left of it is laid."""
    broken = broken_arc(piece, data)
    before = attempt(stop, piece, [], Stopped(Asked(layer=2))).before
    start_s, end_s = before.clock_before(broken.line), before.clock_before(broken.line + 1)
    clock_s = start_s + share * (end_s - start_s)
    rest = attempt(stop, piece, [], Stopped(Asked(), clock_s=clock_s))
    own = machine(rest, data).run(rest.rest)
    check_opening(rest, own)
    check_left(rest, own, broken, share)
    assert rest.going.found.joint[:2] == (None, None)


@given(piece=round_pots(), shares=st.tuples(SHARES, SHARES), data=st.data())
def test_stopped_twice_in_one_arc(stop: Stop, piece: Piece, shares: tuple[float, float], data: st.DataObject) -> None:
    """The later place is all that counts."""
    broken = broken_arc(piece, data)
    first, last = (place_on(broken, share) for share in sorted(shares))
    stops = [Stopped(Asked(height_mm=z, at_mm=(x, y))) for x, y, z in (first, last)]
    once = attempt(stop, piece, [], stops[-1])
    twice = attempt(stop, piece, [], *stops)
    if twice.going.found.shift_mm == once.going.found.shift_mm == 0.0:
        assert twice.tail == once.tail
