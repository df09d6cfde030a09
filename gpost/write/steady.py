"""A steady block on its way to the output: a few lines get an F word, all others are copied as bytes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from gpost.read.block import Block
from gpost.read.source import Chunk
from gpost.read.words import read_block
from gpost.write.edits import Edits

_GOES = np.isin(np.arange(128), list(b"XYZEIJKR"))


class SteadyBlock:
    """Only the lines concerned are read again. Lines are those of the file; see BlockMark.steady."""

    def __init__(self, chunk: Chunk) -> None:
        self._chunk = chunk
        self._starts = np.append(0, chunk.line_ends + 1)

    def first_moves(self, stretches: Iterable[tuple[int, int]]) -> list[int]:
        """The first line that moves of each stretch (first line, end line) that has one, in order.

        In a steady block each line with an axis word moves. Most often the first line of a stretch does.
        """
        listed = list(stretches)
        goes = set(_going(self._read([first for first, _ in listed])))
        found = []
        for index, (first, end) in enumerate(listed):
            if index in goes:
                found.append(first)
            elif first + 1 < end:
                later = _going(self._read(range(first + 1, end)))
                found += [first + 1 + line for line in later[:1]]
        return found

    def with_words(self, added: Sequence[tuple[int, str]]) -> Iterator[bytes]:
        """The block with a word at the end of each of these lines, which are ascending; part by part."""
        place = 0
        if added:
            block = self._read([line for line, _ in added])
            edits = Edits(block)
            edits.after = {index: word for index, (_, word) in enumerate(added)}
            edits.settle()
            edges = [*block.line_start.tolist(), int(block.line_end[-1]) + 1]
            for index, (line, _) in enumerate(added):
                first, last = self._bounds(line)
                yield self._chunk.data[place:first]
                yield edits.spliced(edges[index], edges[index] + last - first)
                place = last
        yield self._chunk.data[place:]

    def _bounds(self, line: int) -> tuple[int, int]:
        within = line - self._chunk.first_line
        return int(self._starts[within]), int(self._starts[within + 1])

    def _read(self, lines: Sequence[int]) -> Block:
        """Some lines, ascending, as if they stood one after the other."""
        data = b"".join(self._chunk.data[slice(*self._bounds(line))] for line in lines)
        return read_block(Chunk(data, self._chunk.offset, self._chunk.first_line))


def _going(block: Block) -> list[int]:
    """The lines of a block with an axis word, ascending; such a line may come more than once."""
    lines: list[int] = block.words.line[_GOES[block.words.letter]].tolist()
    return lines
