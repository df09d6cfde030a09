"""Moves the piece: which X, Y, Z words of a block change for it to stand elsewhere, and where it then is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field

import numpy as np
from numpy.typing import NDArray

from gpost.common.records import record
from gpost.errors import PlanError
from gpost.motion import codes
from gpost.motion.follow import Follower
from gpost.motion.modes import on_lines
from gpost.plan.intentions import Shift
from gpost.write.decimals import decimals_of_words
from gpost.write.edits import Edits
from gpost.write.figures import SAME_MM, Raise
from gpost.write.scaling import Column, Stretches, Which, all_of, setters

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Ints = NDArray[np.int64]

LEAST_DECIMALS = 3
"""Decimals a shifted number is given at least, in mm; one more in inches."""


@record(slots=True)
class AxisShift:
    """One axis of the output against the source, line by line through a block."""

    ahead_mm: Column = field(default_factory=Column)
    """How far the nozzle is from where the source has it, as written."""
    kept_mm: Column = field(default_factory=Column)
    """What of that a G92 has put into the offset: the source's own numbers then mean the shifted place."""
    wanted_mm: Column = field(default_factory=Column)
    """How far ahead it was asked to be, without rounding."""

    def before(self, line: int) -> tuple[float, float]:
        """(ahead_mm, kept_mm) before a line within the block."""
        return self.ahead_mm.before(line), self.kept_mm.before(line)

    @property
    def last(self) -> tuple[float, float, float]:
        """(ahead_mm, kept_mm, wanted_mm) after the block."""
        return self.ahead_mm.last, self.kept_mm.last, self.wanted_mm.last


