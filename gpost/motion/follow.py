"""Follows the machine through a block: modal state in, moves and modal state out."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from gpost.config.model import Machine, Metering
from gpost.errors import SourceError
from gpost.motion import arcs, codes
from gpost.motion.events import running, spread
from gpost.motion.moves import Moves
from gpost.motion.state import MachineState
from gpost.read.block import Block

Floats = NDArray[np.float64]
Lines = NDArray[np.int64]
COMMAND_DTYPE = np.dtype([("letter", "S1"), ("code_x10", "i4"), ("line", "i8")])


class Follower:
    """One pass of the machine over one block. Build it, then read `moves`, `commands` and `end`.

    Raises SourceError for what can't be followed or is no legal line.
    """

    def __init__(self, block: Block, state: MachineState, machine: Machine, metering: Metering) -> None:
        self.block, self.state, self.machine = block, state, machine
        self.by_path = metering.unit == "path"
        self.lines = block.lines
        self._read_codes()
        self._find_moves()
        self._modes()
        self._registers()
        self.moves = self._moves()
        self.end = self._end_state()

    # -- codes ---------------------------------------------------------------------------------

    def _code_words(self, letter: str) -> tuple[Lines, NDArray[np.int64]]:
        sel = self.block.of(letter)
        line = self.block.words.line[sel].astype(np.int64)
        value = self.block.words.value[sel]
        if not len(sel):
            return line, np.zeros(0, np.int64)
        if np.isnan(value).any():
            self._fail(line[np.isnan(value)][0], f"the {letter} on this line has no number")
        code = np.rint(value * 10).astype(np.int64)
        return line, code

    def _read_codes(self) -> None:
        self.g_line, self.g = self._code_words("G")
        self.m_line, self.m = self._code_words("M")
        t = self.block.of("T")
        self.t_line = self.block.words.line[t].astype(np.int64)
        plain = (self.g >= 0) & (self.g <= 30) & (self.g % 10 == 0)
        self.motion_line, self.motion_code = self.g_line[plain], self.g[plain]
        self.other_line, self.other = self.g_line[~plain], self.g[~plain]
        if len(self.motion_line) > 1 and (np.diff(self.motion_line) == 0).any():
            self._refuse_conflicts()
        if len(self.other):
            self._check_codes()

    def _check_codes(self) -> None:
        unique = np.unique(self.other)
        for code in unique[np.isin(unique, list(codes.REFUSED_G))].tolist():
            line = self.other_line[self.other == code][0]
            self._fail(line, f"G{code / 10:g} asks for {codes.REFUSED_G[code]}; gpost can't follow it safely")
        if len(self.g_line) > 1 and (np.diff(self.g_line) == 0).any():
            self._refuse_conflicts()

    def _refuse_conflicts(self) -> None:
        """Two codes of one modal group on a line (NIST R12) have no defined meaning."""
        group = np.array([codes.MODAL_GROUPS.get(int(c), -int(c) - 1) for c in self.g])
        key = self.g_line * 100_000 + group
        order = np.sort(key[group > 0])
        same = np.flatnonzero(np.diff(order) == 0)
        if len(same):
            self._fail(order[same[0]] // 100_000, "two codes of one kind stand on this line (such as G0 G1)")

    def _fail(self, line: int, text: str) -> None:
        raise SourceError(text, line=self.block.chunk.first_line + int(line))

    # -- which lines move ----------------------------------------------------------------------

    def _find_moves(self) -> None:
        """A line moves if it has G0-G3 and somewhere to go, or axis words and nothing that claims them."""
        block = self.block
        self.axis = {a: self._axis_words(a) for a in "XYZE"}
        goes = np.zeros(self.lines, np.bool_)
        for line, _ in self.axis.values():
            goes[line] = True
        claimed = np.zeros(self.lines, np.bool_)
        claimed[self.m_line] = True
        claimed[self.t_line] = True
        if len(self.other):
            suspends = ~np.isin(self.other, _MODAL_ONLY)
            claimed[self.other_line[suspends]] = True
        explicit = np.zeros(self.lines, np.bool_)
        explicit[self.motion_line] = True
        if len(self.other):
            self._refuse_double_claims(explicit, goes)
        for letter in "IJKR":
            if block.counts[ord(letter)]:
                goes[block.words.line[block.of(letter)]] = True
        claimed &= ~explicit
        self.claimed = claimed
        self.is_move = goes & ~claimed
        self.move_line = np.flatnonzero(self.is_move)
        self.before = np.cumsum(self.is_move)
        self.before -= self.is_move
        self._check_numbers()

    def _axis_words(self, letter: str) -> tuple[Lines, Floats]:
        sel = self.block.of(letter)
        line = self.block.words.line[sel].astype(np.int64)
        return line, self.block.words.value[sel]

    def _refuse_double_claims(self, explicit: NDArray[np.bool_], goes: NDArray[np.bool_]) -> None:
        """G0-G3 together with a code that uses axis words itself (NIST section 3.4) is an error."""
        uses = self.other_line[np.isin(self.other, [codes.SET_REGISTER, codes.HOME, codes.PROBE])]
        both = uses[explicit[uses]]
        if len(both):
            self._fail(both[0], "a move and a code that uses the axis words itself stand on one line")
        unknown = self.other_line[~np.isin(self.other, list(codes.KNOWN_G))]
        moving = unknown[goes[unknown]]
        if len(moving):
            code = self.other[self.other_line == moving[0]][0]
            self._fail(moving[0], f"gpost does not know G{code / 10:g}, and it has axis words: it may move")

    def _check_numbers(self) -> None:
        """Axis words on moves have a number and stand once."""
        for letter, (line, value) in self.axis.items():
            if not len(line):
                continue
            missing = np.isnan(value)
            if missing.any():
                bad = line[missing]
                bad = bad[self.is_move[bad]]
                if len(bad):
                    self._fail(bad[0], f"the {letter} of this move has no number")
            twice = np.flatnonzero(line[1:] == line[:-1])
            twice = twice[self.is_move[line[twice]]]
            if len(twice):
                self._fail(line[twice[0]], f"two {letter} words stand on this line")

    # -- modes ---------------------------------------------------------------------------------

    def _modal(self, line: Lines, values: NDArray, initial: float) -> NDArray | float:  # type: ignore[type-arg]
        """The value in force on each line, or a scalar where it never changes in this block."""
        if not len(line) or (values == initial).all():
            return initial
        return spread(line, values, initial, self.lines)

    def _modes(self) -> None:
        state = self.state
        g_line, g = self.other_line, self.other
        pick = np.isin(g, list(codes.UNITS))
        scale = np.where(g[pick] == 200, 25.4, 1.0)
        self.scale = self._modal(g_line[pick], scale, state.scale)
        before_line = spread(g_line[pick] + 1, scale, state.scale, self.lines + 1)[:-1] if pick.any() else None
        self.feed_scale = before_line if isinstance(self.scale, np.ndarray) else self.scale
        pick = np.isin(g, list(codes.DISTANCE))
        d_line, relative = g_line[pick], g[pick] == 910
        self.relative = self._modal(d_line, relative, state.relative)
        self._e_mode(d_line, relative)
        pick = np.isin(g, list(codes.PLANES))
        planes = np.array([codes.PLANES[int(c)] for c in g[pick]], np.int64)
        self.plane = self._modal(g_line[pick], planes, state.plane)
        mode_line = self.motion_line
        if len(mode_line) == len(self.move_line) and (mode_line == self.move_line).all():
            self.mode = self.motion_code // 10
        else:
            self.mode = spread(self.before[mode_line], self.motion_code // 10, state.motion, len(self.move_line))
        self.end_motion = int(self.motion_code[-1]) // 10 if len(mode_line) else state.motion
        self._factors()

    def _e_mode(self, d_line: Lines, relative: NDArray[np.bool_]) -> None:
        pick = (self.m == codes.EXTRUDE_ABSOLUTE) | (self.m == codes.EXTRUDE_RELATIVE)
        line, value = self.m_line[pick], self.m[pick] == codes.EXTRUDE_RELATIVE
        if self.machine.axis_mode_sets_e and len(d_line):
            # on one line M82/M83 wins: it is said of E alone
            order = np.argsort(np.concatenate([d_line * 2, line * 2 + 1]), kind="stable")
            line = np.concatenate([d_line, line])[order]
            value = np.concatenate([relative, value])[order]
        self.e_relative = self._modal(line, value, self.state.e_relative)

    def _factors(self) -> None:
        """M220/M221 (percent), M106/M107, M101/M103 and the tool: rare, so event by event."""
        state = self.state
        self.feed_factor: Floats | float = state.feed_factor
        self.flow_factor: Floats | float = state.flow_factor
        self.laying: NDArray[np.bool_] | bool = state.laying
        self.end_air, self.end_tool, self.end_relief = state.air, state.tool, state.pressure_relief
        interesting = np.isin(self.m, _STATE_M)
        if interesting.any():
            s_of = self._numbers_on(self.m_line[interesting], "S")
            code, line = self.m[interesting], self.m_line[interesting]
            self.feed_factor = self._percent(code, line, s_of, codes.FEED_FACTOR, state.feed_factor)
            self.flow_factor = self._percent(code, line, s_of, codes.FLOW_FACTOR, state.flow_factor)
            pick = np.isin(code, [codes.CLAY_ON, codes.CLAY_OFF, codes.CLAY_ON_REVERSE])
            self.laying = self._modal(line[pick], code[pick] == codes.CLAY_ON, state.laying)
            air = np.flatnonzero((code == codes.AIR_ON) | (code == codes.AIR_OFF))
            if len(air):
                last = air[-1]
                level = 255.0 if math.isnan(s_of[last]) else float(s_of[last])
                self.end_air = level if code[last] == codes.AIR_ON else 0.0
        tools = self.block.words.value[self.block.of("T")]
        if len(tools):
            self.end_tool = int(tools[-1]) if not math.isnan(tools[-1]) else state.tool
        self.end_relief += int(np.count_nonzero(self.other == codes.RELIEVE))
        self.end_relief -= int(np.count_nonzero(self.other == codes.UNRELIEVE))

    def _percent(
        self, code: NDArray[np.int64], line: Lines, s_of: Floats, which: int, initial: float
    ) -> Floats | float:
        pick = (code == which) & ~np.isnan(s_of)
        column = self._modal(line[pick], s_of[pick] / 100, initial)
        return column if isinstance(column, float) else np.asarray(column)

    def _numbers_on(self, line: Lines, letter: str) -> Floats:
        """The value of a letter on each of some lines, NaN where it does not stand there."""
        column = np.full(self.lines, np.nan)
        sel = self.block.of(letter)
        column[self.block.words.line[sel]] = self.block.words.value[sel]
        return column[line]

    # -- registers -----------------------------------------------------------------------------

    def _registers(self) -> None:
        """Positions and E for every move, from events: absolute words, relative words, G92, G28."""
        special = np.isin(self.other, [codes.SET_REGISTER, codes.HOME, codes.CLEAR_OFFSETS])
        self.special = dict(zip(self.other_line[special].tolist(), self.other[special].tolist(), strict=True))
        count = len(self.move_line)
        self.points = np.empty((3, count + 1))
        self.end_register, self.end_offset = list(self.state.register), list(self.state.offset)
        self.end_known = list(self.state.known)
        self.e_raw = np.zeros(count)
        for index, letter in enumerate("XYZ"):
            self._axis(index, letter)
        self._e_axis()

    def _events(self, letter: str, index: int) -> tuple[Lines, Floats, NDArray[np.int64]]:
        """(line, value in mm, kind) of all that happens to an axis; kind 0 a move's word, else a code."""
        line, value = self.axis[letter]
        scale = self.scale[line] if isinstance(self.scale, np.ndarray) else self.scale
        value = value * scale if not (isinstance(scale, float) and scale == 1.0) else value
        kind = np.zeros(len(line), np.int64)
        if not self.claimed.any() or not self.claimed[line].any():
            if not self.special:
                return line, value, kind
        stays = self.is_move[line]
        line, value, kind = line[stays], value[stays], kind[stays]
        extra = [e for e in self._special_events(letter, index)]
        if not extra:
            return line, value, kind
        line = np.concatenate([line, np.array([e[0] for e in extra], np.int64)])
        value = np.concatenate([value, np.array([e[1] for e in extra], np.float64)])
        kind = np.concatenate([kind, np.array([e[2] for e in extra], np.int64)])
        order = np.argsort(line, kind="stable")
        return line[order], value[order], kind[order]

    def _special_events(self, letter: str, index: int) -> list[tuple[int, float, int]]:
        """What G92, G28 and G92.1 do to one axis."""
        words = dict(zip(*(a.tolist() for a in self.axis[letter]), strict=True))
        home = (self.machine.home.x_mm, self.machine.home.y_mm, self.machine.home.z_mm, 0.0)
        found = []
        for line, code in self.special.items():
            alone = not any(self._stands_on(a, line) for a in "XYZE")
            if code == codes.SET_REGISTER:
                if line in words:
                    if math.isnan(words[line]):
                        self._fail(line, f"the {letter} of this G92 has no number")
                    scale = self.scale[line] if isinstance(self.scale, np.ndarray) else self.scale
                    found.append((line, words[line] * scale, code))
                elif alone:
                    found.append((line, 0.0, code))
            elif code == codes.HOME and index < 3 and (line in words or alone):
                found.append((line, home[index], code))
            elif code == codes.CLEAR_OFFSETS and index < 3:
                found.append((line, 0.0, code))
        return found

    def _stands_on(self, letter: str, line: int) -> bool:
        lines = self.axis[letter][0]
        place = int(np.searchsorted(lines, line))
        return place < len(lines) and int(lines[place]) == line

    def _is_set(self, line: Lines, relative: NDArray[np.bool_] | bool) -> NDArray[np.bool_] | bool:
        if isinstance(relative, np.ndarray):
            return np.asarray(~relative[line])
        return not relative

    def _axis(self, index: int, letter: str) -> None:
        line, value, kind = self._events(letter, index)
        register0, offset0 = self.state.register[index], self.state.offset[index]
        column = self.points[index]
        column[0] = register0 + offset0
        if not len(line):
            column[1:] = column[0]
            return
        is_set = self._is_set(line, self.relative)
        offset: Floats | float = offset0
        if kind.any():
            register, offset = self._with_codes(value, kind, is_set, register0, offset0)
            self.end_offset[index] = float(offset[-1])
        else:
            register = running(value, is_set, register0)
        self.end_register[index] = float(register[-1])
        if (kind != 0).any() or is_set is True or (isinstance(is_set, np.ndarray) and is_set.any()):
            self.end_known[index] = True
        machine = register + offset if not (isinstance(offset, float) and offset == 0.0) else register
        if len(line) == len(self.move_line) and not kind.any():
            column[1:] = machine
        else:
            column[1:] = spread(self.before[line], machine, column[0], len(self.move_line))

    def _with_codes(
        self,
        value: Floats,
        kind: NDArray[np.int64],
        is_set: NDArray[np.bool_] | bool,
        register0: float,
        offset0: float,
    ) -> tuple[Floats, Floats]:
        """Register and offset after each event where G92, G28 or G92.1 are among them.

        G92: offset = machine position - new register (NIST section 3.5.18). Homing clears the offset.
        Clearing the offsets makes the register read the machine position.
        """
        set_mask = np.full(len(value), is_set) if isinstance(is_set, bool) else is_set.copy()
        set_mask |= kind != 0
        register = value.copy()
        offset = np.empty(len(value))
        here, shift, begin = register0, offset0, 0
        for at in np.append(np.flatnonzero(kind), len(value)).tolist():
            part = running(value[begin:at], set_mask[begin:at], here)
            register[begin:at], offset[begin:at] = part, shift
            here = float(part[-1]) if len(part) else here
            if at == len(value):
                break
            here, shift = _apply_code(int(kind[at]), float(value[at]), here, shift)
            register[at], offset[at], begin = here, shift, at + 1
        return register, offset

    def _e_axis(self) -> None:
        line, value, kind = self._events("E", 3)
        if not len(line):
            return
        is_set = self._is_set(line, self.e_relative)
        register0 = self.state.register[3]
        if kind.any():
            is_set = np.full(len(line), is_set) if isinstance(is_set, bool) else is_set
            is_set = is_set | (kind != 0)
        register = running(value, is_set, register0)
        delta = np.diff(register, prepend=register0) if is_set is not False else value.copy()
        if isinstance(is_set, np.ndarray):
            delta = np.where(is_set, delta, value)
            delta[kind != 0] = 0.0
        self.end_register[3] = float(register[-1])
        moving = kind == 0
        self.e_raw[self.before[line[moving]]] = delta[moving]

    # -- moves ---------------------------------------------------------------------------------

    def _on_moves(self, column: NDArray | float) -> NDArray | float:  # type: ignore[type-arg]
        return column[self.move_line] if isinstance(column, np.ndarray) else column

    def _feeds(self) -> tuple[Floats, float]:
        sel = self.block.of("F")
        line = self.block.words.line[sel].astype(np.int64)
        value = self.block.words.value[sel]
        counts = ~self.claimed[line]
        line, value = line[counts], value[counts]
        wrong = np.isnan(value) | (value < 0)
        if wrong.any():
            self._fail(line[wrong][0], "the feed F on this line is no positive number")
        if isinstance(self.feed_scale, np.ndarray):
            value = value * self.feed_scale[line]
        elif self.feed_scale is not None and self.feed_scale != 1.0:
            value = value * self.feed_scale
        feed = spread(self.before[line], value, self.state.feed_mm_min, len(self.move_line))
        return feed, float(value[-1]) if len(value) else self.state.feed_mm_min

    def _moves(self) -> Moves:
        count = len(self.move_line)
        delta = self.points[:, 1:] - self.points[:, :-1]
        square = delta * delta
        flat = square[0]
        flat += square[1]
        xy = flat > 1e-18
        flat += square[2]
        length = np.sqrt(flat)
        e_mm = self.e_raw * self._on_moves(self.flow_factor)
        feed, self.end_feed = self._feeds()
        direction = delta
        direction /= np.maximum(length, 1e-300)
        moves = Moves(
            line=self.move_line, points=self.points, length_mm=length, xy=xy, e_mm=e_mm,
            feed_mm_min=feed * self._on_moves(self.feed_factor), rapid=self.mode == 0,
            laying=np.zeros(count, np.bool_), entry=direction, exit=direction,
            radius_mm=np.full(count, np.nan), stop=np.zeros(count, np.bool_), wait_s=np.zeros(count),
        )  # fmt: skip
        if count and int(self.mode.max()) > 1:
            self._arcs(moves)
        moves.laying = self._laying(moves)
        alone = (moves.length_mm == 0) & (e_mm != 0)
        if alone.any():
            moves.length_mm = np.where(alone, np.abs(e_mm), moves.length_mm)
        self._stops(moves)
        return moves

    def _laying(self, moves: Moves) -> NDArray[np.bool_]:
        laying = moves.xy & (moves.e_mm > 0)
        if self.by_path:
            return moves.xy & ~moves.rapid
        on = self._on_moves(self.laying)
        if on is not False:
            laying |= moves.xy & ~moves.rapid & on
        return laying

    def _arcs(self, moves: Moves) -> None:
        pick = np.flatnonzero(self.mode > 1)
        plane = np.broadcast_to(np.asarray(self._on_moves(self.plane)), len(self.move_line))
        line = self.move_line[pick]
        scale = self.scale[line] if isinstance(self.scale, np.ndarray) else self.scale
        offset = np.stack([self._numbers_on(line, letter) for letter in "IJK"]) * scale
        radius = self._numbers_on(line, "R") * scale
        moves.exit = moves.entry.copy()
        for which in np.unique(plane[pick]).tolist():
            some = plane[pick] == which
            at = pick[some]
            arc = arcs.measure(
                moves.points[:, at], moves.points[:, at + 1], offset[:, some], radius[some],
                self.mode[at] == 2, plane=int(which), tolerance_mm=self.machine.arc_tolerance_mm,
                lines=self.block.chunk.first_line + self.move_line[at],
            )  # fmt: skip
            moves.length_mm[at], moves.radius_mm[at] = arc.length_mm, arc.radius_mm
            moves.entry[:, at], moves.exit[:, at] = arc.entry, arc.exit
            moves.xy[at] = True

    def _stops(self, moves: Moves) -> None:
        """Where the machine stands still, and for how long it dwells there."""
        line = np.concatenate(
            [
                self.m_line[np.isin(self.m, list(codes.STOPPING_M))],
                self.t_line,
                self.other_line[np.isin(self.other, [codes.DWELL, codes.HOME, codes.PROBE])],
            ]
        )
        if not len(line):
            return
        count = len(moves)
        at = self.before[line]
        moves.stop[at[at < count]] = True
        moves.tail_stop = bool((at == count).any())
        dwell = self.other_line[self.other == codes.DWELL]
        if len(dwell):
            seconds = self._dwell_s(dwell)
            total = np.zeros(count + 1)
            np.add.at(total, self.before[dwell], seconds)
            moves.wait_s, moves.tail_wait_s = total[:-1], float(total[-1])

    def _dwell_s(self, line: Lines) -> Floats:
        """G4: S is seconds; P is milliseconds or seconds as the config says; S wins."""
        p, s = self._numbers_on(line, "P"), self._numbers_on(line, "S")
        p = p / 1000 if self.machine.dwell_p == "milliseconds" else p
        seconds = np.where(np.isnan(s), np.nan_to_num(p), s)
        if (seconds < 0).any():
            self._fail(line[seconds < 0][0], "the dwell on this line is negative")
        return seconds

    # -- results -------------------------------------------------------------------------------

    @property
    def commands(self) -> NDArray[np.void]:
        """Every code that is no plain move, with its line within the file; COMMAND_DTYPE."""
        count = len(self.other) + len(self.m) + len(self.t_line)
        table = np.zeros(count, COMMAND_DTYPE)
        table["letter"] = np.repeat([b"G", b"M", b"T"], [len(self.other), len(self.m), len(self.t_line)])
        tools = np.nan_to_num(self.block.words.value[self.block.of("T")])
        table["code_x10"] = np.concatenate([self.other, self.m, (tools * 10).astype(np.int64)])
        line = np.concatenate([self.other_line, self.m_line, self.t_line])
        table["line"] = line + self.block.chunk.first_line
        return table[np.argsort(line, kind="stable")]

    def _end_state(self) -> MachineState:
        def last(column: object) -> object:
            return column[-1] if isinstance(column, np.ndarray) else column

        return replace(
            self.state,
            register=tuple(self.end_register),
            offset=tuple(self.end_offset),
            known=tuple(self.end_known),
            scale=float(last(self.scale)),  # type: ignore[arg-type]
            relative=bool(last(self.relative)),
            e_relative=bool(last(self.e_relative)),
            motion=self.end_motion,
            plane=int(last(self.plane)),  # type: ignore[call-overload]
            feed_mm_min=self.end_feed,
            feed_factor=float(last(self.feed_factor)),  # type: ignore[arg-type]
            flow_factor=float(last(self.flow_factor)),  # type: ignore[arg-type]
            air=self.end_air,
            tool=self.end_tool,
            laying=bool(last(self.laying)),
            pressure_relief=self.end_relief,
        )


_MODAL_ONLY = np.array(
    sorted(
        set(codes.UNITS) | set(codes.DISTANCE) | set(codes.PLANES) | codes.HARMLESS_G
    )
)
"""Codes that may share a line with an implicit move (NIST section 3.3.7)."""

_STATE_M = np.array(
    [
        codes.FEED_FACTOR, codes.FLOW_FACTOR, codes.AIR_ON, codes.AIR_OFF,
        codes.CLAY_ON, codes.CLAY_ON_REVERSE, codes.CLAY_OFF,
    ]
)  # fmt: skip


def _apply_code(code: int, value: float, register: float, offset: float) -> tuple[float, float]:
    if code == codes.SET_REGISTER:
        return value, register + offset - value
    if code == codes.HOME:
        return value, 0.0
    return register + offset, 0.0
