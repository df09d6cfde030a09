"""Follows the machine through a block: modal state in, moves and modal state out."""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gpost.common.among import among
from gpost.config.commands import seconds_of, times_before_text
from gpost.config.model import Machine, Metering
from gpost.motion import arcs, codes
from gpost.motion.lines import SPECIAL, Flags, Floats, Ints, Lines, fail, merged, numbers_on
from gpost.motion.modes import ModeColumn, Modes, fans, feeds_of_words, on_lines
from gpost.motion.moves import Moves
from gpost.motion.state import MachineState
from gpost.motion.studioair import AsWritten, Blowing, Switched, studio_air
from gpost.motion.studioauger import Pushing, studio_auger
from gpost.read.block import Block
from gpost.read.oddline import Odd, text_behind

try:
    from gpost.motion.onepass import find_way
    from gpost.motion.pace import straight
except ImportError:  # installed without a compiler
    from gpost.motion.bycolumns import find_way
    from gpost.motion.pacecolumns import straight

COMMAND_DTYPE = np.dtype([("letter", "S1"), ("code_x10", "i4"), ("line", "i8")])

_STILL_G = codes.CodeTable(codes.STILL_G)
_STOPPING_M = codes.CodeTable(codes.STOPPING_M)
_AFTER_MOVE_M = codes.CodeTable(codes.AFTER_MOVE_M)
_TIMED_M = codes.CodeTable(codes.TIMED_M)
_DISTANCE = codes.CodeTable(codes.DISTANCE)
_E_MODES = codes.CodeTable({codes.EXTRUDE_ABSOLUTE, codes.EXTRUDE_RELATIVE})


