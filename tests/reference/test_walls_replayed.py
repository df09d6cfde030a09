"""The walls are what they say: replayed by the reference interpreter, and looked at as geometry."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings

from tests.reference.interpreter import Event, run
from tests.reference.scripted.forms import Spot, crescent, spiral_arm, u_shape
from tests.reference.walls import CASES, WRITINGS, Layer, Wall, named, walls

LONG = 20_000
"""Laying moves from which on a case is replayed in the usual writing only: the interpreter is slow."""
TOLERANCE_MM = 1e-6


def corners_of(event: Event) -> list[Spot]:
    """Points of a move whose box is that of the move, to a thousandth of an arc's radius."""
    start, end = event.start_mm, event.end_mm
    if event.arc is None:
        return [start[:2], end[:2]]
    x, y, _ = event.arc.centre_mm
    first = math.atan2(start[1] - y, start[0] - x)
    angles = [first + event.arc.sweep_rad * i / 200 for i in range(201)]
    radius = event.arc.radius_mm
    return [(x + radius * math.cos(a), y + radius * math.sin(a)) for a in angles]


def check_layer(layer: Layer, moves: list[Event]) -> None:
    """Heights, path, E, box, grain of one layer, from the events between its first and last line."""
    assert (moves[0].line, moves[-1].line) == (layer.first_line, layer.last_line)
    flat = [m for m in moves if m.start_mm[:2] != m.end_mm[:2] or m.arc]
    ends = [m.end_mm[2] for m in flat]
    heights = ends if layer.kind == "level" else [z for m in moves for z in (m.start_mm[2], m.end_mm[2])]
    assert max(heights) == pytest.approx(layer.height_mm, abs=TOLERANCE_MM)
    assert min(heights) == pytest.approx(layer.low_mm, abs=TOLERANCE_MM)
    assert math.fsum(m.e_delta_mm for m in moves) == pytest.approx(layer.laid_e, abs=TOLERANCE_MM, rel=1e-9)
    assert math.fsum(m.path_mm for m in moves) == pytest.approx(layer.path_mm, abs=TOLERANCE_MM, rel=1e-9)
    spots = [spot for m in moves for spot in corners_of(m)]
    for axis, (low, high) in enumerate(layer.bounds_mm):
        assert min(s[axis] for s in spots) == pytest.approx(low, abs=0.02)
        assert max(s[axis] for s in spots) == pytest.approx(high, abs=0.02)


def check_wall(wall: Wall) -> None:
    """Every laying move is known and belongs to one layer, one stroke outside, or the odd stretch."""
    events = run(wall.program)
    assert [event.error for event in events if event.error] == []
    # clay that is pushed on a way straight up is laid nowhere
    laying = [e for e in events if e.lays_clay and (e.start_mm[:2] != e.end_mm[:2] or e.arc)]
    assert [event.line for event in laying] == list(wall.laying_lines)
    assert all(event.feed_mm_min for event in laying)
    owners = [(layer.first_line, layer.last_line + 1) for layer in wall.layers]
    owners += [(stroke.first_line, stroke.last_line + 1) for stroke in wall.strokes]
    owners += [wall.odd] if wall.odd else []
    owners.sort()
    assert all(end <= start for (_, end), (start, _) in pairwise(owners))
    assert all(any(first <= line < end for first, end in owners) for line in wall.laying_lines)
    for layer in wall.layers:
        check_layer(layer, [m for m in laying if layer.first_line <= m.line <= layer.last_line])
    assert wall.flat_before_mm[-1] == pytest.approx(
        math.fsum(math.sqrt(max(m.path_mm**2 - (m.end_mm[2] - m.start_mm[2]) ** 2, 0)) for m in laying),
        rel=1e-6,
    )


def in_three_writings() -> list[tuple[str, str]]:
    """Each named case in the usual writing and two others, so that each writing has many."""
    others = [writing for writing in WRITINGS if writing != "usual"]
    turned = [(name, others[(i + k) % len(others)]) for i, name in enumerate(CASES) for k in (0, 3)]
    return [(name, "usual") for name in CASES] + turned


