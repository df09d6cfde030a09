"""Which lines later lines depend on: they can't become comments, and nobody's word lets one be inserted."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gpost.config.model import Machine, PathSection
from gpost.errors import PlanError, SourceError
from gpost.motion import codes, machinecodes
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.plan.rehearsal import SILENCED_G, SILENCED_M
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
_AIR_M = codes.CodeTable({codes.AIR_ON, codes.AIR_OFF})
_REHEARSED_G, _REHEARSED_M = codes.CodeTable(SILENCED_G), codes.CodeTable(SILENCED_M)
_ENDING_M = codes.CodeTable(codes.ENDING_M)
_MOTORS_OFF_M = codes.CodeTable(machinecodes.LETS_GO_M)
"""Without S they let the motors go, and the place is lost; with S they set when (common practice)."""


def matters(follower: Follower, *, pushed: bool = True) -> NDArray[np.bool_]:
    """Lines of a block that move the machine or set a mode or a place, shape (lines,).

    `pushed` False: no clay is, so that what pushes it by a code of its own doesn't matter.
    """
    found = follower.is_move | sets(follower, pushed=pushed)
    found[follower.motion_line] = True
    return found


def sets(follower: Follower, *, pushed: bool = True) -> NDArray[np.bool_]:
    """Those of them that set a mode or a place, or switch clay; the same."""
    found = np.zeros(follower.block.lines, np.bool_)
    passing = _PASSING_G(follower.other) > 0
    passing |= (_PUSHING_G(follower.other) > 0) & (not pushed)
    found[follower.other_line[~passing]] = True
    mode = _MODE_M(follower.m)
    found[follower.m_line[(mode > 0) & (pushed | (mode != _PUSHES))]] = True
    if pushed and follower.auger is not None:
        found[follower.m_line[follower.auger.at]] = found[follower.auger.by_name] = True
    return found


def beside_air(follower: Follower, *, dry: bool) -> NDArray[np.bool_]:
    """Lines of a block on which another command stands beside one of the blower's, shape (lines,).

    `dry`: what a rehearsal takes out anyway counts as no other.
    """
    commands, first = follower.commands, follower.block.chunk.first_line
    code, of_m, of_g = commands["code_x10"], commands["letter"] == b"M", commands["letter"] == b"G"
    air = of_m & (_AIR_M(code) > 0)
    other = ~air
    if dry:
        other &= ~(of_m & (_REHEARSED_M(code) > 0)) & ~(of_g & (_REHEARSED_G(code) > 0))
    found = np.zeros((2, follower.block.lines), np.bool_)
    found[0, commands["line"][air] - first] = True
    found[1, commands["line"][other] - first] = True
    return np.asarray(found[0] & found[1])


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
