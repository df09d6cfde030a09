"""Flow edits: which E words of a block change so that scaled clay is laid, and where the register then is."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from gpost.motion import codes
from gpost.motion.follow import Follower
from gpost.plan.intentions import ScaleFlow
from gpost.read.block import Block
from gpost.write.edits import Edits
from gpost.write.script import E_DECIMALS, number

Floats = NDArray[np.float64]
NOISE_DECIMALS = 9
"""Sums are taken to so many decimals before they are rounded, so that no noise of floats decides."""


@dataclass(slots=True)
class FlowColumn:
    """How far the output's E register is ahead of the source's, line by line through a block."""

    initial_mm: float
    resets: dict[int, int] = field(default_factory=dict)
    """Lines within the block before which the register must be set back -> the plan entry that ends there."""
    _line: list[int] = field(default_factory=list)
    _ahead_mm: list[float] = field(default_factory=list)

    def before(self, line: int) -> float:
        """How far it is ahead before a line within the block (once it is set back), mm of the E axis."""
        place = bisect_left(self._line, line)
        return self._ahead_mm[place - 1] if place else self.initial_mm

    def note(self, line: int, ahead_mm: float) -> None:
        """How far it is ahead from the line after this one on; lines must not fall."""
        self._line.append(line)
        self._ahead_mm.append(ahead_mm)


@dataclass(frozen=True, slots=True)
class _Word:
    """One event of the E axis: a move's E word, or a G92 that sets the register."""

    line: int
    """Within the block."""
    index: int
    """Of the word; -1 for a G92."""
    pushed_mm: float = 0.0
    register_mm: float = 0.0
    """The source's, after the word."""
    extra_mm: float = 0.0
    """What the scaling adds."""
    owner: int = -1
    """The plan entry that scales it; -1: none."""
    relative: bool = False
    scale: float = 1.0