class Shifter:
    """Edits the axis words of one block after another, so that the piece stands shifted.

    Absolute words get the shift; in relative mode the first move of the range gets it, and the others follow
    by themselves. Homing takes it away, and the next move brings it back. Arc centres are relative to the
    arc's start and stay. No word is off by more than half a last place, and nothing adds up.
    """

    def __init__(self, shifts: Sequence[tuple[int, Shift]]) -> None:
        """`shifts`: (index of the plan entry, intention)."""
        self._shifts = Stretches([(index, shift) for index, shift in shifts if any(shift.by_mm)])
        self.axes: tuple[AxisShift, ...] = (AxisShift(), AxisShift(), AxisShift())
        self._asked_mm: Floats | None = np.zeros(3)
        """What was asked of the last move before the block; None: there was no move yet."""
        self._next_line = -1

    def wants(self, first_line: int, end_line: int) -> bool:
        """Whether the plan asks for position edits on these lines."""
        return len(self._shifts.on(first_line, end_line)) > 0

    def touches(self, first_line: int, end_line: int) -> bool:
        """Whether a block of these lines needs edits of positions."""
        carried = any(abs(mm) > SAME_MM for axis in self.axes for mm in axis.last)
        return carried or self.wants(first_line, end_line)

    def edit(self, follower: Follower, edits: Edits, edited: dict[int, int]) -> None:
        """Put the position edits of a block into `edits`; count edited lines by plan entry in `edited`.

        Raises PlanError where the shift would bend an arc, or leave clay in its old place.
        """
        changed = np.zeros(follower.block.lines, np.bool_)
        self.axes = tuple(self._axis(number, follower, edits, changed) for number in range(3))
        self._check(follower)
        lines = np.arange(len(changed))
        for index, shift in self._here(follower):
            count = int(np.count_nonzero(changed[_among(lines, shift, follower)]))
            if count:
                edited[index] = edited.get(index, 0) + count

    def _axis(self, number: int, follower: Follower, edits: Edits, changed: Flags) -> AxisShift:
        """One axis through the block, stretch by stretch between the codes that set or home it."""
        first = ahead, kept, wanted = self.axes[number].last
        here = [shift for _, shift in self._here(follower)]
        if not any(shift.by_mm[number] for shift in here) and first == (0.0, 0.0, 0.0):
            return AxisShift()
        words = _AxisWords(number, follower, here, edits)
        set_line, set_code = setters(follower, "XYZ"[number])
        states, begin = [], 0
        ends = [*zip(set_line.tolist(), set_code.tolist(), strict=True), (follower.block.lines, -1)]
        for at, code in ends:
            end = int(np.searchsorted(words.line, at))
            ahead, wanted = words.follow(slice(begin, end), ahead, kept, wanted)
            begin = end
            if code == codes.SET_REGISTER:
                kept = ahead
            elif code == codes.HOME:
                ahead = kept = wanted = 0.0
            elif code == codes.CLEAR_OFFSETS:
                kept = 0.0
            states.append((ahead, kept, wanted))
        changed[words.line[all_of(words.gained_mm != 0)]] = True
        after = np.array(states[:-1]).reshape(-1, 3)
        # on one line a code comes before the move (NIST RS274/NGC report, section 3.8)
        return AxisShift(
            Column.joined(first[0], (set_line, after[:, 0]), (words.line, words.ahead_mm)),
            Column(first[1], set_line, after[:, 1]),
            Column.joined(first[2], (set_line, after[:, 2]), (words.line, words.wanted_mm)),
        )

    def _here(self, follower: Follower) -> list[tuple[int, Shift]]:
        """The (index, shift) whose ranges reach into the block."""
        first_line = follower.block.chunk.first_line
        return self._shifts.on(first_line, first_line + follower.block.lines)

    def _check(self, follower: Follower) -> None:
        """All clay of a range is laid to its shifted place, from where its shift is known; no arc is bent."""
        chunk, moves = follower.block.chunk, follower.moves
        if chunk.first_line != self._next_line:
            self._asked_mm = np.zeros(3) if chunk.first_line else None
        self._next_line = chunk.first_line + chunk.lines
        if not len(moves):
            return
        wanted = [axis.wanted_mm for axis in self.axes]
        if self._stays(follower, wanted):
            return
        inside, asked = np.zeros(len(moves), np.bool_), np.zeros((3, len(moves)))
        for _, shift in self._here(follower):
            part = _among(moves.line, shift, follower)
            inside[part] = True
            asked[:, part] += np.array(shift.by_mm)[:, None]
        earlier = asked[:, 0] if self._asked_mm is None else self._asked_mm
        self._asked_mm = asked[:, -1]
        earlier = np.column_stack([earlier, asked[:, :-1]])
        before = np.stack([column.at(moves.line) for column in wanted])
        after = np.stack([column.at(moves.line + 1) for column in wanted])
        bent = (before != after) & ~np.isnan(moves.radius_mm)
        # a range that begins between two beads is meant; a start that no word has moved is not
        left = (after != asked) | ((before != asked) & (before != earlier))
        left &= moves.laying & (moves.e_mm > 0) & inside
        for wrong, text in ((bent, _BENT), (left, _LEFT)):
            if wrong.any():
                line = int(moves.line[wrong.any(axis=0)][0])
                raise PlanError(text.format(line=chunk.first_line + line + 1))

    def _stays(self, follower: Follower, wanted: Sequence[Column]) -> bool:
        """Whether one shift holds from before the block to its end: then nothing can be wrong."""
        first, end = follower.block.chunk.first_line, self._next_line
        here = [shift for _, shift in self._here(follower)]
        if self._asked_mm is None or any(shift.first_line > first or shift.end_line < end for shift in here):
            return False
        asked = np.sum([shift.by_mm for shift in here], axis=0) if here else np.zeros(3)
        pairs = zip(wanted, asked.tolist(), self._asked_mm.tolist(), strict=True)
        return all(mm == before and column.is_always(mm) for column, mm, before in pairs)


_BENT = (
    "the piece can't be moved: the arc on line {line} would start in one place and end in another that "
    "is not moved alike, and be bent; put a straight move before it that names X, Y and Z"
)
_LEFT = (
    "the piece can't be moved: on line {line} clay is laid before the nozzle has gone to its new place; put "
    "a move without clay before it that names X, Y and Z"
)


