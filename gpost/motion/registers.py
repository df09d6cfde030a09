"""Positions and E of every move of a block, from events: absolute and relative words, G92, G28."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gpost.config.model import Machine
from gpost.motion import codes
from gpost.motion.events import running, spread
from gpost.motion.lines import Flags, Floats, Ints, Lines
from gpost.motion.modes import Modes
from gpost.motion.state import MachineState

_WORD = 0
"""Kind of an event that is a move's word; all other kinds are codes."""


class Registers:
    """Where each move of a block starts and ends, in machine mm, and the E it pushes.

    start, end: shape (3, m). A move starts where the one before ends, unless the machine homed in between.
    """

    def __init__(self, lines: Lines, modes: Modes, state: MachineState, machine: Machine) -> None:
        self.lines, self.modes, self.state = lines, modes, state
        self._home_mm = {"X": machine.home.x_mm, "Y": machine.home.y_mm, "Z": machine.home.z_mm}
        self.end_register, self.end_offset = list(state.register), list(state.offset)
        self.end_known = list(state.known)
        count = len(lines.move_line)
        points = np.empty((3, count + 1))
        jumps = [self._axis(index, letter, points[index]) for index, letter in enumerate("XYZ")]
        self.start, self.end = points[:, :-1], points[:, 1:]
        if any(jump is not None for jump in jumps):
            self.start = np.stack([self.start[i] if jump is None else jump for i, jump in enumerate(jumps)])
        self.e_mm = np.zeros(count)
        """E of each move as the program says it, mm of the E axis; shape (m,)."""
        self._e_axis()

    def _events(self, letter: str) -> tuple[Ints, Floats, NDArray[np.int64] | None]:
        """(line, value in mm, kind) of all that happens to an axis; kind None: nothing but words of moves."""
        line, value = self.lines.axis[letter]
        scale = self.modes.scale
        if isinstance(scale, np.ndarray):
            value = value * scale[line]
        elif scale != 1.0:
            value = value * scale
        if len(self.lines.special_line):
            return self._with_special(letter, line, value)
        if self.lines.claimed.any():
            moves = self.lines.is_move[line]
            line, value = line[moves], value[moves]
        return line, value, None

    def _with_special(
        self, letter: str, line: Ints, value: Floats
    ) -> tuple[Ints, Floats, NDArray[np.int64] | None]:
        """The words of moves, and what G92, G28 and G92.1 do to one axis, in order.

        On one line a code comes before the move (NIST RS274/NGC report, section 3.8, orders 19 and 20).
        """
        moves = self.lines.is_move[line]
        at, code, said = self._special(letter, line, value)
        if not len(at):
            return line[moves], value[moves], None
        all_lines = np.concatenate([at, line[moves]])
        order = np.argsort(all_lines, kind="stable")
        kind = np.concatenate([code, np.zeros(np.count_nonzero(moves), np.int64)])
        return all_lines[order], np.concatenate([said, value[moves]])[order], kind[order]

    def _special(self, letter: str, line: Ints, value: Floats) -> tuple[Ints, Ints, Floats]:
        """(line, code, value) of the codes that concern one axis.

        G92 sets the axes named, a bare one sets all to 0; G28 homes the axes named, a bare one all.
        """
        at, code = self.lines.special_line, self.lines.special_code
        word = np.full(self.lines.block.lines, -1)
        word[line] = np.arange(len(line))
        word = word[at]
        sets, homes = code == codes.SET_REGISTER, code == codes.HOME
        value = np.append(value, 0.0)
        concerns = sets & ((word >= 0) | ~self._any_stands("XYZE", at))
        if letter in self._home_mm:
            concerns |= homes & ((word >= 0) | ~self._any_stands("XYZ", at))
            concerns |= code == codes.CLEAR_OFFSETS
            value = np.where(homes, self._home_mm[letter], value[word])
        else:
            value = value[word]
        return at[concerns], code[concerns], value[concerns]

    def _any_stands(self, letters: str, at: Ints) -> Flags:
        found = np.zeros(self.lines.block.lines, np.bool_)
        for letter in letters:
            found[self.lines.axis[letter][0]] = True
        return found[at]

    def _axis(self, index: int, letter: str, points: Floats) -> Floats | None:
        """Fill one axis' row of positions; `points` (m + 1,) begins with where the block starts.

        Returns where each move starts, (m,), if it is not where the one before ends.
        """
        line, value, kind = self._events(letter)
        register0, offset0 = self.state.register[index], self.state.offset[index]
        points[0] = register0 + offset0
        if not len(line):
            points[1:] = points[0]
            return None
        is_set = _is_set(line, self.modes.relative)
        offset: Floats | float = offset0
        if kind is None:
            register = running(value, is_set, register0)
        else:
            register, offset = _with_codes(value, kind, is_set, register0, offset0)
            self.end_offset[index] = float(offset[-1])
        self.end_register[index] = float(register[-1])
        absolute = is_set if kind is None else (is_set & (kind == _WORD)) | (kind == codes.HOME)
        self.end_known[index] |= bool(np.any(absolute))
        machine = register if kind is None and offset0 == 0.0 else _shifted(register, offset)
        count = len(points) - 1
        if kind is None and len(line) == count:
            points[1:] = machine
            return None
        before = self.lines.before[line]
        points[1:] = spread(before, machine, points[0], count)
        if kind is None or not (kind == codes.HOME).any():
            return None
        # a move's word counts from the next move's start on, a code at once
        return spread(before + (kind == _WORD), machine, points[0], count + 1)[:count]

    def _e_axis(self) -> None:
        line, value, kind = self._events("E")
        if not len(line):
            return
        is_set = _is_set(line, self.modes.e_relative)
        if kind is not None:
            is_set = is_set | (kind != _WORD)
        register0 = self.state.register[3]
        register = running(value, is_set, register0)
        self.end_register[3] = float(register[-1])
        if is_set is False:
            pushed = value
        else:
            pushed = np.diff(register, prepend=register0)
            if is_set is not True:
                pushed = np.where(is_set, pushed, value)
        if kind is not None:
            moves = kind == _WORD
            line, pushed = line[moves], pushed[moves]
        if kind is None and len(line) == len(self.e_mm):
            self.e_mm = pushed
        else:
            self.e_mm[self.lines.before[line]] = pushed


