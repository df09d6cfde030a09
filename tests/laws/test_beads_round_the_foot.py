"""Law: beads round the foot are laid as it is, clear of it, and the nozzle waits parked, by the reference interpreter."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import pytest
from gpost_plugins.foot import Foot

from gpost.plan.intentions import LayClay, Pause
from gpost.plan.plan import Plan
from gpost.survey.model import Survey
from tests.laws.conftest import Rewrite, Rewritten, roomy
from tests.reference.outputs import NOT_KEPT, Block
from tests.reference.state import Dialect, Event
from tests.reference.walls import CASES, named

PARK = (-700.0, -700.0)
HALF_WALL_MM, DISTANCE_MM = 3.0, 4.0
ROUNDED_MM = 0.06
CHOSEN = [case for case in [*CASES][1::13] if "circles" not in case and "halves" not in case]
"""Walls of straight moves: those of arcs are measured in tests/plan."""


def stepped(rewrite: Rewrite, case: str, writing: str) -> Rewritten:
    """The step on one wall."""
    wall = named(case, writing)
    bed = {"x_min_mm": -900, "x_max_mm": 900, "y_min_mm": -900, "y_max_mm": 900}
    park = {"x_mm": PARK[0], "y_mm": PARK[1]}
    config = {"machine": {"bed": bed, "park": park, "nozzle_mm": 4}, "clay": {"metering": wall.metering}}

    def wishes(survey: Survey) -> Any:
        asked = Foot(Foot.Settings(rounds=2, distance_mm=DISTANCE_MM))
        return list(asked.plan(survey, Plan(survey, roomy(Dialect(), config))))

    return rewrite(wall.program, wishes, config=config)


def first_layer(done: Rewritten) -> list[Event]:
    """What the source lays in its first layer, as the interpreter has it."""
    start, end = (done.survey.start_of(index).line for index in (0, 1))
    rows = done.before.rows[start:end]
    return [row.event for row in rows if row.event.lays_clay and row.event.arc is None]


def apart_mm(moves: Sequence[Event], other: Sequence[Event]) -> float:
    """Least distance of ends of the ones from the ways of the others, both ways round."""

    def point_to(point: Any, move: Event) -> float:
        (ax, ay, _), (bx, by, _) = move.start_mm, move.end_mm
        way = (float(bx - ax), float(by - ay))
        square = way[0] ** 2 + way[1] ** 2
        along = ((float(point[0]) - ax) * way[0] + (float(point[1]) - ay) * way[1]) / square if square else 0
        along = min(max(float(along), 0.0), 1.0)
        return math.dist((point[0], point[1]), (ax + along * way[0], ay + along * way[1]))

    ones = [point_to(move.end_mm, there) for move in moves for there in other]
    return min(ones + [point_to(there.end_mm, move) for move in moves for there in other])


def blocks(done: Rewritten, kind: type) -> list[tuple[Any, Block]]:
    """The intentions of one kind, each with its inserted block."""
    by_line = {block.events[0].line + 1: block for block in done.apart.blocks}
    entries = enumerate(done.plan.entries)
    return [
        (entry.intention, by_line[done.written.places[index][0]])
        for index, entry in entries
        if isinstance(entry.intention, kind)
    ]


def beads(block: Block) -> list[Event]:
    """What lays clay on the bed: not what gives back, going down, what was drawn back."""
    return [event for event in block.events if event.lays_clay and event.start_mm[:2] != event.end_mm[:2]]


@pytest.mark.parametrize("writing", ["usual", "increments", "inch"])
@pytest.mark.parametrize("case", CHOSEN)
def test_beads_round_the_foot_of_a_wall(rewrite: Rewrite, case: str, writing: str) -> None:
    """At the first layer's height, closed, clear of the foot, with the clay that is counted; state as found."""
    done = stepped(rewrite, case, writing)
    assert not done.apart.errors
    foot, per_e = first_layer(done), named(case, writing).mm3_per_e / 1000
    low_mm = min(float(place[2]) for event in foot for place in (event.start_mm, event.end_mm))
    rounds = blocks(done, LayClay)
    assert len(rounds) == 2
    for lay, block in rounds:
        (stroke,) = lay.strokes
        laid = beads(block)
        assert {round(float(event.end_mm[2]), 2) for event in laid} == {round(low_mm, 2)}
        assert math.dist(laid[0].start_mm[:2], laid[-1].end_mm[:2]) < ROUNDED_MM
        metered_ml = sum(float(event.e_metered_mm) for event in laid) * per_e
        assert metered_ml == pytest.approx(lay.clay_ml, abs=1e-3)
        path_mm = sum(float(event.path_mm) for event in laid)
        assert lay.clay_ml / path_mm == pytest.approx(first_ml(foot) * per_e / first_mm(foot), rel=0.02)
        half_mm = stroke.width_mm / 2
        free_mm = apart_mm(laid, foot) - half_mm - max(HALF_WALL_MM, half_mm)
        assert free_mm >= DISTANCE_MM - ROUNDED_MM
        net = sum(float(event.e_delta_mm) for event in block.events) * per_e
        assert net == pytest.approx(lay.clay_ml, abs=2e-3)
    outer, inner = (stroke for lay, _ in rounds for stroke in lay.strokes)
    laid = [beads(block) for _, block in rounds]
    assert apart_mm(*laid) >= outer.width_mm / 2 + inner.width_mm / 2 + 2 - ROUNDED_MM


def first_ml(foot: Sequence[Event]) -> float:
    """E of the first layer."""
    return sum(float(event.e_metered_mm) for event in foot)


def first_mm(foot: Sequence[Event]) -> float:
    """Path of the first layer."""
    return sum(float(event.path_mm) for event in foot)


@pytest.mark.parametrize("case", CHOSEN)
def test_it_waits_parked_and_clear_after_each_round(rewrite: Rewrite, case: str) -> None:
    """The wait comes after the bead, at the park, above what is laid; and the machine goes on as it was."""
    done = stepped(rewrite, case, "usual")
    pauses, rounds = blocks(done, Pause), blocks(done, LayClay)
    assert len(pauses) == len(rounds) == 2
    for (_, pause), (lay, bead) in zip(pauses, rounds, strict=True):
        assert bead.events[-1].line < pause.events[0].line
        at = next(number for number, line in enumerate(pause.lines) if line.startswith(b"M0"))
        assert any(line.startswith(b"M117 Turn bed screws only now") for line in pause.lines)
        x, y, z = pause.events[at].start_mm
        assert (float(x), float(y)) == pytest.approx(PARK, abs=1e-2)
        assert z > lay.strokes[0].z_mm
        for block in (pause, bead):
            assert not block.before.differences(block.after, tolerance_mm=1e-6, ignore=NOT_KEPT)
