"""Line numbers, checksums and line ends of the source."""

from __future__ import annotations

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
        """Raises SourceError for a checksum that does not fit its line."""
        if not self._seen:
            self.newline = b"\r\n" if block.chunk.data.split(b"\n", 1)[0].endswith(b"\r") else b"\n"
            self._seen = True
        stars = block.of("*")
        if block.counts[ord("N")] or len(stars):
            self.numbered = True
        if len(stars):
            self._check_sums(block, stars)

    def _check_sums(self, block: Block, stars: NDArray[np.int64]) -> None:
        line = block.words.line[stars]
        found = block.words.value[stars]
        expected = checksums(block.bytes, block.line_start[line], block.words.start[stars])
        wrong = found != expected
        if wrong.any():
            at = int(np.argmax(wrong))
            raise SourceError(
                f"the checksum of this line is {found[at]:g} but its characters give {expected[at]}; the file is "
                "damaged: slice or copy it again",
                line=block.chunk.first_line + int(line[at]),
            )


def checksums(
    data: NDArray[np.uint8], start: NDArray[np.int32], end: NDArray[np.int32]
) -> NDArray[np.int64]:
    """Exclusive or of all bytes of data[start:end], for each of k stretches in ascending order.

    The rule of numbered lines in printing: from the N up to, not including, the `*`. Common practice, no source.
    """
    bounds = np.stack([start, end], axis=1).ravel()
    return np.bitwise_xor.reduceat(data, bounds)[::2].astype(np.int64)
