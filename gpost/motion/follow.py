"""Follows the machine through a block: modal state in, moves and modal state out."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from gpost.config.model import Machine, Metering
from gpost.motion import arcs, codes
from gpost.motion.events import spread
from gpost.motion.lines import Floats, Ints, Lines
from gpost.motion.modes import Modes
from gpost.motion.moves import Moves
from gpost.motion.registers import Registers
from gpost.motion.state import MachineState
from gpost.read.block import Block

COMMAND_DTYPE = np.dtype([("letter", "S1"), ("code_x10", "i4"), ("line", "i8")])

NOWHERE_MM = 1e-9
"""A shorter move goes nowhere: it is what offsets leave when they are taken off again."""

_STILL_G = codes.CodeTable(codes.STILL_G)
_STOPPING_M = codes.CodeTable(codes.STOPPING_M)
_AFTER_MOVE_M = codes.CodeTable(codes.AFTER_MOVE_M)


class Follower:
    """One pass of the machine over one block. Build it, then read `moves`, `commands` and `end`.

    Raises SourceError for what can't be followed or is no legal line.
    """

    def __init__(self, block: Block, state: MachineState, machine: Machine, metering: Metering) -> None:
        self.block, self.state, self.machine = block, state, machine
        self._by_path = metering.unit == "path"
        self._lines = lines = Lines(block)
        self._modes = modes = Modes(lines, state, machine)
        registers = Registers(lines, modes, state, machine)
        self.axis, self.before, self.claimed = lines.axis, lines.before, lines.claimed
        self.is_move, self.move_line, self.motion_line = lines.is_move, lines.move_line, lines.motion_line
        self.other, self.other_line = lines.other, lines.other_line
        self.m, self.m_line, self.t_line = lines.m, lines.m_line, lines.t_line
        self.feed_line = lines.feed_line
        self.scale, self.relative, self.e_relative = modes.scale, modes.relative, modes.e_relative
        self.e_raw = registers.e_mm
        self.raw_feed, end_feed = self._feeds()
        """F in force on each move, mm/min, the feed factor left out; shape (m,)."""
        self.moves = self._moves(registers)
        self.end = _end_state(state, modes, registers, end_feed)

    @property
    def special(self) -> dict[int, int]:
        """G92, G28 and G92.1: line within the block to code times ten."""
        return dict(zip(self._lines.special_line.tolist(), self._lines.special_code.tolist(), strict=True))

    @property
    def motion(self) -> Ints:
        """Motion code of each move, 0 to 3; shape (m,)."""
        return np.asarray(self._modes.motion)

    @property
    def plane(self) -> Ints:
        """Plane of each move, 17 to 19; shape (m,)."""
        plane = np.asarray(self._modes.on_moves(self._modes.plane), np.int64)
        return np.broadcast_to(plane, (len(self.move_line),))

    @property
    def scale_on_moves(self) -> Floats:
        """Millimetres in one unit, for each move; shape (m,)."""
        scale = np.asarray(self._modes.on_moves(self.scale), np.float64)
        return np.broadcast_to(scale, (len(self.move_line),))

    @property
    def feed_scale_on_moves(self) -> Floats:
        """Millimetres in one unit in which an F on the line of each move is said; shape (m,).

        F counts before the units change on its line (NIST RS274/NGC report, section 3.8).
        """
        scale = np.asarray(self._modes.on_moves(self._modes.feed_scale), np.float64)
        return np.broadcast_to(scale, (len(self.move_line),))

    @property
    def even_feeds(self) -> bool:
        """Whether every F of the block is said in one unit and counts with one factor."""
        return not any(isinstance(c, np.ndarray) for c in (self._modes.feed_scale, self._modes.feed_factor))

    def feed_of_words(self, index: NDArray[np.int64]) -> Floats:
        """F in mm/min of some F words of the block, by their index."""
        scale = self._modes.feed_scale
        if isinstance(scale, np.ndarray):
            scale = scale[self.block.words.line[index]]
        return np.asarray(self.block.words.value[index] * scale)

    @property
    def commands(self) -> NDArray[np.void]:
        """Every code that is no plain move, with its line within the file; COMMAND_DTYPE."""
        kinds = ((b"G", self.other_line, self.other), (b"M", self.m_line, self.m))
        tools = (b"T", self.t_line, self._lines.tool * 10)
        parts = []
        for letter, line, code in (*kinds, tools):
            part = np.zeros(len(line), COMMAND_DTYPE)
            part["letter"], part["code_x10"], part["line"] = letter, code, line + self.block.chunk.first_line
            parts.append(part)
        table = np.concatenate(parts)
        return table[np.argsort(table["line"], kind="stable")]

    @property
    def air_levels(self) -> tuple[Ints, Floats]:
        """Lines within the file that switch the blower, and the raw levels from there on, both shape (k,)."""
        line, level = self._modes.air_levels()
        return line + self.block.chunk.first_line, level

    # -- moves ---------------------------------------------------------------------------------

    def _feeds(self) -> tuple[Floats, float]:
        value = self.feed_of_words(self._lines.feed_index)
        before = self.state.feed_mm_min
        feed = spread(self.before[self.feed_line], value, before, len(self.move_line))
        return feed, float(value[-1]) if len(value) else before

    def _moves(self, registers: Registers) -> Moves:
        count = len(self.move_line)
        modes = self._modes
        direction = registers.end - registers.start
        square = direction * direction
        flat = square[0]
        flat += square[1]
        xy = flat > NOWHERE_MM**2
        flat += square[2]
        length = np.sqrt(flat)
        still = length <= NOWHERE_MM
        if still.any():
            length[still] = direction[:, still] = 0.0
            direction /= np.maximum(length, NOWHERE_MM)
        else:
            direction /= length
        moves = Moves(
            line=self.move_line, start=registers.start, end=registers.end, length_mm=length, xy=xy,
            path_mm=length, e_mm=_scaled(self.e_raw, modes.on_moves(modes.flow_factor)),
            feed_mm_min=_scaled(self.raw_feed, modes.on_moves(modes.feed_factor)), rapid=modes.motion == 0,
            laying=np.zeros(count, np.bool_), entry=direction, exit=direction,
            radius_mm=np.full(count, np.nan), stop=np.zeros(count, np.bool_), wait_s=np.zeros(count),
        )  # fmt: skip
        if count and int(modes.motion.max()) > 1:
            self._arcs(moves)
        moves.laying = self._laying(moves)
        alone = moves.path_mm == 0
        if alone.any():
            moves.length_mm = np.where(alone, np.abs(moves.e_mm), moves.path_mm)
        self._stops(moves)
        return moves

    def _laying(self, moves: Moves) -> NDArray[np.bool_]:
        if self._by_path:
            return moves.xy & ~moves.rapid
        laying = moves.xy & (moves.e_mm > 0)
        if self._modes.laying is not False:
            laying |= moves.xy & ~moves.rapid & self._modes.on_moves(self._modes.laying)
        return np.asarray(laying)

    def _arcs(self, moves: Moves) -> None:
        motion = self._modes.motion
        pick = np.flatnonzero(motion > 1)
        plane = np.broadcast_to(np.asarray(self._modes.on_moves(self._modes.plane)), len(motion))
        scale, line = self.scale_on_moves[pick], self.move_line[pick]
        offset = np.stack([self._lines.numbers_on(line, letter) for letter in "IJK"]) * scale
        radius = self._lines.numbers_on(line, "R") * scale
        moves.exit = moves.entry.copy()
        for which in np.unique(plane[pick]).tolist():
            some = plane[pick] == which
            at = pick[some]
            arc = arcs.measure(
                moves.start[:, at], moves.end[:, at], offset[:, some], radius[some], motion[at] == 2,
                plane=which, tolerance_mm=self.machine.arc_tolerance_mm,
                lines=self.block.chunk.first_line + self.move_line[at],
            )  # fmt: skip
            moves.path_mm[at], moves.radius_mm[at] = arc.length_mm, arc.radius_mm
            moves.entry[:, at], moves.exit[:, at] = arc.entry, arc.exit
            moves.xy[at] = True

    def _stops(self, moves: Moves) -> None:
        """Where the machine stands still, and for how long it dwells there."""
        if not (len(self.m_line) or len(self.t_line) or len(self.other_line)):
            return
        still_m = _STOPPING_M(self.m) > 0
        at = np.concatenate(
            [
                self.before[self.m_line[still_m]] + self._after_move(self.m_line[still_m], self.m[still_m]),
                self.before[self.t_line],
                self.before[self.other_line[_STILL_G(self.other) > 0]],
            ]
        )
        if not len(at):
            return
        count = len(moves)
        moves.stop[at[at < count]] = True
        moves.tail_stop = bool((at == count).any())
        dwell = self.other_line[self.other == codes.DWELL]
        if len(dwell):
            total = np.zeros(count + 1)
            np.add.at(total, self.before[dwell], self._dwell_s(dwell))
            moves.wait_s, moves.tail_wait_s = total[:-1], float(total[-1])

    def _after_move(self, line: Ints, code: Ints) -> NDArray[np.bool_]:
        """Whether each of these codes comes after a move on its own line (NIST section 3.8)."""
        return self.is_move[line] & (_AFTER_MOVE_M(code) > 0)

    def _dwell_s(self, line: Ints) -> Floats:
        """G4: S is seconds; P is milliseconds or seconds as the config says; S wins."""
        p, s = self._lines.numbers_on(line, "P"), self._lines.numbers_on(line, "S")
        p = p / 1000 if self.machine.dwell_p == "milliseconds" else p
        seconds = np.where(np.isnan(s), np.nan_to_num(p), s)
        if (seconds < 0).any():
            text = "the dwell on this line is negative; fix or remove the line"
            self._lines.fail(line[seconds < 0][0], text)
        return seconds


def _scaled(column: Floats, factor: Any) -> Floats:
    """The column times a factor, or a column of factors; the same column where that changes nothing."""
    return column if isinstance(factor, float) and factor == 1.0 else np.asarray(column * factor)


def _end_state(state: MachineState, modes: Modes, registers: Registers, feed_mm_min: float) -> MachineState:
    def last(column: Any) -> Any:
        return column[-1].item() if isinstance(column, np.ndarray) else column

    register: Any = tuple(registers.end_register)
    offset: Any = tuple(registers.end_offset)
    known: Any = tuple(registers.end_known)
    return MachineState(
        register=register,
        offset=offset,
        known=known,
        scale=last(modes.scale),
        relative=last(modes.relative),
        e_relative=last(modes.e_relative),
        motion=modes.end_motion,
        plane=last(modes.plane),
        feed_mm_min=feed_mm_min,
        feed_factor=last(modes.feed_factor),
        flow_factor=last(modes.flow_factor),
        air=modes.end_air,
        tool=modes.end_tool,
        laying=last(modes.laying),
        pressure_relief=modes.end_relief,
    )
