"""A block that is written after only some of its lines were read again: all others are copied as bytes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from gpost.motion.lines import Lines
from gpost.read.block import Block
from gpost.read.source import Chunk
from gpost.read.words import read_block
from gpost.write.edits import Edits
from gpost.write.feeds import FeedWord, put_words

NEAR = 4
"""Lines of a stretch that are looked at first."""


class SparseBlock:
    """Lines are those of the file."""

    def __init__(self, chunk: Chunk) -> None:
        self._chunk = chunk

    def first_moves(self, stretches: Iterable[tuple[int, int]]) -> list[int | None]:
        """The first line that moves of each stretch (first line, end line), None where there is none."""
        listed = [range(*stretch) for stretch in stretches]
        # most often one of the first lines does; they are read together, since each reading has its price
        moves = set(self._moving([line for lines in listed for line in lines[:NEAR]]))
        near = (next((line for line in lines[:NEAR] if line in moves), None) for lines in listed)
        return [
            next(iter(self._moving(lines[NEAR:])), None) if line is None else line
            for line, lines in zip(near, listed, strict=True)
        ]

    def feed_marks(self, whole: NDArray[np.void], first: int) -> NDArray[np.void]:
        """The feed marks of a block that begins with line `first` of a block with these."""
        before, here = whole[whole["line"] < first], whole[whole["line"] >= first].copy()
        here["line"] -= first
        start = self._chunk.first_line
        end = start + (int(here["line"][0]) if len(here) else self._chunk.lines)
        [move] = self.first_moves([(start, end)])
        if move is None or not len(before):
            return here
        goes_on = before[-1:].copy()
        goes_on["line"], goes_on["said"] = move - start, False
        return np.concatenate([goes_on, here])

    def _moving(self, lines: Sequence[int]) -> list[int]:
        """Those of some lines that move."""
        return [lines[index] for index in Lines(self._read(lines)).move_line.tolist()] if lines else []

    def with_feeds(self, words: Sequence[FeedWord]) -> bytes:
        """The block with these F words, one a line at most, ascending."""
        if not words:
            return self._chunk.data
        block = self._read([word.line for word in words])
        edits = Edits(block)
        put_words(edits, list(enumerate(words)))
        edits.settle()
        edges = [*block.line_start.tolist(), int(block.line_end[-1]) + 1]
        parts, place = [], 0
        for index, word in enumerate(words):
            first, last = self._bounds(word.line)
            parts += [self._chunk.data[place:first], edits.spliced(edges[index], edges[index] + last - first)]
            place = last
        return b"".join([*parts, self._chunk.data[place:]])

    def _bounds(self, line: int) -> tuple[int, int]:
        within = line - self._chunk.first_line
        return self._chunk.size_of(within), self._chunk.size_of(within + 1)

    def _read(self, lines: Sequence[int]) -> Block:
        """Some lines, ascending, as if they stood one after the other."""
        data = b"".join(self._chunk.data[slice(*self._bounds(line))] for line in lines)
        return read_block(Chunk(data, self._chunk.offset, self._chunk.first_line))
