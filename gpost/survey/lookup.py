"""Where in the source an amount of clay or time falls: reads one block again and looks inside it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from gpost.config.model import Config
from gpost.motion.follow import Follower
from gpost.motion.moves import Moves
from gpost.read.block import Block
from gpost.read.source import Chunk, Source
from gpost.read.words import read_block
from gpost.spot import Spot
from gpost.survey.clay import ClayMeter
from gpost.survey.model import BlockMark


class Lookup:
    """Answers for a surveyed file: clay before a spot, and the spot of an amount of clay."""

    def __init__(self, source: Source, config: Config, marks: Sequence[BlockMark], clay_ml: float) -> None:
        self._source, self._config, self._marks = source, config, marks
        self._total = clay_ml
        self._meter = ClayMeter(config)
        self._starts_ml = np.maximum.accumulate(np.array([mark.clay_ml for mark in marks]))
        self._first_lines = np.array([mark.first_line for mark in marks])
        self._read = lru_cache(maxsize=8)(self._read_block)

    def _read_block(self, index: int) -> tuple[Block, Moves, NDArray[np.float64]]:
        """The block, its moves, and net clay after each of them, from the start of the file."""
        mark = self._marks[index]
        chunk = Chunk(
            self._source.read_range(mark.offset, mark.size), mark.offset, mark.first_line, mark.lines
        )
        block = read_block(chunk)
        moves = Follower(block, mark.state, self._config.machine, self._config.clay.metering).moves
        return block, moves, mark.clay_ml + np.cumsum(self._meter.clay_ml(moves))

    def clay_before(self, spot: Spot) -> float:
        """Net clay in ml metered before the spot."""
        index = int(np.searchsorted(self._first_lines, spot.line, side="right")) - 1
        if index < 0:
            return 0.0
        mark = self._marks[index]
        if spot.line >= mark.first_line + mark.lines:
            return self._total
        _, moves, after = self._read(index)
        place = int(np.searchsorted(moves.line, spot.line - mark.first_line))
        before = float(after[place - 1]) if place else mark.clay_ml
        here = place < len(moves) and int(moves.line[place]) == spot.line - mark.first_line
        if spot.fraction and here:
            return before + spot.fraction * (float(after[place]) - before)
        return before

    def find_clay(self, clay_ml: float) -> Spot:
        """The first spot where net clay reaches clay_ml; the end of the file if it never does."""
        last = self._marks[-1]
        if clay_ml <= 0:
            return Spot(0)
        index = max(int(np.searchsorted(self._starts_ml, clay_ml, side="left")) - 1, 0)
        for number in range(index, len(self._marks)):
            mark = self._marks[number]
            _, moves, after = self._read(number)
            reached = np.flatnonzero(after >= clay_ml)
            if len(reached):
                return self._inside(mark, moves, after, int(reached[0]), clay_ml)
        return Spot(last.first_line + last.lines)

    def _inside(
        self, mark: BlockMark, moves: Moves, after: NDArray[np.float64], place: int, clay_ml: float
    ) -> Spot:
        before = float(after[place - 1]) if place else mark.clay_ml
        part = (clay_ml - before) / max(float(after[place]) - before, 1e-300)
        line = mark.first_line + int(moves.line[place])
        if part <= 1e-9:
            return Spot(line)
        if part >= 1 - 1e-9:
            return Spot(line + 1)
        return Spot(line, part)