class FlowScaler:
    """Edits the E words of one block after another, carrying the register of the output.

    Relative words get their own share; absolute words the register plus all that was added. What rounding
    leaves is carried on, so that the sum is never off by more than half a last place. Where a stretch of
    scaled lines ends the register must be set back by a G92, so that later lines stay as they are.
    """

    def __init__(self, scales: Sequence[tuple[int, ScaleFlow]]) -> None:
        """`scales`: (index of the plan entry, wish)."""
        self._scales = list(scales)
        self.ahead_mm = 0.0
        """How far the output's register is ahead of the source's, as written."""
        self._wanted_mm = 0.0
        """The same, without rounding."""

    def touches(self, first_line: int, end_line: int) -> bool:
        """Whether a block of these lines needs flow edits."""
        if self._wanted_mm != 0 or self.ahead_mm != 0:
            return True
        return any(s.first_line < end_line and s.end_line > first_line for _, s in self._scales)

    def edit(self, block: Block, follower: Follower, edits: Edits, edited: dict[int, int]) -> FlowColumn:
        """Put the flow edits of this block into `edits`; count edited lines by plan entry in `edited`."""
        column = FlowColumn(self.ahead_mm)
        ends = self._ends(block)
        for word in self._words(block, follower):
            while ends and ends[0][0] < word.line + (word.index >= 0):
                self._end(column, *ends.pop(0))
            if word.index < 0:
                self._set_back(column, word.line)
                continue
            text = self._scaled(word, edits.text(word.index))
            if text is not None:
                edits.numbers[word.index] = text
                column.note(word.line, self.ahead_mm)
                if word.owner >= 0:
                    edited[word.owner] = edited.get(word.owner, 0) + 1
        for end in ends:
            self._end(column, *end)
        return column

    def _ends(self, block: Block) -> list[tuple[int, int]]:
        """(line within the block, plan entry): where a scaled stretch ends and no other goes on."""
        first, end = block.chunk.first_line, block.chunk.first_line + block.lines
        ends = {s.end_line: index for index, s in self._scales if first <= s.end_line < end}
        going_on = {e for e in ends if any(s.first_line <= e < s.end_line for _, s in self._scales)}
        return sorted((e - first, index) for e, index in ends.items() if e not in going_on)

    def _end(self, column: FlowColumn, line: int, index: int) -> None:
        if self.ahead_mm != 0:
            column.resets[line] = index
        self._set_back(column, line - 1)

    def _set_back(self, column: FlowColumn, line: int) -> None:
        self.ahead_mm = self._wanted_mm = 0.0
        column.note(line, 0.0)

    def _scaled(self, word: _Word, text: str) -> str | None:
        """The number to write for a word; None if it stays."""
        self._wanted_mm += word.extra_mm
        if word.owner < 0 and (word.relative or self._wanted_mm == 0):
            return None
        decimals = max(decimals_of(text), E_DECIMALS + (word.scale != 1))
        if word.relative:
            goal = word.pushed_mm + self._wanted_mm - self.ahead_mm
            value = _rounded(goal / word.scale, decimals)
            self.ahead_mm += value * word.scale - word.pushed_mm
        else:
            value = _rounded((word.register_mm + self._wanted_mm) / word.scale, decimals)
            self.ahead_mm = value * word.scale - word.register_mm
        return number(value, decimals)

    def _words(self, block: Block, follower: Follower) -> Iterator[_Word]:
        """All that happens to E on the lines of the block up to the last scaled one, in order."""
        lines, values = follower.axis["E"]
        index = block.of("E")
        moving = follower.is_move[lines]
        lines, values, index = lines[moving], values[moving], index[moving]
        scale, relative = _on(lines, follower.scale), _on(lines, follower.e_relative)
        place = follower.before[lines]
        pushed = follower.e_raw[place]
        register = np.where(relative, np.nan, values * scale)
        extra, owner = self._extra(lines + block.chunk.first_line, follower.moves.laying[place], pushed)
        columns = (lines, index, pushed, register, extra, owner, relative, scale)
        words = zip(*(column.tolist() for column in columns), strict=True)
        return _merged((_Word(*word) for word in words), _zeroed(follower))

    def _extra(
        self, line: NDArray[np.int64], laying: NDArray[np.bool_], pushed: Floats
    ) -> tuple[Floats, NDArray[np.int64]]:
        """What scaling adds to each word, mm, and the plan entry that wants it (-1: none)."""
        factor = np.ones(len(line))
        owner = np.full(len(line), -1)
        for index, scale in self._scales:
            pick = laying & (pushed > 0) & (line >= scale.first_line) & (line < scale.end_line)
            factor[pick] *= scale.factor
            owner[pick] = index
        return pushed * (factor - 1), owner


def decimals_of(text: str) -> int:
    """Decimals that a number is written with, its exponent counted."""
    mantissa, _, power = text.lower().partition("e")
    return max(len(mantissa.partition(".")[2]) - int(power or 0), 0)


def _on(lines: NDArray[np.int64], column: object) -> NDArray:  # type: ignore[type-arg]
    """A column's value on some lines; it is a scalar where it never changes in the block."""
    return column[lines] if isinstance(column, np.ndarray) else np.full(len(lines), column)


def _rounded(value: float, decimals: int) -> float:
    return round(round(value, max(NOISE_DECIMALS, decimals)), decimals)


def _zeroed(follower: Follower) -> Iterator[_Word]:
    """Every G92 that sets E: with an E word, or without any axis word."""
    for line, code in sorted(follower.special.items()):
        if code == codes.SET_REGISTER:
            said = {letter for letter, (lines, _) in follower.axis.items() if (lines == line).any()}
            if "E" in said or not said:
                yield _Word(line, -1)


def _merged(words: Iterator[_Word], zeroed: Iterable[_Word]) -> Iterator[_Word]:
    """Both in the order of lines."""
    waiting = list(zeroed)
    for word in words:
        while waiting and waiting[0].line < word.line:
            yield waiting.pop(0)
        yield word
    yield from waiting
