"""Answers are reckoned once for each plan."""

from __future__ import annotations

import pytest

from gpost.config.model import Config
from gpost.errors import PlanError
from gpost.plan.intentions import Note
from gpost.plan.once import once
from gpost.plan.plan import Plan
from gpost.testing.pot import make_survey


def test_once_for_each_plan() -> None:
    """A plan that was asked answers as it did; the plan that is made from it is asked anew."""
    asked: list[Plan] = []

    @once
    def entries(plan: Plan) -> tuple[object, ...]:
        """How many it has."""
        asked.append(plan)
        return plan.entries

    plan = Plan(make_survey(layers=3), Config())
    next_plan = plan.adding("a step", [Note("words")])
    for one in (plan, next_plan, plan, next_plan):
        assert entries(one) is one.entries
    assert list(map(id, asked)) == [id(plan), id(next_plan)]


def test_two_of_one_name_are_two() -> None:
    """Answers of one name from different places are kept apart."""

    def other() -> object:
        def entries(plan: Plan) -> int:
            return len(plan.entries)

        return once(entries)(plan)

    @once
    def entries(plan: Plan) -> str:
        return "none"

    plan = Plan(make_survey(layers=3), Config())
    assert (entries(plan), other()) == ("none", 0)


def test_a_failure_is_no_answer() -> None:
    """What fails is asked again, and fails again."""
    asked: list[Plan] = []

    @once
    def refuses(plan: Plan) -> int:
        asked.append(plan)
        raise PlanError("it can't be done")

    plan = Plan(make_survey(layers=3), Config())
    for _ in range(2):
        with pytest.raises(PlanError, match="it can't be done"):
            refuses(plan)
    assert len(asked) == 2
