"""Steps plan in the config's order, except where one must come after another."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.api import Intention, Plan, PlanError, Settings, Step, Survey
from gpost.steps.order import order_steps


def step(name: str, *after: str) -> Step[Any]:
    """A step of this name that comes after the others named."""

    class Named(Step[Settings]):
        """A step for these tests."""

        Settings = Settings

        def plan(self, survey: Survey, plan: Plan) -> list[Intention]:
            """Nothing."""
            return []

    Named.name, Named.after = name, after
    return Named(Settings())


def names(steps: list[Step[Any]]) -> list[str]:
    """The steps' names in order."""
    return [one.name for one in steps]


def test_without_wishes_the_config_s_order_stands() -> None:
    """Steps that name no others keep their places."""
    assert names(order_steps([step("fan"), step("cold"), step("purge")])) == ["fan", "cold", "purge"]


def test_a_step_waits_for_those_it_comes_after_and_no_longer() -> None:
    """Only the step that must wait moves, and it goes as far to the front as it may."""
    steps = [step("tally", "refill", "swap"), step("refill", "swap"), step("fan"), step("swap"), step("cold")]
    assert names(order_steps(steps)) == ["fan", "swap", "refill", "tally", "cold"]


def test_names_that_are_not_in_the_config_hold_nobody_up() -> None:
    """A step may come after steps that this config does not use."""
    assert names(order_steps([step("tally", "refill", "dip"), step("fan")])) == ["tally", "fan"]


def test_a_step_comes_after_every_copy_of_another() -> None:
    """Where the other step is there twice, both come first; copies keep their order."""
    first, second = step("swap"), step("swap")
    assert order_steps([step("tally", "swap"), first, second])[:2] == [first, second]


@pytest.mark.parametrize(
    ("steps", "words"),
    [
        ([step("swap", "refill"), step("fan"), step("refill", "swap")], "swap after refill after swap"),
        ([step("x", "a"), step("a", "b"), step("b", "c"), step("c", "a")], "a after b after c after a"),
        ([step("swap", "swap")], "the step swap is said to come after itself"),
    ],
)
def test_a_circle_is_an_error_that_names_its_members(steps: list[Step[Any]], words: str) -> None:
    """Steps that wait for each other can't be ordered; who is not in the circle is not named."""
    with pytest.raises(PlanError, match=words) as caught:
        order_steps(steps)
    assert "fan" not in str(caught.value)
    assert "x after" not in str(caught.value)


@given(
    st.lists(st.tuples(st.sampled_from("abcdef"), st.sets(st.sampled_from("abcdef"))), max_size=8).map(
        lambda pairs: [step(name, *(other for other in after if other < name)) for name, after in pairs]
    )
)
def test_every_wish_holds_and_nothing_is_lost(steps: list[Step[Any]]) -> None:
    """For wishes without a circle: a permutation, in which no step stands before one it comes after."""
    ordered = order_steps(steps)
    assert sorted(map(id, ordered)) == sorted(map(id, steps))
    for i, one in enumerate(ordered):
        assert not {later.name for later in ordered[i:]}.intersection(one.after)
