"""Where in the source an amount of clay falls: reads one block again and looks inside it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache, partial

import numpy as np
from numpy.typing import NDArray

from gpost.config.model import Config
from gpost.motion.arcbox import points_mm
from gpost.motion.follow import Follower
from gpost.motion.moves import Moves
from gpost.read.source import Source
from gpost.read.words import read_block
from gpost.spot import Spot
from gpost.survey.clay import ClayMeter
from gpost.survey.model import BlockMark

Floats = NDArray[np.float64]
AT_THE_END = 1e-9
"""Part of a move that is too small to split it there."""


class Lookup:
    """Answers for a surveyed file: clay before a spot, and the spot of an amount of clay."""

    def __init__(
        self,
        source: Source,
        config: Config,
        marks: Sequence[BlockMark],
        peaks_ml: Sequence[float],
        clay_ml: float,
        kept: Sequence[Follower] = (),
    ) -> None:
        """`peaks_ml`: for each block the most net clay, from the file's start, that it reaches.

        `kept`: the ways through the first blocks, if they are known still.
        """
        self._marks = marks
        self._total_ml = clay_ml
        self._reached_ml = np.maximum.accumulate(np.array(peaks_ml, np.float64))
        self._first_lines = np.array([mark.first_line for mark in marks], np.int64)
        # of parts of this object, not of its method: else it would hold itself, and its blocks, in memory
        self.follow = partial(_follow, source, config, marks, kept)
        """The machine's way through a block, by its index. Raises SourceError if the file has changed."""
        self._read = lru_cache(maxsize=8)(partial(_read, self.follow, ClayMeter(config), marks))

    def laid_points(self, first_line: int, end_line: int) -> Floats:
        """Points that the clay laid on these lines leads through: x and y, machine mm, shape (2, k)."""
        found = [points_mm(follower, which) for follower, which in self._laying(first_line, end_line)]
        return np.concatenate([np.zeros((2, 0)), *found], axis=1)

    def laid_path(self, first_line: int, end_line: int) -> tuple[NDArray[np.int64], Floats]:
        """(lines among these that lay clay, the path laid on each in mm), both of shape (k,)."""
        line, path_mm = [np.zeros(0, np.int64)], [np.zeros(0)]
        for follower, which in self._laying(first_line, end_line):
            line.append(follower.moves.line[which] + follower.block.chunk.first_line)
            path_mm.append(follower.moves.length_mm[which])
        return np.concatenate(line), np.concatenate(path_mm)

    def _laying(self, first_line: int, end_line: int) -> Iterator[tuple[Follower, NDArray[np.bool_]]]:
        """The blocks that hold these lines, and which moves of each lay clay on them."""
        for index, mark in enumerate(self._marks):
            if mark.first_line < end_line and mark.first_line + mark.lines > first_line:
                follower = self.follow(index)
                line = follower.moves.line + mark.first_line
                yield follower, follower.moves.laying & (line >= first_line) & (line < end_line)

    def clay_before(self, spot: Spot) -> float:
        """Net clay in ml metered before the spot."""
        index = int(np.searchsorted(self._first_lines, spot.line, side="right")) - 1
        if index < 0:
            return 0.0
        mark = self._marks[index]
        if spot == Spot(mark.first_line):
            return mark.clay_ml
        if spot.line >= mark.first_line + mark.lines:
            return self._total_ml
        moves, clay_ml = self._read(index)
        line = spot.line - mark.first_line
        place = int(np.searchsorted(moves.line, line))
        before = float(clay_ml[place])
        if spot.fraction and place < len(moves) and moves.line[place] == line:
            return before + spot.fraction * (float(clay_ml[place + 1]) - before)
        return before

    def find_clay(self, clay_ml: float) -> Spot:
        """The first spot where net clay reaches clay_ml; the end of the file if it never does."""
        if clay_ml <= 0:
            return Spot(0)
        index = int(np.searchsorted(self._reached_ml, clay_ml))
        if index == len(self._marks):
            last = self._marks[-1]
            return Spot(last.first_line + last.lines)
        moves, after = self._read(index)
        place = int(np.argmax(after[1:] >= clay_ml))
        before_ml, after_ml = after[place : place + 2].tolist()
        part = (clay_ml - before_ml) / (after_ml - before_ml)
        line = self._marks[index].first_line + int(moves.line[place])
        if part <= AT_THE_END:
            return Spot(line)
        return Spot(line + 1) if part >= 1 - AT_THE_END else Spot(line, part)


def _follow(
    source: Source, config: Config, marks: Sequence[BlockMark], kept: Sequence[Follower], index: int
) -> Follower:
    if index < len(kept):
        return kept[index]
    mark = marks[index]
    return Follower(read_block(mark.read(source)), mark.state, config.machine, config.clay.metering)


def _read(
    follow: Callable[[int], Follower], meter: ClayMeter, marks: Sequence[BlockMark], index: int
) -> tuple[Moves, Floats]:
    """The block's moves, and net clay before the block and after each of them, (m + 1,)."""
    moves, clay_ml = follow(index).moves, marks[index].clay_ml
    return moves, np.append(clay_ml, clay_ml + np.cumsum(meter.clay_ml(moves)))
