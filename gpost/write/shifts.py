"""Moves the piece: which X, Y, Z words of a block change so that it stands elsewhere, and where it then is."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from gpost.errors import PlanError
from gpost.motion import codes
from gpost.motion.follow import Follower
from gpost.plan.intentions import Shift
from gpost.read.block import Block
from gpost.write.decimals import decimals_of_words
from gpost.write.edits import Edits
from gpost.write.figures import rounded

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEAST_DECIMALS = 3
"""Decimals a shifted number is given at least, in mm; one more in inches."""


@dataclass(slots=True)
class AxisShift:
    """One axis of the output against the source, event by event through a block.

    `ahead_mm` is how far the nozzle is from where the source has it; `kept_mm` is what of that a G92 has put
    into the offset, so that words say the source's numbers and still mean the shifted place.
    """

    ahead_mm: float = 0.0
    kept_mm: float = 0.0
    _line: list[int] = field(default_factory=list)
    _state: list[tuple[float, float]] = field(default_factory=list)
    _initial: tuple[float, float] = (0.0, 0.0)

    def begin(self) -> None:
        """Forget the block before."""
        self._line, self._state, self._initial = [], [], (self.ahead_mm, self.kept_mm)

    def note(self, line: int) -> None:
        """Remember the present state as that from the line after this one on."""
        self._line.append(line)
        self._state.append((self.ahead_mm, self.kept_mm))

    def before(self, line: int) -> tuple[float, float]:
        """(ahead_mm, kept_mm) before a line within the block."""
        place = bisect_left(self._line, line)
        return self._state[place - 1] if place else self._initial


class Shifter:
    """Edits the axis words of one block after another, so that the piece stands shifted.

    Absolute words get the shift; in relative mode the first move of the range gets it, and the others follow
    by themselves. Homing takes it away, and the next move brings it back. Arc centres are relative to the
    arc's start and stay.
    """

    def __init__(self, shifts: Sequence[tuple[int, Shift]]) -> None:
        """`shifts`: (index of the plan entry, wish)."""
        self._shifts = list(shifts)
        self.axes = (AxisShift(), AxisShift(), AxisShift())

    def touches(self, first_line: int, end_line: int) -> bool:
        """Whether a block of these lines needs edits of positions."""
        if any(axis.ahead_mm or axis.kept_mm for axis in self.axes):
            return True
        return any(s.first_line < end_line and s.end_line > first_line for _, s in self._shifts)

    def edit(self, block: Block, follower: Follower, edits: Edits, edited: dict[int, int]) -> None:
        """Put the position edits of this block into `edits`; count edited words by plan entry."""
        for number, letter in enumerate("XYZ"):
            self.axes[number].begin()
            lines, _ = follower.axis[letter]
            moving = np.flatnonzero(follower.is_move[lines])
            index, line = block.of(letter)[moving], lines[moving]
            self._axis(number, index, line, follower, edits)
        self._refuse_bent_arcs(follower, block)
        for index_of_wish, wish in self._shifts:
            first = max(wish.first_line - block.chunk.first_line, 0)
            end = wish.end_line - block.chunk.first_line
            count = int(np.count_nonzero((follower.move_line >= first) & (follower.move_line < end)))
            edited[index_of_wish] = edited.get(index_of_wish, 0) + count

    def _axis(self, number: int, index: Ints, line: Ints, follower: Follower, edits: Edits) -> None:
        """One axis through the block, stretch by stretch between the codes that set or home it."""
        axis, begin = self.axes[number], 0
        added = np.zeros(len(line))
        relative = _on(line, follower.relative)
        target = self._target(number, line + follower.block.chunk.first_line)
        inside = self._inside(number, line + follower.block.chunk.first_line)
        for at_line, code in [*_codes(follower, "XYZ"[number]), (follower.block.lines, -1)]:
            end = int(np.searchsorted(line, at_line))
            part = slice(begin, end)
            added[part] = self._stretch(axis, target[part], inside[part], relative[part], line[part])
            begin = end
            if code == codes.SET_REGISTER:
                axis.kept_mm = axis.ahead_mm
            elif code == codes.HOME:
                axis.ahead_mm = axis.kept_mm = 0.0
            elif code == codes.CLEAR_OFFSETS:
                axis.kept_mm = 0.0
            if code >= 0:
                axis.note(at_line)
        self._write(index, line, added, follower, edits)

    def _stretch(self, axis: AxisShift, target: Floats, inside: NDArray[np.bool_], relative: Floats, line: Ints) -> Floats:
        """What each word of a stretch without codes gains, mm; follows how far ahead the axis is."""
        if not len(line):
            return np.zeros(0)
        sets = ~relative | inside
        place = np.maximum.accumulate(np.where(sets, np.arange(len(line)), -1))
        ahead = np.where(place < 0, axis.ahead_mm, target[place])
        before = np.concatenate([[axis.ahead_mm], ahead[:-1]])
        for at in np.flatnonzero(ahead != before).tolist():
            axis.ahead_mm = float(ahead[at])
            axis.note(int(line[at]))
        return np.where(relative, ahead - before, target - axis.kept_mm)

    def _target(self, number: int, line: Ints) -> Floats:
        """Shift wanted on each line, mm."""
        total = np.zeros(len(line))
        for _, wish in self._shifts:
            total[(line >= wish.first_line) & (line < wish.end_line)] += wish.by_mm[number]
        return total

    def _inside(self, number: int, line: Ints) -> NDArray[np.bool_]:
        inside = np.zeros(len(line), np.bool_)
        for _, wish in self._shifts:
            if wish.by_mm[number]:
                inside |= (line >= wish.first_line) & (line < wish.end_line)
        return inside

    def _write(self, index: Ints, line: Ints, added: Floats, follower: Follower, edits: Edits) -> None:
        changed = np.flatnonzero(np.abs(added) > 1e-12)
        if not len(changed):
            return
        index, scale = index[changed], _on(line[changed], follower.scale)
        least = np.where(scale == 1.0, LEAST_DECIMALS, LEAST_DECIMALS + 1)
        decimals = np.maximum(decimals_of_words(follower.block, index), least)
        value = follower.block.words.value[index] + added[changed] / scale
        edits.many(index, rounded(value, decimals), decimals)

    def _refuse_bent_arcs(self, follower: Follower, block: Block) -> None:
        """An arc whose start is shifted otherwise than its end would be another arc."""
        bent = np.flatnonzero(~np.isnan(follower.moves.radius_mm))
        for axis in self.axes:
            for line in axis._line:
                if np.isin(follower.moves.line[bent], line).any():
                    raise PlanError(
                        f"the shift would begin or end in the arc on line {block.chunk.first_line + line + 1}; "
                        "the piece must begin and end with a straight move"
                    )


def _on(line: Ints, column: object) -> NDArray:  # type: ignore[type-arg]
    """A column's value on some lines; it is a scalar where it never changes in the block."""
    return column[line] if isinstance(column, np.ndarray) else np.full(len(line), column)


def _codes(follower: Follower, letter: str) -> Iterator[tuple[int, int]]:
    """(line, code) of every G92, G28 and G92.1 that concerns an axis."""
    for line, code in sorted(follower.special.items()):
        said = {a for a, (lines, _) in follower.axis.items() if (lines == line).any()}
        if code == codes.HOME:
            said.discard("E")
        if code == codes.CLEAR_OFFSETS or letter in said or not said:
            yield line, code
