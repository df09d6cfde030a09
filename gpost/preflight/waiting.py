"""Where the file itself waits for the potter, and no step silences that; and if its blower is on then."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from gpost.common.duration import lasting
from gpost.config.commands import LEVEL
from gpost.motion.studioair import Blowing
from gpost.plan.intentions import Air, AirInPause, Pause, Restart
from gpost.plan.plan import Plan
from gpost.preflight.blowing import blowing_at
from gpost.preflight.model import Finding
from gpost.survey.model import OwnPause

LINES_SHOWN = 5


class Waiting:
    """Asks the plan, so that what is silenced is none."""

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """What is told of the file's own pauses, and of its blower at those and at the pauses of steps."""
        pauses = [pause for pause in plan.own_pauses if pause.line >= plan.since]
        yield from _told(pauses)
        if not plan.of(AirInPause):  # else a step has said whether the blower rests
            yield from _blown(plan, [pause for pause in pauses if pause.goes_on_after_s is None])
            yield from _blown_at_steps(plan)


def _blown(plan: Plan, pauses: list[OwnPause]) -> Iterator[Finding]:
    """One for those of the file's own pauses over the piece at which a blower is on by its own commands."""
    blowing = blowing_at(plan, np.array([pause.line for pause in pauses], np.int64))
    blown = [pause for pause in pauses if pause.line in blowing]
    if blown:
        off, on = _switches(plan, blowing[blown[0].line])
        first = f"line {blown[0].line + 1}" if len(blown) > 1 else "the wait"
        text = (
            f"the file leaves the blower on while it waits for you over the piece, {_places(blown)}: the "
            f"rim dries there, on one side first; write {off} before {first} and {on} again after "
            "it, or let the step fan set the blower, which is off then"
        )
        yield Finding("blown-wait", "warning", blown[0].line, text, len(blown))


def _blown_at_steps(plan: Plan) -> Iterator[Finding]:
    """One for the pauses of steps before which the file has let its blower blow."""
    if plan.of(Air):
        return
    steps = {
        entry.intention.spot.line: entry.step
        for entry in plan.entries
        if isinstance(entry.intention, Pause)
        and not isinstance(entry.intention, Restart)
        and entry.intention.spot.line >= plan.since
    }
    blowing = blowing_at(plan, np.array(sorted(steps), np.int64), parked=True)
    if blowing:
        names = " and ".join(dict.fromkeys(steps[line] for line in blowing))
        text = (
            f"the file's blower stays on while the machine waits for you at the pauses of {names}, and the "
            "rim dries; let the step fan set the blower, which is off then"
        )
        yield Finding("blown-wait", "warning", min(blowing), text, len(blowing))


def _told(pauses: list[OwnPause]) -> Iterator[Finding]:
    """One note for those that wait for somebody, and one for those that say how long they stand still."""
    waiting = [pause for pause in pauses if pause.goes_on_after_s is None]
    timed = [pause for pause in pauses if pause.goes_on_after_s is not None]
    if waiting:
        text = f"the file itself makes the machine wait for you, {_places(waiting)}"
        yield Finding("own-pause", "note", waiting[0].line, text, len(waiting))
    if timed:
        longest = lasting(max(pause.goes_on_after_s or 0.0 for pause in timed))
        longest = longest if len(timed) == 1 else f"up to {longest}"
        text = (
            f"the file itself makes the machine stand still for {longest} and "
            f"go on by itself, {_places(timed)}; a machine that takes no time there waits for you"
        )
        yield Finding("own-pause", "note", timed[0].line, text, len(timed))


def _switches(plan: Plan, blowing: Blowing) -> tuple[str, str]:
    """The commands that stop what blows at a wait, and that let it blow as before, in a sentence."""
    air = plan.config.machine.air
    found = [(f"M106 P{number} S0", f"M106 P{number} S{level:g}") for number, level in blowing.others]
    if blowing.plain > 0:
        found.insert(0, ("M107", f"M106 S{blowing.plain:g}"))
    if blowing.studio > 0:
        found.append((air.off, air.on.replace(LEVEL, f"{blowing.studio:g}")))
    off, on = zip(*found, strict=True)
    return " and ".join(off), " and ".join(on)


def _places(pauses: list[OwnPause]) -> str:
    """By which commands, and on which lines."""
    commands = ", ".join(dict.fromkeys(pause.command for pause in pauses))
    lines = [str(pause.line + 1) for pause in pauses]
    where = f"line {lines[0]}" if len(lines) == 1 else f"lines {_listed(lines)}"
    return f"by {commands}: {where}"


def _listed(lines: list[str]) -> str:
    if len(lines) > LINES_SHOWN:
        lines = [*lines[: LINES_SHOWN - 1], f"{len(lines) - LINES_SHOWN + 1} more"]
    return f"{', '.join(lines[:-1])} and {lines[-1]}"
