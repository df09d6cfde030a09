"""The order in which steps plan: the config's, but each after those it must come after."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from gpost.errors import PlanError
from gpost.steps.step import Step


def order_steps(steps: Sequence[Step[Any]]) -> list[Step[Any]]:
    """The steps, each behind every step that its `after` names and that is present.

    Where that leaves a choice the order given decides. Raises PlanError, naming the members, if some
    steps wait for each other in a circle.
    """
    left, placed = list(steps), list[Step[Any]]()
    while left:
        waiting = {step.name for step in left}
        ready = next((step for step in left if not waiting.intersection(step.after)), None)
        if ready is None:
            raise PlanError(_circle(left))
        left.remove(ready)
        placed.append(ready)
    return placed


def _circle(left: Sequence[Step[Any]]) -> str:
    """Words for one circle among steps of which each waits for another."""
    by_name = {step.name: step for step in reversed(left)}
    trail = [left[0].name]
    while len(set(trail)) == len(trail):
        trail.append(next(name for name in by_name[trail[-1]].after if name in by_name))
    circle = trail[trail.index(trail[-1]) :]
    if len(circle) == 2:
        return f"the step {circle[0]} is said to come after itself; its author has to fix that"
    chain = " after ".join(circle)
    return f"no order of the steps is possible: {chain}; leave one of them out of the config"
