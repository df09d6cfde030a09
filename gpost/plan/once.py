"""Answers that are reckoned once for each plan: as it can't change, nor can they."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import TypeVar

from gpost.plan.plan import Plan

T = TypeVar("T")


def once(answer: Callable[[Plan], T]) -> Callable[[Plan], T]:
    """The same answer, kept where the plan keeps those that are its own; one that nobody can change.

    A job asks for its cartridges and their clay some fifty times, each plan of a step some ten times.
    """
    name = f"{answer.__module__}.{answer.__qualname__}"

    @wraps(answer)
    def kept(plan: Plan) -> T:
        answers = vars(plan)
        if name not in answers:
            answers[name] = answer(plan)
        found: T = answers[name]
        return found

    return kept