def _is_set(line: Ints, relative: Flags | bool) -> Flags | bool:
    """Whether each word sets its register, instead of adding to it."""
    return np.asarray(~relative[line]) if isinstance(relative, np.ndarray) else not relative


def _with_codes(
    value: Floats, kind: NDArray[np.int64], is_set: Flags | bool, register0: float, offset0: float
) -> tuple[Floats, Floats]:
    """Register and offset after each event where G92, G28 or G92.1 are among them."""
    is_set = np.broadcast_to(is_set, len(value))
    register, offset = np.empty(len(value)), np.empty(len(value))
    here, shift, begin = register0, offset0, 0
    for at in np.append(np.flatnonzero(kind), len(value)).tolist():
        register[begin:at] = running(value[begin:at], is_set[begin:at], here)
        offset[begin:at] = shift
        here = float(register[at - 1]) if at > begin else here
        if at == len(value):
            break
        here, shift = _apply_code(int(kind[at]), float(value[at]), here, shift)
        register[at], offset[at], begin = here, shift, at + 1
    return register, offset


def _shifted(register: Floats, offset: Floats | float) -> Floats:
    """Machine positions. Without an offset -0.0 stays what it is, wherever a block is cut."""
    return np.where(offset == 0.0, register, register + offset)


def _apply_code(code: int, value: float, register: float, offset: float) -> tuple[float, float]:
    """G92: offset = machine position - new register (NIST section 3.5.18). Homing clears the offset.

    Clearing the offsets makes the register read the machine position.
    """
    if code == codes.SET_REGISTER:
        return value, register + offset - value
    if code == codes.HOME:
        return value, 0.0
    return register + offset, 0.0