class Follower:
    """One pass of the machine over one block. Build it, then read `moves`, `commands` and `end`.

    Raises SourceError for what can't be followed or is no legal line.
    """

    def __init__(self, block: Block, state: MachineState, machine: Machine, metering: Metering) -> None:
        self.block, self.state, self.machine = block, state, machine
        self._by_path = metering.unit == "path"
        self._way = way = find_way(block, state, machine)
        self.is_move, self.before, self.move_line = way.is_move, way.before, way.move_line
        self.motion = way.motion
        """Motion code of each move, 0 to 3; shape (m,)."""
        self.other, self.other_line = way.other, way.other_line
        self.m, self.m_line, self.t_line = way.m, way.m_line, way.t_line
        studio_air(machine.air).refuse_shared(block, self.m_line, self.m, self.other_line, self.other)
        self.e_raw = way.e_mm
        self.raw_feed = way.feed_mm_min
        """F in force on each move, mm/min, the feed factor left out; shape (m,)."""
        self.feed_index, self.feed_line = way.feed_index, block.words.line.take(way.feed_index)
        """The F words that count, and their lines."""
        self.moves = self._moves()
        self.end = self._carried(way.after)

    # -- what edits and reports ask for --------------------------------------------------------

    @property
    def claimed(self) -> Flags:
        """Lines whose words belong to a code that is no move, shape (lines,)."""
        return self._lines.claimed

    @property
    def motion_line(self) -> Ints:
        """Lines of the codes that move or end moving."""
        return self._lines.motion_line

    @property
    def special(self) -> dict[int, int]:
        """G92, G28 and G92.1: line within the block to code times ten."""
        pick = SPECIAL(self.other) > 0
        return dict(zip(self.other_line[pick].tolist(), self.other[pick].tolist(), strict=True))

    @property
    def scale(self) -> ModeColumn:
        """Millimetres in one unit: a column over the lines, or a scalar where it never changes."""
        return self._in_force("scale")

    @property
    def relative(self) -> ModeColumn:
        """Whether words of X, Y and Z add; the same."""
        return self._modes.relative if _DISTANCE(self.other).any() else self.state.relative

    @property
    def e_relative(self) -> ModeColumn:
        """Whether words of E add; the same."""
        said = _E_MODES(self.m).any() or _DISTANCE(self.other).any()
        return self._modes.e_relative if said else self.state.e_relative

    @property
    def plane(self) -> Ints:
        """Plane of each move, 17 to 19; shape (m,)."""
        return on_lines(self._in_force("plane"), self.move_line)

    @property
    def scale_on_moves(self) -> Floats:
        """Millimetres in one unit, for each move; shape (m,)."""
        return on_lines(self.scale, self.move_line)

    @property
    def feed_scale_on_moves(self) -> Floats:
        """Millimetres in one unit in which an F on the line of each move is said; shape (m,).

        F counts before the units change on its line (NIST RS274/NGC report, section 3.8).
        """
        return on_lines(self._feed_scale, self.move_line)

    @property
    def even_feeds(self) -> bool:
        """Whether every F of the block is said in one unit and counts with one factor."""
        return not any(isinstance(c, np.ndarray) for c in (self._feed_scale, self._in_force("feed_factor")))

    def feed_of_words(self, index: NDArray[np.int64]) -> Floats:
        """F in mm/min of some F words of the block, by their index."""
        return feeds_of_words(self.block, index, self._feed_scale)

    @cached_property
    def _lines(self) -> Lines:
        return self._way.lines or Lines(self.block)

    @cached_property
    def _modes(self) -> Modes:
        return self._way.modes or Modes(self._lines, self.state, self.machine)

    def _in_force(self, mode: str) -> ModeColumn:
        """A mode over the lines: a way that was made without them changes none but G90 and M82."""
        return getattr(self.state if self._way.modes is None else self._way.modes, mode)

    @property
    def _feed_scale(self) -> ModeColumn:
        return self.state.scale if self._way.modes is None else self._way.modes.feed_scale

    def _on_moves(self, column: ModeColumn) -> ModeColumn:
        """A mode on the lines that move, shape (m,); a scalar stays one."""
        return column[self.move_line] if isinstance(column, np.ndarray) else column

    @property
    def commands(self) -> NDArray[np.void]:
        """Every code that is no plain move, with its line within the file; COMMAND_DTYPE.

        What the studio switches its blower and auger by stands as M106, M107, M101 or M103, for all who ask.
        """
        m, own, auger = self.m.copy(), self._studio_switched, self.auger
        m[own.at] = _air_as(own.level > 0)
        by_name, level = self.named_air
        named = [(b"M", by_name, _air_as(level > 0))]
        if auger is not None:
            m[auger.at] = auger.code
            named.append((b"M", auger.by_name, auger.code_by_name))
        tools = (b"T", self.t_line, self._way.tool * 10)
        parts = []
        for letter, line, code in (
            (b"G", self.other_line, self.other),
            (b"M", self.m_line, m),
            *named,
            tools,
        ):
            part = np.zeros(len(line), COMMAND_DTYPE)
            part["letter"], part["code_x10"], part["line"] = letter, code, line + self.block.chunk.first_line
            parts.append(part)
        table = np.concatenate(parts)
        return table[np.argsort(table["line"], kind="stable")]

    @property
    def air_levels(self) -> tuple[Ints, Floats]:
        """Lines within the file that switch a blower by M106 and M107, but for the studio's own commands.

        And the raw levels from there on, of several blowers the highest; both of shape (k,).
        """
        at, pin, level = self._fans
        before = {0: self.state.air, **dict(self.state.other_air)}
        highest = np.zeros(len(at))
        for number in sorted({*before, *pin.tolist()}):
            of = pin == number
            highest = np.maximum(highest, np.append(before.get(number, 0.0), level[of])[np.cumsum(of)])
        return self.m_line[at] + self.block.chunk.first_line, highest

    @property
    def numbered_air(self) -> tuple[Ints, Ints]:
        """Lines within the file that let one blow by M106 with a P that isn't the studio's, and that P."""
        at, pin, level = self._fans
        on = (pin > 0) & (level > 0)
        return self.m_line[at[on]] + self.block.chunk.first_line, pin[on]

    @property
    def studio_air_levels(self) -> tuple[Ints, Floats]:
        """The same of the commands by which the studio switches its blower, where they are others."""
        line, level = self._studio_lines
        return line + self.block.chunk.first_line, level

    @property
    def as_written(self) -> list[AsWritten]:
        """Each command of the studio's blower and auger as the file has it."""
        (at, level), (_, level_by_name) = self._studio_switched, self.named_air
        codes_at: list[int] = self.m[at].tolist()
        by_name = studio_air(self.machine.air).names(self.block)
        written = [*((code, "") for code in codes_at), *((0, name) for name in by_name)]
        blows = np.append(level, level_by_name) > 0
        stands = _air_as(blows).tolist()
        found = [AsWritten(*said, code) for said, code in zip(written, stands, strict=True)]
        return found if self.auger is None else found + self.auger.as_written(self.m)

    def blowing(self, line: int) -> Blowing:
        """What blows before a line of the block, by its own commands and those before."""
        at, pin, level = self._fans
        count = int(np.searchsorted(self.m_line[at], line))
        said = dict(zip(pin[:count].tolist(), level[:count].tolist(), strict=True))
        of = {0: self.state.air, **dict(self.state.other_air), **said}
        plain = of.pop(0)
        lines, level = self._studio_lines
        count = int(np.searchsorted(lines, line))
        studio = float(level[count - 1]) if count else self.state.studio_air
        return Blowing(plain, tuple(sorted(each for each in of.items() if each[1] > 0)), studio)

    @cached_property
    def _studio_switched(self) -> Switched:
        return studio_air(self.machine.air).switched(self.block, self.m_line, self.m)

    @cached_property
    def named_air(self) -> tuple[Ints, Floats]:
        """Lines within the block that switch the studio's blower by name, and the raw levels then."""
        return studio_air(self.machine.air).named(self.block)

    @cached_property
    def _studio_lines(self) -> tuple[Ints, Floats]:
        """Lines within the block that switch the studio's blower by code or name, and the raw levels."""
        at, level = self._studio_switched
        line, (named, named_level) = self.m_line[at], self.named_air
        return merged([(line, level), (named, named_level)]) if len(named) else (line, level)

    @cached_property
    def _fans(self) -> tuple[Ints, Ints, Floats]:
        """As `fans`; those of a P that the studio's `air` has are left out."""
        at, pin, level = fans(self.block, self.m_line, self.m)
        own = self._studio_switched.at
        others = (pin == 0) | ~among(at, own) if len(at) and len(own) else slice(None)
        return at[others], pin[others], level[others]

    @cached_property
    def auger(self) -> Pushing | None:
        """How the studio's auger runs through the block; None: the config names none."""
        if self.machine.auger is None:
            return None
        auger, g = studio_auger(self.machine.auger), (self.other_line, self.other)
        return auger.pushing(self.block, self.m_line, self.m, g, self.state)

    def _carried(self, after: MachineState) -> MachineState:
        """The state after the block, with what hangs on the config: blowers by a number, and the auger."""
        _, others, studio = self.blowing(self.block.lines)
        auger, runs, said = self.auger, self.state.auger_runs, self.state.auger_number
        if auger is not None and len(auger.line):
            runs, said = bool(auger.runs[-1]), float(auger.number[-1])
        now = (others, studio, runs, said)
        if now == (after.other_air, after.studio_air, after.auger_runs, after.auger_number):
            return after
        return replace(after, other_air=others, studio_air=studio, auger_runs=runs, auger_number=said)

    # -- moves ---------------------------------------------------------------------------------

    def _moves(self) -> Moves:
        count, way = len(self.move_line), self._way
        xy, length, direction = straight(way.start, way.end)
        moves = Moves(
            line=self.move_line, start=way.start, end=way.end, length_mm=length, xy=xy,
            path_mm=length, e_mm=_scaled(self.e_raw, self._on_moves(self._in_force("flow_factor"))),
            feed_mm_min=_scaled(self.raw_feed, self._on_moves(self._in_force("feed_factor"))),
            rapid=self.motion == 0,
            laying=np.zeros(count, np.bool_), entry=direction, exit=direction,
            radius_mm=np.full(count, np.nan), stop=np.zeros(count, np.bool_), wait_s=np.zeros(count),
        )  # fmt: skip
        if count and int(self.motion.max()) > 1:
            self._arcs(moves)
        moves.laying = self._laying(moves)
        alone = moves.path_mm == 0
        if alone.any():
            moves.length_mm = np.where(alone, np.abs(moves.e_mm), moves.path_mm)
        self._stops(moves)
        return moves

    def _laying(self, moves: Moves) -> NDArray[np.bool_]:
        if self._by_path:
            runs = self.auger is None or self.auger.on_lines(self.state, self.block.lines)
            return np.asarray(moves.xy & ~moves.rapid & self._on_moves(runs))
        laying = moves.xy & (moves.e_mm > 0)
        switched = self._in_force("laying")
        if switched is not False:
            laying |= moves.xy & ~moves.rapid & self._on_moves(switched)
        return np.asarray(laying)

    def _arcs(self, moves: Moves) -> None:
        motion, plane = self.motion, self.plane
        pick = np.flatnonzero(motion > 1)
        scale, line = self.scale_on_moves[pick], self.move_line[pick]
        offset = np.stack([numbers_on(self.block, line, letter) for letter in "IJK"]) * scale
        radius = numbers_on(self.block, line, "R") * scale
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
        _, before, seconds = self.standstills
        if len(before):
            total = np.zeros(count + 1)
            np.add.at(total, before, seconds)
            moves.wait_s, moves.tail_wait_s = total[:-1], float(total[-1])

    @cached_property
    def timed_stops(self) -> tuple[Ints, Floats]:
        """Lines within the block on which M0 or M1 says after how many seconds it goes on, and those; (k,).

        A line with another command is none: it can't be told whose P and S are.
        """
        line = self.m_line[_TIMED_M(self.m) > 0]
        if not len(line):
            return line, np.zeros(0)
        alone = np.bincount(self.m_line, minlength=self.block.lines)[line] == 1
        line = line[alone & ~among(line, self.other_line)]
        seconds = self._said_s(line)
        waiting = set(line.tolist())
        for odd in self.block.odd:
            if odd.kind == Odd.TEXT and odd.line in waiting:
                seconds[line == odd.line] = self._before_text_s(odd.line)
        return line[seconds > 0], seconds[seconds > 0]

    def _before_text_s(self, line: int) -> float:
        """The time that a waiting code says before its text."""
        behind = text_behind(self.block.line_bytes(line), self.block.chunk.first_line + line)
        return seconds_of(times_before_text(behind.decode("utf-8", "replace")), self.machine.dwell_p)

    @cached_property
    def standstills(self) -> tuple[Ints, Ints, Floats]:
        """Where it stands for a time by G4, M0 or M1; all of shape (k,).

        Lines within the block, ascending; how many of its moves come before; how long, s.
        """
        dwell, (stop, stop_s) = self.other_line[self.other == codes.DWELL], self.timed_stops
        line, seconds = merged([(dwell, self._dwell_s(dwell)), (stop, stop_s)])
        return line, self.before[line] + (self.is_move[line] & among(line, stop)), seconds

    def _after_move(self, line: Ints, code: Ints) -> NDArray[np.bool_]:
        """Whether each of these codes comes after a move on its own line (NIST section 3.8)."""
        return self.is_move[line] & (_AFTER_MOVE_M(code) > 0)

    def _dwell_s(self, line: Ints) -> Floats:
        """How long G4 dwells on these lines."""
        seconds = self._said_s(line)
        if (seconds < 0).any():
            text = "the dwell on this line is negative; fix or remove the line"
            fail(self.block, line[seconds < 0][0], text)
        return seconds

    def _said_s(self, line: Ints) -> Floats:
        """S is seconds; P is milliseconds or seconds as the config says; S wins."""
        p, s = (numbers_on(self.block, line, letter) for letter in "PS")
        p = p / 1000 if self.machine.dwell_p == "milliseconds" else p
        return np.asarray(np.where(np.isnan(s), np.nan_to_num(p), s))


def _air_as(blows: Flags) -> Ints:
    return np.where(blows, codes.AIR_ON, codes.AIR_OFF)


def _scaled(column: Floats, factor: Any) -> Floats:
    """The column times a factor, or a column of factors; the same column where that changes nothing."""
    return column if isinstance(factor, float) and factor == 1.0 else np.asarray(column * factor)
