"""A rehearsal: the plan of a job without clay, heat, air and waits, raised above its place."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator

import numpy as np

from gpost.common.among import distinct
from gpost.errors import PlanError
from gpost.motion import codes, machinecodes
from gpost.motion.studioair import VALVES_M
from gpost.plan.intentions import (
    Air,
    AirInPause,
    Command,
    Ground,
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
LEFT_OUT = (Air, AirInPause, Command, Say, ScaleFlow, SilencePush, Wait)
"""What changes clay and air, waits, sends what nobody can know of, or tells the potter to do something."""
NO_WAIT = "Rehearsal, it does not wait here"
"""Shown in place of a pause's own words: nobody may reach in, since the machine goes on at once."""
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
            f"{raise_mm:g} mm up the piece would reach {top_mm + raise_mm:.1f} mm, over the ceiling of "
            f"{ceiling_mm:g} mm; it is {top_mm:.1f} mm high, so rehearse it less far up"
        )
    kept = [
        Entry(entry.step, _dry(entry.intention, raise_mm)) for entry in plan.entries if _stays(plan, entry)
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
    lines = distinct(np.concatenate(found))
    yield Silence(lines[plan.stays(lines)], "heat, air, waits, and what pushes clay")
    known = {pause.command.upper() for pause in survey.own_pauses}
    known |= {said.name for said in survey.as_written if said.stands_as in PUSHING_M}
    others = sorted(set(survey.named) - known)
    if others:
        yield Note(
            f"the file calls {', '.join(others[:5])}{' and others' if len(others) > 5 else ''} by name, and "
            "that stays: see that it neither heats nor pushes clay",
            warning=True,
        )


def _stays(plan: Plan, entry: Entry) -> bool:
    """Whether a rehearsal has it; of words for the summary warnings, and what says where things lie."""
    if isinstance(entry.intention, Note) and not entry.intention.warning:
        return any(e.step == entry.step and isinstance(e.intention, Ground | Shift) for e in plan.entries)
    return not isinstance(entry.intention, LEFT_OUT)


def _dry(intention: Intention, raise_mm: float) -> Intention:
    """A pause as the way to the park and back alone, and beads so much higher."""
    if isinstance(intention, LayClay):
        return _raised(intention, raise_mm)
    if not isinstance(intention, Pause):
        return intention
    lay = None if intention.lay is None else _raised(intention.lay, raise_mm)
    return dataclasses.replace(
        intention, reason="rehearsed without a wait", message=NO_WAIT, lay=lay, hold_again=False
    )


def _raised(lay: LayClay, by_mm: float) -> LayClay:
    strokes = tuple(dataclasses.replace(stroke, z_mm=stroke.z_mm + by_mm) for stroke in lay.strokes)
    return dataclasses.replace(lay, strokes=strokes)
