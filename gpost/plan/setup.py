"""What the file itself set the machine up with before a place: sent again where a stopped print goes on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.motion import codes, machinecodes
from gpost.motion.follow import Follower
from gpost.plan.inblocks import in_blocks
from gpost.plan.plan import Plan
from gpost.read.block import Block, head
from gpost.spot import Spot

_KEPT = (machinecodes.STEPS, machinecodes.E_UNIT, machinecodes.LIMITS, machinecodes.MOTORS)
_SET_M = frozenset(
    {code for code, does in machinecodes.SETTINGS_M.items() if does in _KEPT}
    | machinecodes.PACE_M
    | machinecodes.HOLDS_M
)
"""Say a value that holds from then on, so that saying it again changes nothing: steps, limits, currents, how
fast the machine gets under way, cold moves allowed, levelling in use. Common practice, no source."""
_LENGTHS_M = (
    frozenset(code for code, does in machinecodes.SETTINGS_M.items() if does in _KEPT[:3])
    | machinecodes.PACE_M
)
"""Of them those that say lengths, or steps and speeds by length: in which unit hangs on the controller."""
_BY_STATE_G = (
    frozenset(
        {*codes.UNITS, *codes.DISTANCE, *codes.PLANES, codes.MOTION_OFF, codes.DWELL, codes.SET_REGISTER}
    )
    | codes.HARMLESS_G
    | {codes.CLEAR_OFFSETS, codes.RELIEVE, codes.UNRELIEVE}
)
_BY_STATE_M = frozenset(
    {codes.EXTRUDE_ABSOLUTE, codes.EXTRUDE_RELATIVE, codes.CLAY_ON, codes.CLAY_ON_REVERSE, codes.CLAY_OFF}
    | {codes.AIR_ON, codes.AIR_OFF, codes.FEED_FACTOR, codes.FLOW_FACTOR}
)
"""What of them still holds is known from the state at the place."""
_TAKES = frozenset("ABCDEFHIJKPRSTUVXYZ")
MOST = 100
"""Lines that are sent again."""


class SetUp(NamedTuple):
    """The file's own commands before a place."""

    again: tuple[str, ...]
    """To be sent again, in their order."""
    left_out: tuple[str, ...]
    """The others by name, with how often each comes."""


class OwnZero(NamedTuple):
    """A zero that the file has set."""

    line: int
    """The last on which it did, counted from 0."""
    at_mm: tuple[float, float, float]
    """Where it lies, machine mm."""


def set_up_of(plan: Plan, spot: Spot) -> SetUp:
    """What is sent again of the source's commands before a spot, and what is not."""
    survey, again, left = plan.survey, dict[str, None](), Counter[str]()
    commands = survey.commands[survey.commands["line"] < spot.line]
    commands = commands[plan.stays(commands["line"])]
    by_state = codes.said(commands, "M", _BY_STATE_M) | codes.said(commands, "G", _BY_STATE_G)
    sets = codes.said(commands, "M", _SET_M)
    texts = _texts(plan, commands["line"][sets])
    for text, code in zip(texts, commands["code_x10"][sets].tolist(), strict=True):
        if text is None:
            left[codes.name_of("M", code)] += 1
        else:
            again.pop(text, None)
            again[text] = None
    for text in list(again)[:-MOST]:
        left[text.split()[0]] += 1
        del again[text]
    for letter, code in commands[["letter", "code_x10"]][~by_state & ~sets].tolist():
        left[codes.name_of(letter.decode(), code)] += 1
    named = [command.name for command in survey.unknown if command.line < spot.line]
    left.update(named)
    said = (f"{name} ({times})" if times > 1 else name for name, times in left.items())
    return SetUp(tuple(again), tuple(said))


def zero_moved(plan: Plan, spot: Spot) -> int | None:
    """The first line from a spot to the last bead on which the file sets or clears its own zero (G92)."""
    return next(_zero_lines(plan, spot.line, plan.survey.laid_until), None)


def height_zeroed(plan: Plan, first_line: int, spot: Spot) -> int | None:
    """The last line from a line to a spot on which the file sets its own zero of Z."""
    return max(_zero_lines(plan, first_line, spot.line, "Z"), default=None)


def own_zero(plan: Plan, spot: Spot) -> OwnZero | None:
    """The zero of the file's own (G92) in the file that is printed at a spot; None: it is the machine's."""
    line = max(_zero_lines(plan, 0, spot.line), default=None)
    if line is None:
        return None
    [(_, follower, [inside])] = in_blocks(plan.survey, np.array([spot.line]))
    state = follower.state
    if inside:
        block = head(follower.block, inside)
        state = Follower(block, state, plan.config.machine, plan.config.clay.metering).end
    if not any(state.offset[:3]):
        return None
    # a piece that was laid elsewhere had its zero set elsewhere
    by = plan.shift_mm if line >= plan.survey.first_bead else (0.0, 0.0, 0.0)
    x, y, z = (own and own + moved for own, moved in zip(state.offset, by, strict=False))
    return OwnZero(line, (x, y, z))


def zeroed_by_hand(plan: Plan, spot: Spot, axes: str) -> int | None:
    """The last line before a spot on which the file sets its own zero (G92) of an axis that it never homes.

    That is where the potter has put the nozzle: no homing gives it back.
    """
    for axis in axes:
        line = max(_zero_lines(plan, 0, spot.line, axis), default=None)
        if line is not None and next(_lines_on(plan, 0, spot.line, (codes.HOME,), axis), None) is None:
            return line
    return None


def _zero_lines(plan: Plan, first_line: int, end_line: int, axes: str = "XYZ") -> Iterator[int]:
    """Lines on which the file sets or clears its own zero of some axes, in rising order."""
    yield from _lines_on(plan, first_line, end_line, (codes.SET_REGISTER, codes.CLEAR_OFFSETS), axes)


def _lines_on(
    plan: Plan, first_line: int, end_line: int, commands: tuple[int, ...], axes: str
) -> Iterator[int]:
    """Lines with one of these G codes for some axes, or for all as they name none, in rising order."""
    lines = plan.survey.lines_with("G", commands)
    for first, follower, inside in in_blocks(plan.survey, lines[(lines >= first_line) & (lines < end_line)]):
        stands = {axis: follower.block.stands(axis)[inside] for axis in "XYZE"}
        bare = ~np.any(list(stands.values()), axis=0)
        sets = np.any([stands[axis] for axis in axes], axis=0) | bare
        yield from (inside[sets] + first).tolist()


def _texts(plan: Plan, lines: NDArray[np.int64]) -> Iterator[str | None]:
    """Lines of the source as their bare code and words.

    None for one that is more than one plain command, or says lengths in inches: a rest is in millimetres.
    """
    for _, follower, inside in in_blocks(plan.survey, lines):
        in_inches = np.broadcast_to(np.asarray(follower.scale) != 1.0, follower.is_move.shape)
        for line in inside.tolist():
            yield None if follower.is_move[line] else _plain(follower.block, line, in_inches[line])


def _plain(block: Block, line: int, in_inches: bool) -> str | None:
    first, end = np.searchsorted(block.words.line, [line, line + 1]).tolist()
    words = [(chr(block.words.letter[i]), float(block.words.value[i])) for i in range(first, end)]
    words = [word for word in words if word[0] not in "N*"]
    letters = [letter for letter, _ in words]
    if not words or letters[0] != "M" or len(set(letters)) < len(letters) or not set(letters[1:]) <= _TAKES:
        return None
    if in_inches and round(words[0][1] * 10) in _LENGTHS_M:
        return None
    return " ".join(f"{letter}{value:.10g}" for letter, value in words)