@pytest.mark.parametrize(("name", "writing"), in_three_writings())
def test_named_walls_are_what_they_say(name: str, writing: str) -> None:
    """Replayed line by line, each layer of a named case has the heights, path, clay and box of its truth."""
    wall = named(name, writing)
    if writing == "usual" or len(wall.laying_lines) < LONG:
        check_wall(wall)


@given(walls())
@settings(max_examples=60)
def test_drawn_walls_are_what_they_say(wall: Wall) -> None:
    """The same of any wall in any writing."""
    check_wall(wall)


def turning(moves: list[Event]) -> float:
    """How often the direction of a path goes round, its end joined to its start: a whole number."""
    directions = []
    for m in moves:
        x, y = m.end_mm[0] - m.start_mm[0], m.end_mm[1] - m.start_mm[1]
        if m.arc is not None:
            out = math.atan2(m.start_mm[1] - m.arc.centre_mm[1], m.start_mm[0] - m.arc.centre_mm[0])
            side = math.copysign(math.pi / 2, m.arc.sweep_rad)
            directions += [out + side + m.arc.sweep_rad * i / 8 for i in range(9)]
        elif math.hypot(x, y) > 0.1:
            directions.append(math.atan2(y, x))
    corners = [math.remainder(b - a, math.tau) for a, b in pairwise([*directions, directions[0]])]
    return math.fsum(corners) / math.tau


def check_turns(wall: Wall) -> None:
    """Each turn of a single wall goes round once, by the turning number of its path (Hopf's Umlaufsatz).

    All but the last, which may be a part of a turn.
    """
    laying = [event for event in run(wall.program) if event.lays_clay]
    for layer in wall.layers[:-1]:
        moves = [m for m in laying if layer.first_line <= m.line <= layer.last_line]
        if layer.kind == "turn":
            assert abs(turning(moves)) == pytest.approx(1, abs=1e-6)


TWO_ROUNDS = ("nested",)
"""Kinds of which a layer may hold more than one round."""


@pytest.mark.parametrize("name", [name for name, case in CASES.items() if case["kind"] not in TWO_ROUNDS])
def test_turns_of_named_walls_go_round_once(name: str) -> None:
    """The truth's turns are turns: the direction of the path goes round just once in each."""
    check_turns(named(name))


@given(walls().filter(lambda wall: wall.kind not in TWO_ROUNDS))
@settings(max_examples=60)
def test_turns_of_drawn_walls_go_round_once(wall: Wall) -> None:
    """The same of drawn walls."""
    check_turns(wall)


def centroid(outline: list[Spot]) -> Spot:
    """Of the area within an outline (the surveyor's formula)."""
    area = x = y = 0.0
    for (x0, y0), (x1, y1) in pairwise([*outline, outline[0]]):
        cross = x0 * y1 - x1 * y0
        area, x, y = area + cross, x + (x0 + x1) * cross, y + (y0 + y1) * cross
    return (x / 3 / area, y / 3 / area)


def holds(outline: list[Spot], spot: Spot) -> bool:
    """Whether a point lies within: a ray from it crosses the outline an odd number of times."""
    crossings = 0
    for (x0, y0), (x1, y1) in pairwise([*outline, outline[0]]):
        if (y0 > spot[1]) != (y1 > spot[1]):
            crossings += spot[0] < x0 + (spot[1] - y0) * (x1 - x0) / (y1 - y0)
    return crossings % 2 == 1


@pytest.mark.parametrize("points", [40, 60, 120])
@pytest.mark.parametrize("part", [0.0, 0.5, 1.0])
def test_the_centroid_of_a_hollow_section_lies_outside_of_it(points: int, part: float) -> None:
    """Of crescents from 220 to 300 degrees, of closed U and spiral-arm sections."""
    span = math.radians(220 + 80 * part)
    outlines = [
        crescent(points, 25, 6, span, horned=False),
        crescent(points, 50, 40, span, horned=False),
        crescent(points, 40, 16, span, horned=True),
        u_shape(points, 25, 40 + 40 * part, 10),
        spiral_arm(points, 22, 7, 1.1 + 0.5 * part),
    ]
    assert [holds(outline, centroid(outline)) for outline in outlines] == [False] * 5
