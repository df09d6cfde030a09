"""Laws: a print that has stopped inside an arc goes on there, with the arc that is left.

The arc's place, its parts and what follows are the reference interpreter's (NIST RS274/NGC, section 3.5.3).
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.plan.restart import Asked
from gpost.supply.stopped import Stopped
from tests.laws.stopped import (
    Rest,
    Stop,
    apart_mm,
    attempt,
    check_opening,
    check_rest,
    end_of_whole,
    machine,
    place_on,
    stopper,
)
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


def check_left(rest: Rest, own: list[Event], broken: Event, share: float) -> None:
    """It goes on at that share of the arc, and does what is left of it and all behind it."""
    assert rest.going.found.spot.fraction == pytest.approx(share, abs=2e-3)
    assert apart_mm(rest.print.events[end_of_whole(rest) - len(rest.tail)].end_mm, broken.end_mm, (0.0,) * 3) < 1e-9
    assert own[len(rest.opening)].arc is not None
    check_rest(rest, own, (0.0, 0.0, rest.going.found.shift_mm))


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
        check_left(rest, own, broken, share)
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
        check_left(rest, own, broken, share)


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
