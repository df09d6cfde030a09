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
from gpost.spot import Spot
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
    split_count,
    stopper,
)
from tests.reference.interpreter import Machine, run
from tests.reference.pieces import Piece
from tests.reference.roundpots import round_pots
from tests.reference.state import Dialect, Event, State

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
    if piece.rise == "flat" and broken.line in piece.layer_lines and share * broken.path_mm < 1.5:
        return  # a quarter of a bead past the seam: what is laid there is the whole turn
    if abs(found.shift_mm - by) < 0.01:  # else another turn lies nearer to that top
        check_left(rest, own, broken, share)
    assert found.off_mm < 0.01
    assert found.joint[:3] == (0.0, 0.0, False)


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
    start_s, end_s = (before.clock_at(Spot(line)) for line in (broken.line, broken.line + 1))
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


@pytest.mark.parametrize("way", ["G0 X115.000 Y100.000 Z4.000 F3000\nG3 E2261.946 I-15.000 J0.000", "Z4 E2261.946 I-15 J0"])
def test_behind_an_arc(stop: Stop, way: str) -> None:
    """Where an arc mode is in force the first move says its own again, whether the file does or not."""
    rings = [way.replace("4", f"{2 * ring}", 1).replace("2261.946", f"{1130.973 * ring:.3f}") for ring in (2, 3, 4, 5)]
    head = ["G21", "G90", "M82", "G28", "G0 X115 Y100 Z2 F3000", "G3 E1130.973 F1500 I-15.000 J0.000", "; the next"]
    program = "\n".join([*head, *rings, ""]).encode()
    step = way.count("\n") + 1
    lines = tuple(5 if not ring else 6 + step * ring for ring in range(5))
    piece = Piece(
        program, Dialect(), "flat", (2.0, 4.0, 6.0, 8.0, 10.0), (), (), lines, 0.0, 0.0,
        relative=False, e_relative=False, inch=False,
    )  # fmt: skip
    config = {"clay": {"metering": {"unit": "mm3"}}}
    for line in range(6, split_count(program)):
        rest = stop(piece, [], Stopped(Asked(spot=Spot(line))), config=config)
        state = State(known=dict.fromkeys("XYZ", True))
        found = Machine(piece.dialect)
        found.state = state
        own = found.run(rest.rest)
        check_opening(rest, own)
        check_rest(rest, own)


@pytest.mark.parametrize("arcs", [1, 2, 3])
@pytest.mark.parametrize("share", [0.06, 0.25, 0.47, 0.5, 0.53, 0.75, 0.94])
@pytest.mark.parametrize("by", [0.0, 0.2, -0.4])
def test_arcs_that_climb_come_by_once_a_turn(stop: Stop, arcs: int, share: float, by: float) -> None:
    """Half-way round, where the halves of a full circle meet, as anywhere else; a turn of 2 mm, by hand."""
    lines, corners = ["G21", "G90", "M83", "G28", "G0 X140 Y100 Z2 F3000"], range(arcs)
    places = [(100 + 40 * math.cos(2 * math.pi * at / arcs), 100 + 40 * math.sin(2 * math.pi * at / arcs)) for at in (*corners, 0)]
    for turn in range(10):
        for corner in corners:
            (x, y), (to_x, to_y) = places[corner : corner + 2]
            z = 2 + max(turn - 1, 0) * 2 + (2 * (corner + 1) / arcs if turn else 0)
            goal = f"X{to_x:.5f} Y{to_y:.5f} Z{z:.5f} I{100 - x:.5f} J{100 - y:.5f}"
            lines.append(f"G3 {goal} E{2200 / arcs:.3f} F1500")
    program = "\n".join([*lines, ""]).encode()
    piece = Piece(
        program, Dialect(), "continuous", (), (), (), (), 0.0, 0.0, relative=False, e_relative=True, inch=False
    )
    angle, height_mm = 2 * math.pi * share, 2 + 2 * (5 + share)
    at_mm = (100 + 40 * math.cos(angle), 100 + 40 * math.sin(angle))
    asked = Asked(height_mm=height_mm + by, at_mm=at_mm)
    found = stop(piece, [], Stopped(asked), config={"clay": {"metering": {"unit": "mm3"}}}).going.found
    assert found.end_mm == pytest.approx((*at_mm, height_mm + by), abs=1e-3)
    assert found.shift_mm == pytest.approx(by, abs=1e-3)
    spot = found.spot.line - 5 + found.spot.fraction
    assert spot == pytest.approx((6 + share) * arcs, abs=1e-3)
