"""Law: before it goes on the nozzle goes over the laid wall again, as far as is asked for and no deeper than it lies."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.plan.intentions import Pause, Shift
from gpost.spot import Spot
from tests.laws.test_state_restored import ML_PER_MM
from tests.reference.outputs import Block, Row
from tests.reference.programs import Piece, piece_programs
from tests.reference.state import Event, Point

ROUNDING_MM = 0.003
"""Of words in thousandths, of an inch too."""


def laid_back(rows: Sequence[Row]) -> list[Event]:
    """The moves that lay up to a place, backwards, as far as nothing but a lift comes between."""
    found: list[Event] = []
    for event in (row.event for row in reversed(rows)):
        if event.kind != "move" or event.start_mm == event.end_mm:
            continue
        if event.lays_clay:
            found.append(event)
        elif event.start_mm[:2] != event.end_mm[:2]:
            break
    return found


def off_mm(point: Point, path: Sequence[Event]) -> float:
    """Distance of a point from a path of straight moves, in space."""
    found = math.inf
    for event in path:
        side, off = np.subtract(event.end_mm, event.start_mm), np.subtract(point, event.start_mm)
        part = np.clip(np.dot(off, side) / max(float(np.dot(side, side)), 1e-12), 0, 1)
        found = min(found, float(np.linalg.norm(off - part * side)))
    return found


def gone_over(block: Block) -> list[Event]:
    """The block's moves after its last one straight down."""
    moves = [event for event in block.events if event.kind == "move" and event.start_mm != event.end_mm]
    down = [
        at for at, e in enumerate(moves) if e.start_mm[:2] == e.end_mm[:2] and e.end_mm[2] < e.start_mm[2]
    ]
    return moves[down[-1] + 1 :]


@given(
    piece=piece_programs(),
    data=st.data(),
    retrace_mm=st.sampled_from([0.0, 4.0, 25.0, 200.0]),
    gives=st.booleans(),
    relieve_ml=st.sampled_from([0.0, 0.3]),
)
def test_the_wall_is_gone_over_again(
    rewrite: Any, piece: Piece, data: st.DataObject, retrace_mm: float, gives: bool, relieve_ml: float
) -> None:
    """On the laid path, at its own height, so long as is asked for, and nothing is laid there unless that is too."""
    line = data.draw(st.sampled_from(piece.layer_lines[1:])) + data.draw(st.integers(0, 3))
    spot = Spot(line, data.draw(st.sampled_from([0.0, 0.5])))
    manner = {"retrace_mm": retrace_mm, "retrace_gives": gives, "relieve_ml": relieve_ml}
    wish = Pause(spot, "look", "why", "Look", prime_ml=2.0)
    result = rewrite(piece.program, [wish], dialect=piece.dialect, config={"machine": {"pause": manner}})
    assert result.apart.errors == ()
    (block,) = result.apart.blocks
    path = laid_back(result.before.rows[: block.next_row + bool(spot.fraction)])
    over = gone_over(block)
    if not path or retrace_mm == 0:
        assert over == []
    if any(event.arc is not None for event in path):
        return
    for event in over:
        assert off_mm(event.start_mm, path) <= ROUNDING_MM
    length_mm = sum(event.path_mm for event in over if event.start_mm[:2] != event.end_mm[:2])
    assert length_mm <= retrace_mm + ROUNDING_MM * (1 + len(over))
    if not (gives and relieve_ml):
        assert not any(event.e_delta_mm for event in over)
    elif over and length_mm:
        # 0.3 ml, evenly along it
        assert sum(event.e_metered_mm for event in over) == pytest.approx(relieve_ml / ML_PER_MM, abs=1e-3)


SQUARE = b"G28\nG90\nM83\nG0 X40 Y40 Z1 F3000\n" + b"".join(
    b"G1 X80 Y40 Z%d.25 E30 F900\nG1 X80 Y80 Z%d.5 E30\nG1 X40 Y80 Z%d.75 E30\nG1 X40 Y40 Z%d E30\n"
    % (n, n, n, n + 1)
    for n in range(1, 6)
)
MANNER = {"lift_mm": 10.0, "relieve_ml": 0.0, "hold": []}


