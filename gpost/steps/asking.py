"""Asks one step what it wants of a file, so that it can change nothing but by what it wants."""

from __future__ import annotations

import copy
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from gpost.common.foreign import foreign, told_by
from gpost.common.frozen import frozen
from gpost.common.plain import shown
from gpost.config.model import Config
from gpost.errors import GpostError, OddLayersError, PlanError, SourceError, StepError
from gpost.plan.checking import check_intention
from gpost.plan.intentions import (
    Air,
    Ask,
    Command,
    Ground,
    LayClay,
    MovePause,
    Note,
    Pause,
    Say,
    Wait,
)
from gpost.plan.plan import Plan
from gpost.plan.settled import settled
from gpost.steps.step import Step, refuse_unfit

MOST_INTENTIONS = 1_000_000
"""What one step may want of one file; it ends a step that never does."""
MOST: Mapping[type, tuple[int, str]] = MappingProxyType(
    {
        Say: (2_000, "messages"),
        Pause: (2_000, "pauses"),
        MovePause: (2_000, "pauses to move"),
        LayClay: (500, "beads beside the piece"),
        Ground: (500, "slabs"),
        Note: (1_000, "notes"),
        Command: (20_000, "commands"),
        Ask: (2_000, "questions"),
        Wait: (20_000, "waits"),
        Air: (20_000, "changes of the blower"),
    }
)
"""What all steps together may want of one file: common practice, no source. In a print of ten hours 2,000
messages are one every 18 s, and a piece of 2 m has some 2,000 layers to blow at."""


def asked(step: Step[Any], plan: Plan) -> Plan:
    """The plan with one more step's intentions.

    Raises PlanError if the piece can't be done, StepError if the step itself fails, SourceError if the file
    has changed meanwhile; all name the step.
    """
    name = step.name
    try:
        with foreign():
            seen = _for_steps(plan)
            refuse_unfit(step, seen.config)
            intentions = _settled(_answer(copy.copy(step), seen, Counter(_kinds(plan))))
            for intention in intentions:
                check_intention(intention, plan.survey, has_e=plan.config.clay.metering.unit != "path")
        return plan.adding(name, intentions)
    except GpostError as error:
        kind = next((kind for kind in (OddLayersError, SourceError) if isinstance(error, kind)), PlanError)
        said = str(error)
        raise kind(said if said.startswith(f"{name}: ") else f"{name}: {said}") from error
    except Exception as error:
        raise StepError(_fault(name, error)) from error


def _for_steps(plan: Plan) -> Plan:
    """The plan as a step sees it: a copy, so that what it does with it reaches nobody else."""
    return replace(plan, survey=plan.survey.for_steps(), config=_sealed(plan.config))


def _sealed(config: Config) -> Config:
    """The config with mappings that can't be changed."""
    uses = [use.model_copy(update={"settings": frozen(use.settings)}) for use in config.steps]
    return config.model_copy(update={"steps": tuple(uses)})


def _answer(step: Step[Any], plan: Plan, wanted: Counter[type]) -> list[Any]:
    """What a step gives back, as a list; `wanted`: how many of each kind there are in the plan.

    Raises ValueError for what can't be one, PlanError for more than a file to print has room for.
    """
    answer: object = step.plan(plan.survey, plan)
    if not isinstance(answer, Iterable) or isinstance(answer, str | bytes):
        given = "nothing" if answer is None else f"a thing of the kind {type(answer).__name__}"
        raise ValueError(f"gives {given} instead of a list of what it wants")
    intentions: list[Any] = []
    going_on = iter(answer)
    try:
        for intention in going_on:
            intentions.append(intention)
            if len(intentions) > MOST_INTENTIONS:
                raise ValueError(f"wants more than {MOST_INTENTIONS:,} things")
            for kind in _limited(intention):
                wanted[kind] += 1
                _refuse_too_many(kind, wanted[kind])
    finally:
        with suppress(Exception):  # a generator alone can be ended, and what it says then comes too late
            going_on.close()  # type: ignore[attr-defined]
    return intentions


def _settled(intentions: list[Any]) -> list[Any]:
    known: dict[int, Any] = {}
    return [settled(intention, known) for intention in intentions]


def _kinds(plan: Plan) -> Iterator[type]:
    """The limited kinds of all that is wanted so far."""
    for entry in plan.entries:
        yield from _limited(entry.intention)
    yield from (MovePause for _ in plan.moved)


def _limited(intention: object) -> Iterator[type]:
    return (kind for kind in MOST if isinstance(intention, kind))


def _refuse_too_many(kind: type, count: int) -> None:
    most, what = MOST[kind]
    if count > most:
        raise PlanError(
            f"together with the steps before it, it wants more than {most:,} {what}, which makes no sense in "
            "a file to print; change its settings so that it wants fewer"
        )


def _fault(name: str, error: Exception) -> str:
    """A sentence for a step that failed; what a check said goes on from its name."""
    text = told_by(error)
    said = text.removeprefix("ValueError: ")
    if said != text and said.startswith(("gives ", "wants ", "moves ", "notes ")):
        text = f"step {name} {said}"
    else:
        text = f"step {name} failed: {text}"
    return f"{shown(text)}. This is a fault of the step, not of your file"
