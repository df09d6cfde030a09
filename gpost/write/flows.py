"""Flow edits: which E words of a block change so that scaled clay is laid, and where the register then is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import field
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.common.records import record
from gpost.motion.follow import Follower
from gpost.motion.modes import on_lines
from gpost.plan.intentions import ScaleFlow
from gpost.write.decimals import decimals_of_words
from gpost.write.edits import Edits
from gpost.write.figures import INT_TENS, fitting, rounded, value_of
from gpost.write.scaling import Column, Stretches, count_edits, setters
from gpost.write.script import E_DECIMALS

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Ints = NDArray[np.int64]
NOISE_DECIMALS = 9
"""Sums are taken to so many decimals before they are rounded, so that no noise of floats decides."""


@record(slots=True)
class FlowColumn:
    """How far the output's E register is ahead of the source's through a block, mm of the E axis."""

    ahead_mm: Column
    """Before a line: once it is set back there."""
    resets: dict[int, int] = field(default_factory=dict)
    """Lines within the block before which the register must be set back -> the plan entry that ends there."""


@record(slots=True)
class _Ahead:
    """How far the output's register is ahead: base_mm + places / 10**decimals units of `scale` mm."""

    base_mm: float = 0.0
    """What was said in another unit of length, so that it is no whole number of last places."""
    places: int = 0
    decimals: int = 0
    scale: float = 1.0

    @property
    def mm(self) -> float:
        """All of it, as written."""
        return self.base_mm + self.places / 10.0**self.decimals * self.scale


class _Said(NamedTuple):
    """How far ahead the register is: before a run, then after each scaled word of it; shape (k + 1,)."""

    places: Ints
    decimals: Ints
    section: Ints
    """The stretch between settings of the register in which it was said."""

    def at(self, which: Ints, section: Ints) -> tuple[Ints, Ints]:
        """(places, decimals) as some of them left it; 0 in another section than theirs."""
        holds = self.section[which] == section
        return np.where(holds, self.places[which], 0), np.where(holds, self.decimals[which], 0)


class FlowScaler:
    """Edits the E words of one block after another, carrying the register of the output.

    At every scaled word the register is ahead of the source's by all that was added so far, rounded to the
    word's last place: an absolute word gains that, a relative one the difference to what was said before. So
    sums are never off by more than half a last place. Where a stretch of scaled lines ends the register must
    be set back by a G92, so that later lines stay as they are.
    """

    def __init__(self, scales: Sequence[tuple[int, ScaleFlow]]) -> None:
        """`scales`: (index of the plan entry, intention)."""
        self._scales = Stretches(scales)
        self._ahead = _Ahead()
        self._added_mm = 0.0
        """What scaling has added since the register was last set, without rounding."""

    @property
    def ahead_mm(self) -> float:
        """How far the output's register is ahead of the source's, as written."""
        return self._ahead.mm

    def wants(self, first_line: int, end_line: int) -> bool:
        """Whether the plan asks for flow edits on these lines."""
        return len(self._scales.on(first_line, end_line)) > 0

    def touches(self, first_line: int, end_line: int) -> bool:
        """Whether a block of these lines needs flow edits."""
        return self._added_mm != 0 or self.ahead_mm != 0 or self.wants(first_line, end_line)

    def edit(self, follower: Follower, edits: Edits, edited: dict[int, int]) -> FlowColumn:
        """Put the flow edits of a block into `edits`; count edited lines by plan entry in `edited`."""
        before_mm = self.ahead_mm
        set_line, _ = setters(follower, "E")
        # where the source sets the register itself it need not be set back
        ends = {line: index for line, index in self._ends(follower).items() if line not in set_line}
        end_line = np.array(list(ends), np.int64)
        first, end = follower.block.chunk.first_line, follower.block.chunk.first_line + follower.block.lines
        words = _FlowWords(follower, self._scales.on(first, end))
        # a G92 acts after the words before it, an end before those on its line
        begins = np.concatenate([words.line.searchsorted(set_line), words.line.searchsorted(end_line)])
        self._added_mm = words.add_up(np.sort(begins), self._added_mm)
        self._ahead = words.follow(self._ahead)
        words.put(edits, edited)
        column = Column.joined(
            before_mm,
            (words.line, words.ahead_mm),
            (set_line, np.zeros(len(set_line))),
            (end_line - 1, np.zeros(len(end_line))),
        )
        return FlowColumn(column, {line: ends[line] for line in ends if _is_ahead(column, line)})

    def _ends(self, follower: Follower) -> dict[int, int]:
        """Line within the block -> plan entry: where a scaled stretch ends and no other goes on."""
        first, end = follower.block.chunk.first_line, follower.block.chunk.first_line + follower.block.lines
        here = self._scales.on(first - 1, end)
        ends = {s.end_line: index for index, s in here if first <= s.end_line < end}
        going_on = {e for e in ends if any(s.first_line <= e < s.end_line for _, s in here)}
        return {e - first: ends[e] for e in sorted(ends) if e not in going_on}


def _is_ahead(column: Column, line: int) -> bool:
    """Whether the register is ahead where a stretch ends, before it is set back there."""
    place = int(np.searchsorted(column.line, line)) - 1
    return bool(column.value[place - 1] if place else column.initial)


