"""Refuses a file that gpost itself has written, by its comments."""

from __future__ import annotations

import numpy as np

from gpost.errors import SourceError
from gpost.read.block import PAD, Block
from gpost.survey.marks import Marks

_CAPITAL = 0xDF
"""Takes the bit off by which small letters differ."""
_AROUND = {-2: "G", -1: "P", 1: "S", 2: "T"}
"""Letters of the name by how far they stand from its O, which is the rarest in G-code."""


class SecondRun:
    """Looks at every block in order."""

    def __init__(self) -> None:
        self._marks = Marks()

    def refuse(self, block: Block) -> None:
        """Raise SourceError, with the line, once it is certain that gpost wrote the file."""
        for line in _named(block):
            if self._marks.own(block.line_bytes(line)):
                text = (
                    "this file was already written by gpost; run it on the sliced file, not on its own "
                    "output (a print that has stopped goes on by `gpost resume`)"
                )
                raise SourceError(text, line=block.chunk.first_line + line)


def _named(block: Block) -> list[int]:
    """Lines of a block on which the name stands, in whatever case."""
    data = block.bytes
    if not any(letter in block.chunk.data for letter in (b"o", b"O")):  # a fortieth of the work
        return []
    at = np.flatnonzero((data[PAD : len(data) - PAD] & _CAPITAL) == ord("O")) + PAD
    for offset, letter in _AROUND.items():
        at = at[(data[at + offset] & _CAPITAL) == ord(letter)]
    return sorted(set(np.searchsorted(block.line_end, at).tolist()))