def restart(
    rewrite: Any, spot: Spot, *others: Any, retrace_mm: float = 50.0, program: bytes = SQUARE, **more: Any
) -> list[bytes]:
    """The lines of a pause's block behind the wait."""
    pause = {**MANNER, "retrace_mm": retrace_mm, **more}
    wishes = [*others, Pause(spot, "look", "why", "Look")]
    config = {"machine": {"pause": pause, "lift_feed_mm_min": 600, "travel_feed_mm_min": 3000}}
    lines = rewrite(program, wishes, config=config).apart.blocks[0].lines
    return list(lines[lines.index(b"M0") + 1 : -1])


def test_a_rising_square_by_hand(rewrite: Any) -> None:
    """At the corner (80, 80), 2.5 mm high: 50 mm back, over one side and a quarter of the one before.

    A side of 40 mm rises by 0.25, so that it is 40.0008 mm long; a quarter of it rises by 0.0625.
    """
    assert restart(rewrite, Spot(10)) == [
        b"G0 X70.001 Y40",
        b"G0 Z2.188 F600",
        b"G0 X80 Z2.25 F900",
        b"G0 Y80 Z2.5",
        b"G1 F900",
    ]


WAVING = b"G28\nG90\nM83\nG0 X40 Y40 Z4 F3000\n" + b"".join(
    b"G1 X80 Y40 Z%d.5 E30 F900\nG1 X80 Y80 Z%d.5 E30\nG1 X40 Y80 Z%d E30\nG1 X40 Y40 Z%d E30\n"
    % (n + 6, n + 3, n + 5, n + 1)
    for n in range(4, 9)
)
"""A square whose corners lie at 10.5, 7.5, 9 and 5 mm, and 1 mm higher at each turn."""


@pytest.mark.parametrize(
    ("spot", "retrace_mm", "lines"),
    [
        # from half way along a side that comes down from 11.5 to 8.5 mm: back over its first half, which is
        # (20^2 + 1.5^2)^0.5 = 20.0562 mm long, and half of the side before that, (40^2 + 6.5^2)^0.5 = 40.525 mm
        (
            Spot(9, 0.5),
            20.0562 + 20.2625,
            [b"G0 X60 Y40", b"G0 Z8.25 F600", b"G0 X80 Z11.5 F900", b"G0 Y60 Z10"],
        ),
        # it comes down onto the wall before the place, and not into it
        (Spot(9, 0.5), 10.028, [b"G0 X80 Y50", b"G0 Z10.75 F600", b"G0 Y60 Z10 F900"]),
        # where a turn ends, lowest of all: its last side comes down from 9 to 5 mm, over 40.2 mm
        (Spot(8), 20.1, [b"G0 X40 Y60", b"G0 Z7 F600", b"G0 Y40 Z5 F900"]),
    ],
)
def test_a_wall_that_comes_down_is_gone_over_at_its_own_height(
    rewrite: Any, spot: Spot, retrace_mm: float, lines: list[bytes]
) -> None:
    """Higher than the place where it goes on, where the wall is higher: else it would go through it."""
    found = restart(rewrite, spot, program=WAVING, retrace_mm=retrace_mm)
    assert found == [*lines, b"G1 F900"]


def test_behind_a_step_down_nothing_is_gone_over(rewrite: Any) -> None:
    """Where the nozzle has gone down after the last clay it is under the wall that led there."""
    program = SQUARE.replace(b"G1 X80 Y80 Z2.5", b"G1 X80 Y80 Z3.5\nG0 Z2.5", 1)
    assert restart(rewrite, Spot(11), program=program) == [b"G0 X80 Y80", b"G0 Z2.5 F600", b"G0 F900"]


def test_inside_a_move_it_is_the_move_s_own_part(rewrite: Any) -> None:
    """Half way along a side it comes down 10 mm before that."""
    lines = restart(rewrite, Spot(10, 0.5), retrace_mm=10.0)
    assert lines == [b"G0 X70 Y80", b"G0 Z2.563 F600", b"G0 X60 Z2.625 F900", b"G1 F900"]


