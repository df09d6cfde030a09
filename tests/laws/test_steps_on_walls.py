"""Law: every stock step does on every kind of wall what it says, and nothing else, by the reference interpreter."""

from __future__ import annotations

from typing import Any

import pytest

from gpost.api import PlanError
from gpost.plan.intentions import ScaleFeed, ScaleFlow
from gpost.plan.plan import Plan
from gpost.steps.manager import build_manager
from gpost.survey.model import Survey
from tests.laws.conftest import Rewrite, Rewritten, roomy
from tests.reference.outputs import NOT_KEPT, SILENCED
from tests.reference.state import Dialect
from tests.reference.walls import CASES, named

STEPS: dict[str, dict[str, Any]] = {
    "cold": {},
    "purge": {"volume_ml": 2, "bead_width_mm": 8, "bead_height_mm": 3},
    "foot": {"rounds": 2, "distance_mm": 3, "between_mm": 1},
    "swap": {"colour": "blue", "clear": "purge", "onto": "park"},
    "refill": {"prime_ml": 2},
    "fan": {"bands": [{"from_layer": 1, "level_percent": 0}, {"from_height_mm": 8, "level_percent": 40}]},
    "taper": {"to_percent": 60, "floor_mm_min": 100},
    "stand": {"yield_stress_pa": 900, "stiffening_pa_s": 0.2},
    "tally": {},
    "slab": {"thickness_mm": 3, "x_size_mm": 900, "y_size_mm": 900},
    "place": {"x_mm": 150, "y_mm": 140},
    "remind": {"every_min": 1, "how": "message", "clear_mm": 1},
    "base": {"flow_percent": 120},
}
"""A setting for each stock step, with which it has something to do on most walls."""

WAYS = ["usual", "increments", "inch", "careless"]
CHANGED_MM, CHANGED_E = 2e-3, 2e-3
"""What a line that is written anew may differ by: the last digit that it says, a thousandth of an inch at most."""


def stepped(rewrite: Rewrite, step: str, case: str, writing: str) -> Rewritten:
    """One step on one wall. Skips a wall on which the step rightly refuses to work."""
    wall, kind = named(case, writing), build_manager().load([step])[step]
    config = {
        "machine": {"bed": {"x_min_mm": -900, "x_max_mm": 900, "y_min_mm": -900, "y_max_mm": 900}},
        "clay": {"metering": wall.metering},
        "cartridge": {"volume_ml": 60, "reserve_ml": 5, "line_ml": 4},
    }
    config["machine"]["park"] = {"x_mm": -700, "y_mm": -700}

    def wishes(survey: Survey) -> Any:
        low_mm, high_mm = survey.bounds_mm[2]
        middle = {"at_height_mm": round((low_mm + high_mm) / 2, 2)} if step == "swap" else {}
        asked = kind(kind.Settings.model_validate({**STEPS[step], **middle}))
        return list(asked.plan(survey, Plan(survey, roomy(Dialect(), config))))

    try:
        return rewrite(wall.program, wishes, config=config)
    except PlanError as error:
        pytest.skip(str(error))


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Quick, each wall is tried with two of the steps, and each step with 24 walls or 25; long, with all."""
    long = metafunc.config.getoption("--long")
    turns = [(step, case, i + 5 * j) for i, case in enumerate(CASES) for j, step in enumerate(STEPS)]
    chosen = [(step, case, WAYS[turn % len(WAYS)]) for step, case, turn in turns if long or turn % 6 == 0]
    metafunc.parametrize(("step", "case", "writing"), chosen)


def test_a_step_on_a_wall(rewrite: Rewrite, step: str, case: str, writing: str) -> None:
    """What is laid is the wall, moved and changed by just so much as the plan says, from start to end."""
    done = stepped(rewrite, step, case, writing)
    after, before, plan = done.apart, done.before, done.plan
    assert not after.errors
    for block in after.blocks:
        if not hasattr(done.plan.entries[_index(done, block)].intention, "spot"):
            continue  # E is set back to the source's where scaled clay ends
        ignored = NOT_KEPT | ({"fan"} if step == "fan" else set())
        start = (
            block.events[0].state if block.events[0].kind == "move" and _splits(done, block) else block.before
        )
        # sums of E over long files are exact to so much
        assert not start.differences(block.after, tolerance_mm=1e-6, ignore=ignored)
    split = {block.next_row for block in after.blocks if _splits(done, block)}
    for line, (row, own) in enumerate(zip(after.rows, before.rows, strict=True)):
        across = own.event.start_mm[:2] != own.event.end_mm[:2] or own.event.arc
        if row.raw.startswith(SILENCED) or not (own.event.lays_clay and across):
            continue
        assert row.event.lays_clay
        if line not in split:
            _close(row.event.start_mm, own.event.start_mm, plan.shift_mm)
            assert row.event.e_metered_mm == pytest.approx(
                own.event.e_metered_mm * _flow(plan, line), abs=CHANGED_E
            )
        _close(row.event.end_mm, own.event.end_mm, plan.shift_mm)
        assert row.event.feed_mm_min == pytest.approx(
            _feed(plan, line, own.event.feed_mm_min), rel=1e-3, abs=1
        )


def _splits(done: Rewritten, block: Any) -> bool:
    """Whether the block begins with a part of a move."""
    wish = done.plan.entries[_index(done, block)].intention
    return bool(getattr(getattr(wish, "spot", None), "fraction", 0.0))


def _index(done: Rewritten, block: Any) -> int:
    """The entry of the plan that a block stands for."""
    first = block.events[0].line + 1
    return next(index for index, place in done.written.places.items() if place[0] == first)


def _close(mine: tuple[Any, ...], theirs: tuple[Any, ...], shift_mm: tuple[float, float, float]) -> None:
    for axis in range(3):
        assert float(mine[axis]) == pytest.approx(float(theirs[axis]) + shift_mm[axis], abs=CHANGED_MM)


def _flow(plan: Plan, line: int) -> float:
    """By what the plan multiplies the clay laid on a line."""
    factor = 1.0
    for scale in plan.of(ScaleFlow):
        factor *= scale.factor if scale.first_line <= line < scale.end_line else 1.0
    return factor


def _feed(plan: Plan, line: int, own_mm_min: Any) -> float:
    """The feed that the plan makes of a line's own."""
    feed = float(own_mm_min)
    for scale in plan.of(ScaleFeed):
        if scale.first_line <= line < scale.end_line:
            slowed = feed * scale.factor
            feed = max(slowed, min(feed, scale.floor_mm_min)) if scale.factor < 1 else slowed
    return feed