class _AxisWords:
    """The words of one axis that move it in a block, and what becomes of them; arrays of shape (k,)."""

    def __init__(self, number: int, follower: Follower, shifts: Sequence[Shift], edits: Edits) -> None:
        """`number`: 0 to 2 for X to Z; `shifts`: those that reach in; `edits` take the new numbers."""
        letter = "XYZ"[number]
        line, value = follower.block.said(letter)
        moving = all_of(follower.is_move[line])
        self._edits = edits
        self.line = line[moving]
        self._index = follower.block.of(letter)[moving]
        self._value = value[moving]
        count = len(self.line)
        self._scale = on_lines(follower.scale, self.line)
        self._relative = on_lines(follower.relative, self.line)
        here = [
            shift for shift in shifts if shift.by_mm[number]
        ]  # another asks nothing, and takes nothing back
        self.target_mm, self.inside = self._asked(here, number, follower)
        self.ahead_mm, self.wanted_mm, self.gained_mm = np.empty(count), np.empty(count), np.zeros(count)

    def _asked(self, shifts: Sequence[Shift], number: int, follower: Follower) -> tuple[Floats, Flags]:
        """(where each word is to be, mm from where it is; whether a shift asks for it)."""
        count, parts = len(self.line), [_among(self.line, shift, follower) for shift in shifts]
        by_mm = [shift.by_mm[number] for shift in shifts]
        if all(part == slice(0, count) for part in parts):  # most often: no column is needed then
            return np.broadcast_to(sum(by_mm, 0.0), count), np.broadcast_to(len(parts) > 0, count)
        target_mm, inside = np.zeros(count), np.zeros(count, np.bool_)
        for part, mm in zip(parts, by_mm, strict=True):
            target_mm[part] += mm
            inside[part] = True
        return target_mm, inside

    def follow(self, part: slice, ahead: float, kept: float, wanted: float) -> tuple[float, float]:
        """Decide on the words of a stretch in which no code sets the axis; (ahead, wanted) after it."""
        if part.start == part.stop:
            return ahead, wanted
        relative = self._relative[part]
        if not relative.any():
            self.wanted_mm[part] = self.target_mm[part]
            self.ahead_mm[part] = kept + self._rewrite(part, self.target_mm[part] - kept)
            return float(self.ahead_mm[part.stop - 1]), float(self.wanted_mm[part.stop - 1])
        asked = _filled(self.target_mm[part], ~relative | self.inside[part], wanted)
        self.wanted_mm[part] = asked
        absolute = all_of(~relative, part.start)
        self.ahead_mm[absolute] = kept + self._rewrite(absolute, self.target_mm[absolute] - kept)
        # a relative word counts only where another place is asked for than before
        steps = relative & (asked != np.append(wanted, asked[:-1]))
        self._step(part, steps, ahead)
        self.ahead_mm[part] = _filled(self.ahead_mm[part], ~relative | steps, ahead)
        return float(self.ahead_mm[part.stop - 1]), float(asked[-1])

    def _step(self, part: slice, steps: Flags, ahead: float) -> None:
        """Let each relative word that steps to another place make up for all that is missing; few do."""
        says = ~self._relative[part] | steps
        for word in np.flatnonzero(steps).tolist():
            said = np.flatnonzero(says[:word])
            so_far = float(self.ahead_mm[part.start + said[-1]]) if len(said) else ahead
            which = np.array([part.start + word])
            self.ahead_mm[which] = so_far + self._rewrite(which, self.target_mm[which] - so_far)

    def _rewrite(self, which: Which, by_mm: Floats) -> Floats:
        """Let words gain so much; what they gain once they are rounded, mm."""
        index = self._index[which]
        decimals = decimals_of_words(self._edits.block, index)
        asked = Raise(index, self._value[which], by_mm, self._scale[which], decimals, LEAST_DECIMALS)
        self.gained_mm[which] = gained_mm = self._edits.raised(asked)
        return gained_mm


def _filled(values: Floats, says: Flags, before: float) -> Floats:
    """values[k] where k says something, and else what was said last; `before` at first."""
    if says.all():
        return values
    place = np.maximum.accumulate(np.where(says, np.arange(len(says)), -1))
    return np.where(place < 0, before, values[place])


def _among(lines: Ints, shift: Shift, follower: Follower) -> slice:
    """Those of some ascending lines within the block that lie in the range of a shift."""
    first_line = follower.block.chunk.first_line
    ends = (shift.first_line - first_line, shift.end_line - first_line)
    return slice(*np.searchsorted(lines, ends).tolist())
