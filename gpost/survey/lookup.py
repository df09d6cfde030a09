"""Where in the source an amount of clay falls: reads one block again and looks inside it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from gpost.config.model import Config
from gpost.motion.follow import Follower
from gpost.motion.moves import Moves
from gpost.read.source import Chunk, Source
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
    ) -> None:
        """`peaks_ml`: for each block the most net clay, from the file's start, that it reaches."""
        self._source, self._config, self._marks = source, config, marks
        self._total_ml = clay_ml
        self._meter = ClayMeter(config)
        self._reached_ml = np.maximum.accumulate(np.array(peaks_ml, np.float64))
        self._first_lines = np.array([mark.first_line for mark in marks], np.int64)
        self._read = lru_cache(maxsize=8)(self._read_block)

    def _read_block(self, index: int) -> tuple[Moves, Floats]:
        """The block's moves, and net clay before the block and after each of them, (m + 1,)."""
        mark = self._marks[index]
        data = self._source.read_range(mark.offset, mark.size)
        block = read_block(Chunk(data, mark.offset, mark.first_line, mark.lines))
        moves = Follower(block, mark.state, self._config.machine, self._config.clay.metering).moves
        return moves, np.append(mark.clay_ml, mark.clay_ml + np.cumsum(self._meter.clay_ml(moves)))

    def clay_before(self, spot: Spot) -> float:
        """Net clay in ml metered before the spot."""
        index = int(np.searchsorted(self._first_lines, spot.line, side="right")) - 1
        if index < 0:
            return 0.0
        mark = self._marks[index]
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