@pytest.mark.parametrize(
    ("gives", "lines"),
    [
        (False, [b"G0 Z3.563 F600", b"G1 Z2.563 E124.72551 F66.6667", b"G0 X60 Z2.625 F900"]),
        (True, [b"G0 Z2.563 F600", b"G1 X60 Z2.625 E124.72551 F666.7"]),
    ],
)
def test_what_was_drawn_back_comes_on_the_way_down_or_on_the_wall(
    rewrite: Any, gives: bool, lines: list[bytes]
) -> None:
    """0.3 ml at 20 ml/min take 0.9 s: the last mm at 66.7 mm/min, or 10 mm of the wall at 667."""
    found = restart(rewrite, Spot(10, 0.5), retrace_mm=10.0, relieve_ml=0.3, retrace_gives=gives)
    assert found == [b"G0 X70 Y80", *lines, b"G1 F900"]


def test_it_goes_back_no_further_than_half_a_layer(rewrite: Any) -> None:
    """Further round the nozzle could come under clay that was laid since: two sides of four."""
    assert restart(rewrite, Spot(12), retrace_mm=200.0)[0] == restart(rewrite, Spot(12), retrace_mm=80.002)[0]


def test_where_the_piece_is_moved_the_way_is_moved_with_it(rewrite: Any) -> None:
    """By a shift of the whole of it; where another shift begins on the way, nothing is gone over."""
    whole = Shift(0, 99, (5.0, -3.0, 2.0))
    assert restart(rewrite, Spot(12))[:2] == [b"G0 X49.999 Y80", b"G0 Z2.688 F600"]
    assert restart(rewrite, Spot(12), whole)[:2] == [b"G0 X54.999 Y77", b"G0 Z4.688 F600"]
    assert restart(rewrite, Spot(12), Shift(11, 99, (5.0, 0.0, 0.0)))[:2] == [
        b"G0 X45 Y40",
        b"G0 Z3 F600",
    ]


def cups(count: int, turns: int) -> bytes:
    """Square cups of 40 mm a side, 60 mm apart, that climb by 2 mm a turn; each turn of one, then of the next."""
    lines = ["G28", "G90", "M83", "G0 Z1 F3000"]
    for turn in range(turns):
        for cup in range(count):
            low, x = 2 * turn, 20 + 60 * cup
            lines += [f"G0 Z{low + 5}", f"G0 X{x} Y20", f"G0 Z{low} F3000"]
            corners = ((x + 40, 20), (x + 40, 60), (x, 60), (x, 20))
            lines += [
                f"G1 X{px} Y{py} Z{low + side / 2} E30 F900" for side, (px, py) in enumerate(corners, start=1)
            ]
    return ("\n".join(lines) + "\n").encode()


@pytest.mark.parametrize("count", [2, 3])
@pytest.mark.parametrize("last", [False, True], ids=["first-cup", "last-cup"])
def test_of_cups_that_climb_by_turns_it_goes_back_half_of_one_turn(
    rewrite: Any, count: int, last: bool
) -> None:
    """A turn is four sides of 40 mm and a layer that times the cups: a turn back lies 2 mm under its own end.

    Half the fifth turn of a cup, which ends at 10 mm, begins at the corner across and is 9 mm high there.
    """
    spot = Spot(4 + 7 * (4 * count + 1 + last * (count - 1)))  # the lift behind that turn
    x = 20 + 60 * (count - 1) * last
    found = restart(rewrite, spot, program=cups(count, 8), retrace_mm=155.0)
    assert found == [
        f"G0 X{x + 40} Y60".encode(),
        b"G0 Z9 F600",
        f"G0 X{x} Z9.5 F900".encode(),
        b"G0 Y20 Z10",
        b"G1 F900",
    ]


def test_inside_a_turn_of_one_of_several_cups_it_goes_back_to_where_that_began(rewrite: Any) -> None:
    """Half way along the second side, 60 mm from the turn's begin: that is less than half of the turn."""
    found = restart(rewrite, Spot(4 + 7 * 9 + 4, 0.5), program=cups(2, 8), retrace_mm=155.0)
    assert found[:2] == [b"G0 X80 Y20", b"G0 Z8 F600"]
