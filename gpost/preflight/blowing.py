"""Where the file's own blower is on while the nozzle stands over the piece."""

from __future__ import annotations

from itertools import islice

import numpy as np
from numpy.typing import NDArray

from gpost.motion import codes
from gpost.motion.follow import Follower
from gpost.motion.studioair import Blowing
from gpost.plan.inblocks import in_blocks
from gpost.plan.plan import Plan
from gpost.survey.model import Survey

MOST_BLOCKS = 8
"""Blocks of the file that are looked at for a blower that is on: each is read once more for it."""


def blowing_at(plan: Plan, lines: NDArray[np.int64], *, parked: bool = False) -> dict[int, Blowing]:
    """What blows by the file's own commands at those of some ascending lines where something does.

    None where a step silences the commands; `parked`: where the nozzle is by the file says nothing.
    """
    survey = plan.survey
    switched = survey.lines_with("M", (codes.AIR_ON, codes.AIR_OFF))
    if not len(switched) or not plan.stays(switched).all():
        return {}
    after = max(survey.first_bead, int(switched[0]))
    blocks = in_blocks(survey, lines[(lines > after) & (lines < survey.laid_until)])
    blowing = {
        first_line + line: follower.blowing(line)
        for first_line, follower, inside in islice(blocks, MOST_BLOCKS)
        for line in inside.tolist()
        if parked or _is_over(survey, follower, line)
    }
    return {line: found for line, found in blowing.items() if any(found)}


def _is_over(survey: Survey, follower: Follower, line: int) -> bool:
    """Whether the nozzle is over the piece before a line within this block."""
    moves = follower.moves
    # a wait comes after the move on its own line (NIST RS274/NGC report, section 3.8)
    gone = int(np.searchsorted(moves.line, line, side="right"))
    place = moves.end[:, gone - 1].tolist() if gone else follower.state.position_mm
    return all(low <= at <= high for at, (low, high) in zip(place, survey.bounds_mm[:2], strict=False))
