"""A steady block on its way to the output: a few lines get an F word, all others are copied as bytes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from gpost.read.block import PAD, Block
from gpost.read.source import Chunk
from gpost.read.words import read_block
from gpost.write.edits import Edits

LOOK_AT = 8
"""Lines read at a time in search of a move; most often the first is one."""
_GOES = np.isin(np.arange(128), list(b"XYZEIJKR"))


class SteadyBlock:
    """Only the lines concerned are read again. Lines are those of the file; see BlockMark.steady."""

    def __init__(self, chunk: Chunk) -> None:
        self._chunk = chunk
        newlines = np.flatnonzero(np.frombuffer(chunk.data, np.uint8) == ord("\n"))
        self._starts = np.concatenate([[0], newlines + 1, [len(chunk.data)]])

    def first_move(self, first_line: int, end_line: int) -> int | None:
        """The first line among these that moves: in a steady block each axis word does."""
        for line in range(first_line, end_line, LOOK_AT):
            words = self._read(line, min(line + LOOK_AT, end_line)).words
            goes = words.line[_GOES[words.letter]]
            if len(goes):
                return line + int(goes[0])
        return None

    def with_words(self, added: Sequence[tuple[int, str]]) -> Iterator[bytes]:
        """The block with a word at the end of each of these lines, which are ascending; part by part."""
        place = 0
        for line, word in added:
            block = self._read(line, line + 1)
            edits = Edits(block)
            edits.after[0] = word
            edits.settle()
            first = block.chunk.offset - self._chunk.offset
            yield self._chunk.data[place:first]
            place = first + len(block.chunk.data)
            yield edits.spliced(PAD, PAD + len(block.chunk.data))
        yield self._chunk.data[place:]

    def _read(self, first_line: int, end_line: int) -> Block:
        chunk = self._chunk
        first, last = (int(self._starts[line - chunk.first_line]) for line in (first_line, end_line))
        data = chunk.data[first:last]
        return read_block(Chunk(data, chunk.offset + first, first_line, end_line - first_line))
