"""Line numbers, checksums and line ends of the source."""

from __future__ import annotations

from typing import NoReturn

import numpy as np
from numpy.typing import NDArray

from gpost.errors import SourceError
from gpost.read.block import Block


class Numbering:
    """Looks at every block: is the file numbered, are its checksums right, how do its lines end?"""

    def __init__(self) -> None:
        self.numbered = False
        self.newline = b"\n"
        self._seen = False

    def check(self, block: Block) -> None:
        """Raises SourceError for a checksum that does not fit its line, or that ends no line."""
        if not self._seen:
            self.newline = b"\r\n" if block.chunk.data.split(b"\n", 1)[0].endswith(b"\r") else b"\n"
            self._seen = True
        stars = block.of("*")
        numbers = block.of("N")
        if len(stars) or _any_first_of_line(block, numbers):
            self.numbered = True
        if len(stars):
            self._check_sums(block, stars)

    def _check_sums(self, block: Block, stars: NDArray[np.int64]) -> None:
        words = block.words
        line = words.line[stars]
        found = words.value[stars]
        last = np.append(words.line, -1)[stars + 1] != line
        if not last.all():
            _fail(block, line[~last][0], "something stands after the checksum of this line; remove it")
        expected = checksums(block.bytes, words.start[np.searchsorted(words.line, line)], words.start[stars])
        wrong = found != expected
        if wrong.any():
            at = int(np.argmax(wrong))
            said = "has no number" if np.isnan(found[at]) else f"is {found[at]:g}"
            text = f"the checksum of this line {said}, but its characters give {expected[at]}; the file is "
            _fail(block, line[at], text + "damaged: slice or copy it again")


def _any_first_of_line(block: Block, numbers: NDArray[np.int64]) -> bool:
    """Whether any of these N words begins its line: elsewhere (`M110 N5`) it numbers nothing."""
    line = block.words.line
    return bool((np.searchsorted(line, line[numbers]) == numbers).any())


def _fail(block: Block, line: int, text: str) -> NoReturn:
    raise SourceError(text, line=block.chunk.first_line + int(line))


def checksums(data: NDArray[np.uint8], start: NDArray[np.int64], end: NDArray[np.int64]) -> NDArray[np.int64]:
    """Exclusive or of all bytes of data[start:end], for each of k stretches in ascending order.

    The rule of numbered lines in printing: from the N up to, not including, the `*` (common practice, no
    source).
    """
    bounds = np.stack([start, end], axis=1).ravel()
    # of an empty stretch reduceat gives the byte at its start
    return np.where(end > start, np.bitwise_xor.reduceat(data, bounds)[::2], 0).astype(np.int64)
