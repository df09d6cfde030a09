"""The modes in force on each line of a block: units, distance, plane, motion, factors, air, tool."""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from gpost.config.model import Machine
from gpost.motion import codes
from gpost.motion.events import spread
from gpost.motion.lines import Flags, Floats, Ints, Lines, merged, numbers_on
from gpost.motion.state import MachineState
from gpost.read.block import Block

ModeColumn: TypeAlias = Any
"""An array over the lines, or a scalar."""

_MODES = codes.CodeTable(codes.UNITS, codes.DISTANCE, codes.PLANES)
_UNITS, _DISTANCE, _PLANES = 1, 2, 3
_E_MODES = codes.CodeTable({codes.EXTRUDE_ABSOLUTE, codes.EXTRUDE_RELATIVE})
_CLAY = codes.CodeTable({codes.CLAY_ON, codes.CLAY_ON_REVERSE, codes.CLAY_OFF})
_AIR = codes.CodeTable({codes.AIR_ON, codes.AIR_OFF})

MOST_FANS = 100
"""Numbers that M106 and M107 may have as P."""
MOST_PERCENT = 10_000.0
"""A feed or flow factor beyond it, or under its inverse, is a slip, and ends in absurd numbers."""


class Modes:
    """What is in force on each line: a column over the block's lines, or a scalar where it never changes.

    A line's own mode words hold for its own move (NIST RS274/NGC report, section 3.8), but for F, which comes
    before the units change.
    """

    def __init__(self, lines: Lines, state: MachineState, machine: Machine) -> None:
        self.lines, self.state, self.machine = lines, state, machine
        self.scale: Floats | float = state.scale
        """Millimetres in one unit."""
        self.feed_scale: Floats | float = state.scale
        """The same for the F on the line."""
        self.relative: Flags | bool = state.relative
        self.e_relative: Flags | bool = state.e_relative
        self.plane: Ints | int = state.plane
        self.feed_factor: Floats | float = state.feed_factor
        self.flow_factor: Floats | float = state.flow_factor
        self.laying: Flags | bool = state.laying
        self.end_air, self.end_tool = state.air, state.tool
        self.motion, self.end_motion = self._motion()
        """Motion code of each move, shape (m,)."""
        mark = _MODES(lines.other)
        if mark.any():
            self._units_and_planes(mark)
        self._distances(lines.other_line[mark == _DISTANCE], lines.other[mark == _DISTANCE] == 910)
        if len(lines.m):
            self._factors()
            self.end_air = air_after(state.air, lines.block, lines.m_line, lines.m)
        if len(lines.tool):
            self.end_tool = int(lines.tool[-1])
        self.end_relief = relief_after(state.pressure_relief, lines.other)

    def _over_lines(self, line: Ints, values: Floats | Ints | Flags, initial: float) -> ModeColumn:
        if not len(line) or (values == initial).all():
            return initial
        return spread(line, values, initial, self.lines.block.lines)

    def _motion(self) -> tuple[Ints, int]:
        lines = self.lines
        said = lines.motion_code // 10
        if len(said) == len(lines.move_line) and (lines.motion_line == lines.move_line).all():
            motion = said
        else:
            motion = spread(lines.before[lines.motion_line], said, self.state.motion, len(lines.move_line))
        off = motion == codes.MOTION_OFF // 10
        if off.any():
            line = lines.move_line[off][0]
            text = "axis words stand without G0 to G3 after G80, which ends all motion; put G0 or G1 first"
            lines.fail(line, text)
        return motion, int(said[-1]) if len(said) else self.state.motion

    def _units_and_planes(self, mark: NDArray[np.uint8]) -> None:
        lines, state = self.lines, self.state
        line, code = lines.other_line, lines.other
        pick = mark == _UNITS
        scale = np.where(code[pick] == 200, codes.UNITS[200], codes.UNITS[210])
        self.scale = self.feed_scale = self._over_lines(line[pick], scale, state.scale)
        if isinstance(self.scale, np.ndarray):
            self.feed_scale = np.append(state.scale, self.scale[:-1])
        pick = mark == _PLANES
        self.plane = self._over_lines(line[pick], code[pick] // 10, state.plane)

    def _distances(self, line: Ints, relative: Flags) -> None:
        """G90 and G91; M82 and M83 say it of E alone, so on one line they come after."""
        self.relative = self._over_lines(line, relative, self.state.relative)
        e_line, e_code = self._of_m(_E_MODES)
        if self.machine.axis_mode_sets_e and len(line):
            e_line, said = merged([(line, relative), (e_line, e_code == codes.EXTRUDE_RELATIVE)])
        else:
            said = e_code == codes.EXTRUDE_RELATIVE
        self.e_relative = self._over_lines(e_line, said, self.state.e_relative)

    def _of_m(self, table: codes.CodeTable) -> tuple[Ints, Ints]:
        pick = table(self.lines.m) > 0
        return self.lines.m_line[pick], self.lines.m[pick]

    def _factors(self) -> None:
        """M220 and M221, in percent; M101 to M103."""
        self.feed_factor = self._percent(codes.FEED_FACTOR, self.state.feed_factor)
        self.flow_factor = self._percent(codes.FLOW_FACTOR, self.state.flow_factor)
        line, code = self._of_m(_CLAY)
        self.laying = self._over_lines(line, code == codes.CLAY_ON, self.state.laying)

    def _percent(self, which: int, initial: float) -> Floats | float:
        line = self.lines.m_line[self.lines.m == which]
        if not len(line):
            return initial
        percent = numbers_on(self.lines.block, line, "S")
        said = ~np.isnan(percent)
        wrong = (percent < 0) | (percent > MOST_PERCENT) | ((percent > 0) & (percent < 1 / MOST_PERCENT))
        if wrong.any():
            text = f"S{percent[wrong][0]:g} can't be meant as a percentage; fix the line"
            self.lines.fail(line[wrong][0], text)
        column: Floats | float = self._over_lines(line[said], percent[said] / 100, initial)
        return column


def on_lines(column: ModeColumn, line: Ints) -> NDArray[Any]:
    """A mode on some lines, shape (k,)."""
    return column[line] if isinstance(column, np.ndarray) else np.broadcast_to(np.asarray(column), len(line))


def feeds_of_words(block: Block, index: Ints, scale: ModeColumn) -> Floats:
    """F in mm/min of some F words of a block, by their index, in units of `scale` mm."""
    if isinstance(scale, np.ndarray):
        scale = scale[block.words.line[index]]
    return np.asarray(block.words.value[index] * scale)


def fans(block: Block, m_line: Ints, m: Ints) -> tuple[Ints, Ints, Floats]:
    """Which of the M codes of a block are M106 or M107, their P, and the raw levels from there on; (k,).

    0 is the blower without a P too. What can be no fan's number says nothing (common practice, no source).
    """
    at = np.flatnonzero(_AIR(m))
    if not len(at):
        return at, at, np.zeros(0)
    line, off = m_line[at], m[at] == codes.AIR_OFF
    level = numbers_on(block, line, "S")
    said = np.full(block.lines, np.nan)
    stands, value = block.said("P")
    said[stands] = value
    pin = said[line]
    known = (pin >= 0) & (pin < MOST_FANS) & (pin == np.floor(pin))
    numbers: Ints = np.where(known, pin, 0).astype(np.int64)
    return at, numbers, np.where(off, 0.0, np.where(np.isnan(level), 255.0, level))


def air_after(before: float, block: Block, m_line: Ints, m: Ints) -> float:
    """The raw level of the blower without a P after the block."""
    _, pin, level = fans(block, m_line, m)
    level = level[pin == 0]
    return float(level[-1]) if len(level) else before


def relief_after(before: int, other: Ints) -> int:
    """Reliefs of pressure that are open after some G codes."""
    for code in other[(other == codes.RELIEVE) | (other == codes.UNRELIEVE)].tolist():
        before = max(before + (1 if code == codes.RELIEVE else -1), 0)
    return before
