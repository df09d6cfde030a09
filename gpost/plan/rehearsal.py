"""A rehearsal: the plan of a job without clay, heat, air and waits, raised above its place."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator

import numpy as np

from gpost.errors import PlanError
from gpost.motion import codes, machinecodes
from gpost.plan.intentions import (
    Air,
    AirInPause,
    Command,
    Intention,
    LayClay,
    Note,
    Pause,
    Rehearse,
    Say,
    ScaleFlow,
    Shift,
    Silence,
    SilencePush,
    Wait,
)
from gpost.plan.plan import Entry, Plan
from gpost.spot import START

NAME = "rehearsal"
LEFT_OUT = (Air, AirInPause, Command, ScaleFlow, SilencePush, Wait)
"""What changes clay and air, waits, or sends what nobody can know of."""
VALVES_M = frozenset({1260, 1270})
"""Open and close a valve: common practice, no source."""
PUSHING_M = frozenset({codes.CLAY_ON, codes.CLAY_ON_REVERSE, codes.CLAY_OFF}) | VALVES_M
SILENCED_M = (
    codes.HEATING_M
    | codes.WAITING_M
    | PUSHING_M
    | {codes.AIR_ON, codes.AIR_OFF}
    | {
        code
        for code, does in machinecodes.SETTINGS_M.items()
        if does in (machinecodes.LOADING, machinecodes.PINS)
    }
)
SILENCED_G = frozenset({codes.DWELL, codes.RELIEVE, codes.UNRELIEVE})


def rehearsed(plan: Plan, raise_mm: float) -> Plan:
    """The plan as it is rehearsed so far above its place. Raises PlanError if the ceiling is too low."""
    top_mm, ceiling_mm = plan.bounds_mm[2][1], plan.config.machine.ceiling_mm
    if len(plan.survey.layers) and top_mm + raise_mm > ceiling_mm:
        raise PlanError(
            f"rehearsed {raise_mm:g} mm up the piece would reach {top_mm + raise_mm:.1f} mm, over the ceiling "
            f"of {ceiling_mm:g} mm; it is {top_mm:.1f} mm high, so rehearse it less far up"
        )
    kept = [
        Entry(entry.step, _raised(entry.intention, raise_mm))
        for entry in plan.entries
        if not isinstance(entry.intention, LEFT_OUT)
    ]
    dry = dataclasses.replace(plan, entries=tuple(kept))
    return dry.adding(NAME, _wanted(dry, raise_mm), keeping=False)


def words(raise_mm: float) -> str:
    """By which a rehearsal is known wherever it is named."""
    return f"a REHEARSAL {raise_mm:g} mm up: load no clay"


def _wanted(plan: Plan, raise_mm: float) -> Iterator[Intention]:
    survey = plan.survey
    yield Rehearse(raise_mm)
    yield Say(START, f"Rehearsal {raise_mm:g} mm up, no clay")
    yield Shift(0, survey.lines, (0.0, 0.0, raise_mm), "nothing is laid")
    own = np.array([pause.line for pause in plan.own_pauses], np.int64)
    found = [own, survey.lines_with("M", SILENCED_M), survey.lines_with("G", SILENCED_G)]
    lines = np.unique(np.concatenate(found))
    yield Silence(lines[plan.stays(lines)], "heat, air, waits, and what pushes clay")
    others = sorted(set(survey.named) - {pause.command.upper() for pause in survey.own_pauses})
    if others:
        yield Note(
            f"the file calls {', '.join(others[:5])}{' and others' if len(others) > 5 else ''} by name, and "
            "that stays: see that it neither heats nor pushes clay",
            warning=True,
        )


def _raised(intention: Intention, by_mm: float) -> Intention:
    """What lays clay at a height of its own, so much higher."""
    if isinstance(intention, Pause) and intention.lay is not None:
        return dataclasses.replace(intention, lay=_lifted(intention.lay, by_mm))
    return _lifted(intention, by_mm) if isinstance(intention, LayClay) else intention


def _lifted(lay: LayClay, by_mm: float) -> LayClay:
    strokes = tuple(dataclasses.replace(stroke, z_mm=stroke.z_mm + by_mm) for stroke in lay.strokes)
    return dataclasses.replace(lay, strokes=strokes)
