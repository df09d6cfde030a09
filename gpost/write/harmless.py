"""Which lines later lines depend on: they can't become comments, and nobody's word lets one be inserted."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gpost.config.model import Machine, PathSection
from gpost.errors import PlanError, SourceError
from gpost.motion import codes, machinecodes
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.read.oddline import Odd
from gpost.read.source import Chunk
from gpost.read.words import read_block

_PASSING_G = codes.CodeTable(codes.HARMLESS_G | {codes.DWELL})
_PUSHING_G = codes.CodeTable({codes.RELIEVE, codes.UNRELIEVE})
_MODE_M = codes.CodeTable(
    {codes.EXTRUDE_ABSOLUTE, codes.EXTRUDE_RELATIVE, codes.FEED_FACTOR, codes.FLOW_FACTOR},
    {codes.CLAY_ON, codes.CLAY_ON_REVERSE, codes.CLAY_OFF},
)
_PUSHES = 2
_ENDING_M = codes.CodeTable(codes.ENDING_M)
_MOTORS_OFF_M = codes.CodeTable(machinecodes.LETS_GO_M)
"""Without S they let the motors go, and the place is lost; with S they set when (common practice)."""


def matters(follower: Follower, *, pushed: bool = True) -> NDArray[np.bool_]:
    """Lines of a block that move the machine or set a mode or a place, shape (lines,).

    `pushed` False: no clay is, so that what pushes it by a code of its own doesn't matter.
    """
    found = follower.is_move.copy()
    found[follower.motion_line] = True
    passing = _PASSING_G(follower.other) > 0
    passing |= (_PUSHING_G(follower.other) > 0) & (not pushed)
    found[follower.other_line[~passing]] = True
    mode = _MODE_M(follower.m)
    found[follower.m_line[(mode > 0) & (pushed | (mode != _PUSHES))]] = True
    return found


def refuse_followed(code: str, machine: Machine) -> None:
    """Raise PlanError for a command that, as gpost knows it, doesn't leave the machine as it found it."""
    try:
        block = read_block(Chunk(code.encode("ascii") + b"\n", 0, 0))
        follower = Follower(block, MachineState(), machine, PathSection(unit="path"))
    except (SourceError, UnicodeEncodeError) as error:
        raise PlanError(
            f"the command {code!r} can't be sent: gpost can't read it; write it otherwise"
        ) from error
    if _ENDING_M(follower.m).any():
        raise PlanError(
            f"the command {code!r} can't be inserted: it ends the program, so the machine would never go on; "
            "to make it wait, use the command that waits, such as M0"
        )
    lets_go = _MOTORS_OFF_M(follower.m).any() and not len(block.of("S"))
    feeds_or_selects = not len(follower.m) and (len(block.of("F")) or len(follower.t_line))
    changes_tool = len(follower.t_line) and codes.TOOL_CHANGE_M in follower.m
    names_program = any(odd.kind == Odd.PROGRAM_NUMBER for odd in block.odd)
    numbered = len(block.of("N")) or names_program
    if matters(follower)[0] or lets_go or feeds_or_selects or changes_tool or numbered:
        raise PlanError(
            f"the command {code!r} can't be inserted: it moves the machine, lets its motors go or changes "
            "how later lines are read; leave it out"
        )
