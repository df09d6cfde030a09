"""Where the file itself waits for the potter, and no step silences that; and if its blower is on then."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from gpost.motion import codes
from gpost.motion.follow import Follower
from gpost.motion.studioair import studio_air
from gpost.plan.inblocks import in_blocks
from gpost.plan.intentions import AirInPause
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.survey.model import OwnPause, Survey

LINES_SHOWN = 5
MOST_BLOCKS = 8
"""Blocks of the file that are looked at for a blower that is on: each is read once more for it."""


class Waiting:
    """Asks the plan, so that what is silenced is none."""

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """One finding for all of the file's own pauses, and one for those at which its blower is on."""
        pauses = [pause for pause in plan.own_pauses if pause.line >= plan.since]
        if not pauses:
            return
        text = f"the file itself makes the machine wait for you, {_places(pauses)}"
        yield Finding("own-pause", "note", pauses[0].line, text, len(pauses))
        blown = _blown(plan, pauses)
        if blown:
            on, off = _switches(plan)
            text = (
                f"the file leaves the blower on while it waits for you over the piece, {_places(blown)}: the "
                f"rim dries there, on one side first; write {off} before the wait and the {on} again after "
                "it, or let the step fan set the blower, which is off then"
            )
            yield Finding("blown-wait", "warning", blown[0].line, text, len(blown))


def _blown(plan: Plan, pauses: list[OwnPause]) -> list[OwnPause]:
    """Those of the file's own pauses over the piece at which the blower is on by its own commands.

    None where a step says whether the blower rests, or silences the commands.
    """
    survey = plan.survey
    switched = survey.lines_with("M", (codes.AIR_ON, codes.AIR_OFF))
    if plan.of(AirInPause) or not len(switched) or not plan.stays(switched).all():
        return []
    after = max(survey.first_bead, int(switched[0]))
    pauses = [pause for pause in pauses if after < pause.line < survey.laid_until]
    blocks = in_blocks(survey, np.array([pause.line for pause in pauses], np.int64))
    blown = {
        first_line + line
        for first_line, follower, lines in islice(blocks, MOST_BLOCKS)
        for line in lines.tolist()
        if _is_blown(survey, follower, line)
    }
    return [pause for pause in pauses if pause.line in blown]


def _switches(plan: Plan) -> tuple[str, str]:
    """By which commands the file lets the blower blow, and stops it, in a sentence."""
    air = plan.config.machine.air
    if not studio_air(air):
        return "M106", "M107"
    return air.on, air.off


def _is_blown(survey: Survey, follower: Follower, line: int) -> bool:
    """Whether the blower is on, and the nozzle over the piece, before a line within this block."""
    there = line + follower.block.chunk.first_line
    level = max(
        _level_before(there, follower.air_levels, follower.state.air),
        _level_before(there, follower.studio_air_levels, follower.state.studio_air),
    )
    moves = follower.moves
    # a wait comes after the move on its own line (NIST RS274/NGC report, section 3.8)
    gone = int(np.searchsorted(moves.line, line, side="right"))
    place = moves.end[:, gone - 1].tolist() if gone else follower.state.position_mm
    over = all(low <= at <= high for at, (low, high) in zip(place, survey.bounds_mm[:2], strict=False))
    return level > 0 and over


def _level_before(
    line: int, switched: tuple[NDArray[np.int64], NDArray[np.float64]], initial: float
) -> float:
    """What is set before a line, by (lines, levels from there on)."""
    lines, levels = switched
    before = int(np.searchsorted(lines, line))
    return float(levels[before - 1]) if before else initial


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