class _FlowWords:
    """The E words that move in a block, and what becomes of them; arrays of shape (k,)."""

    def __init__(self, follower: Follower, scales: Sequence[tuple[int, ScaleFlow]]) -> None:
        line, _ = follower.block.said("E")
        moving = np.flatnonzero(follower.is_move[line])
        count = len(moving)
        self._block = follower.block
        self.line = line[moving]
        self._index = follower.block.of("E")[moving]
        self._value = follower.block.words.value[self._index]
        self._scale = on_lines(follower.scale, self.line)
        self._relative = on_lines(follower.e_relative, self.line)
        self._owner = np.full(count, -1)
        """The plan entry that scales it; -1: none."""
        self._extra_mm = self._extra(follower, scales)
        self.ahead_mm = np.zeros(count)
        """How far the output's register is ahead after each word, as written."""
        self._gain, self._decimals = np.zeros(count, np.int64), np.zeros(count, np.int64)
        """What each word gains, in last places, and its decimals."""

    def _extra(self, follower: Follower, scales: Sequence[tuple[int, ScaleFlow]]) -> Floats:
        """What scaling adds to each word, mm."""
        move = follower.before[self.line]
        pushed = follower.e_raw[move]
        lays = follower.moves.laying[move] & (pushed > 0)
        factor = np.ones(len(pushed))
        first_line = follower.block.chunk.first_line
        for index, scale in scales:
            here = (scale.first_line - first_line, scale.end_line - first_line)
            part = slice(*np.searchsorted(self.line, here).tolist())
            factor[part] *= np.where(lays[part], scale.factor, 1.0)
            self._owner[part][lays[part]] = index
        return np.asarray(pushed * (factor - 1))

    def add_up(self, begins: Ints, before_mm: float) -> float:
        """Add up what scaling adds, from `before_mm`, and anew from each of the words `begins`.

        Returns the sum after the block; a number of words in `begins` is a beginning behind the last.
        """
        total = np.cumsum(np.append(before_mm, self._extra_mm))
        start = np.append(0.0, total[begins])
        self._section = np.searchsorted(begins, np.arange(len(self.line)), side="right")
        self._added_mm = total[1:] - start[self._section]
        self._last_section = len(begins)
        return float(total[-1] - start[-1])

    def follow(self, ahead: _Ahead) -> _Ahead:
        """Decide on all words, run by run of one unit and one mode; how far ahead the register is then."""
        section = 0
        for run in self._runs():
            if self._section[run.start] != section:
                ahead, section = _Ahead(scale=ahead.scale), self._section[run.start]
            if self._scale[run.start] != ahead.scale:
                ahead = _Ahead(ahead.mm, scale=float(self._scale[run.start]))
            decide = self._relative_run if self._relative[run.start] else self._absolute_run
            ahead = decide(run, ahead)
            section = self._section[run.stop - 1]
        return ahead if section == self._last_section else _Ahead(scale=ahead.scale)

    def _runs(self) -> Iterator[slice]:
        changes = (np.diff(self._scale) != 0) | (np.diff(self._relative) != 0)
        edges = [0, *(np.flatnonzero(changes) + 1).tolist(), len(self.line)]
        return (slice(first, end) for first, end in pairwise(edges) if first < end)

    def _absolute_run(self, run: slice, ahead: _Ahead) -> _Ahead:
        """Each word gains what was added so far."""
        places, decimals = self._rounded(np.arange(run.start, run.stop), self._added_mm[run], ahead.scale)
        self._gain[run], self._decimals[run] = places, decimals
        self.ahead_mm[run] = value_of(places, decimals) * ahead.scale
        return _Ahead(0.0, int(places[-1]), int(decimals[-1]), ahead.scale)

    def _relative_run(self, run: slice, ahead: _Ahead) -> _Ahead:
        """Each scaled word gains the difference to what the words before have gained; the others stay."""
        section = self._section[run]
        base_mm = np.where(section == section[0], ahead.base_mm, 0.0)
        is_scaled = self._owner[run] >= 0
        scaled = np.flatnonzero(is_scaled)
        which = scaled + run.start
        places, decimals = self._rounded(which, self._added_mm[which] - base_mm[scaled], ahead.scale)
        said = _Said(
            np.append(ahead.places, places),
            np.append(ahead.decimals, decimals),
            np.append(section[0], section[scaled]),
        )
        before, decimals_before = said.at(np.arange(len(scaled)), section[scaled])
        most = np.maximum(decimals, decimals_before)
        self._gain[which] = places * INT_TENS[most - decimals] - before * INT_TENS[most - decimals_before]
        self._decimals[which] = most
        places, decimals = said.at(np.cumsum(is_scaled), section)
        self.ahead_mm[run] = base_mm + value_of(places, decimals) * ahead.scale
        return _Ahead(float(base_mm[-1]), int(places[-1]), int(decimals[-1]), ahead.scale)

    def _rounded(self, which: Ints, added_mm: Floats, scale: float) -> tuple[Ints, Ints]:
        """What was added, in last places of some words, and the decimals of these."""
        added = added_mm / scale
        least = E_DECIMALS + (scale != 1)
        own = np.maximum(decimals_of_words(self._block, self._index[which]), least)
        decimals = fitting(own, np.abs(self._value[which]) + np.abs(added))
        added = np.where(decimals < NOISE_DECIMALS, np.round(added, NOISE_DECIMALS), added)
        return rounded(added, decimals), decimals

    def put(self, edits: Edits, edited: dict[int, int]) -> None:
        """Put the new numbers in, and count those of each plan entry."""
        which = np.flatnonzero(self._gain)
        if not len(which):
            return
        decimals = self._decimals[which]
        edits.many(self._index[which], rounded(self._value[which], decimals) + self._gain[which], decimals)
        count_edits(self._owner[which], edited)
