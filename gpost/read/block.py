"""A block: whole lines of the source, the words on them, and where each word stands in the bytes."""

from __future__ import annotations

import builtins
from dataclasses import field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.common.records import record
from gpost.read.source import Chunk

PAD = 16
"""Blank bytes before and after the data, so that eight bytes can be loaded around any position."""


class OddLine(NamedTuple):
    """A line that took the exact path and has something to say."""

    line: int
    """0-based within the block."""
    kind: str
    """Short key of what is odd; see gpost/read/oddline.py."""


@record(slots=True)
class Words:
    """All words of a block in the order of the file; five arrays of one length."""

    line: NDArray[np.int64]
    """Line within the block."""
    letter: NDArray[np.uint8]
    """Upper-case ASCII code; 42 ('*') for a checksum."""
    start: NDArray[np.int64]
    """Index of the letter in `Block.bytes`."""
    end: NDArray[np.int64]
    """Index after the last byte of the number."""
    value: NDArray[np.float64]
    """NaN for a letter without a number."""


@record(slots=True)
class ByLetter:
    """The words of a block again, letter by letter, those of a letter in the order of the file."""

    index: NDArray[np.int64]
    """Of the word among all."""
    line: NDArray[np.int64]
    value: NDArray[np.float64]
    first: NDArray[np.int64]
    """Where the words of each letter begin; shape (129,)."""


@record(slots=True)
class Block:
    """One chunk with its words. Positions are indices into `bytes`, which is padded by PAD each side."""

    chunk: Chunk
    bytes: NDArray[np.uint8]
    line_start: NDArray[np.int32]
    """shape (lines,)"""
    line_end: NDArray[np.int32]
    """Index of the newline, or of the end of the data; shape (lines,)."""
    words: Words
    odd: list[OddLine] = field(default_factory=list)
    counts: NDArray[np.int64] = field(default_factory=lambda: np.zeros(128, np.int64))
    """Number of words of each letter, shape (128,)."""

    by_letter: ByLetter | None = None
    """Where the reader made it; else a letter is looked for as it is asked for."""

    @property
    def lines(self) -> int:
        """Number of lines."""
        return len(self.line_start)

    def of(self, letter: str) -> NDArray[np.int64]:
        """Indices of the words with this letter, in order; shape (k,)."""
        code = ord(letter)
        if not self.counts[code]:
            return _NONE
        if self.by_letter is not None:
            return self.by_letter.index[self._part(code)]
        return np.flatnonzero(self.words.letter == code)

    def said(self, letter: str) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """(line, value) of the words with this letter, in order; shape (k,) each."""
        if self.by_letter is not None:
            part = self._part(ord(letter))
            return self.by_letter.line[part], self.by_letter.value[part]
        index = self.of(letter)
        return self.words.line.take(index), self.words.value.take(index)  # faster than indexing

    def stands(self, letter: str) -> NDArray[np.bool_]:
        """Whether the letter stands on each line, shape (lines,)."""
        found = np.zeros(self.lines, np.bool_)
        found[self.said(letter)[0]] = True
        return found

    def _part(self, code: int) -> slice:
        assert self.by_letter is not None
        return slice(*self.by_letter.first[code : code + 2].tolist())

    def line_bytes(self, line: int) -> builtins.bytes:
        """The bytes of a line within the block, without its newline."""
        return self.bytes[self.line_start[line] : self.line_end[line]].tobytes()


_NONE: NDArray[np.int64] = np.zeros(0, np.int64)


def head(block: Block, lines: int) -> Block:
    """The first lines of a block, as a block; the bytes are shared."""
    words = block.words
    cut = int(np.searchsorted(words.line, lines))
    part = type(words)(
        words.line[:cut], words.letter[:cut], words.start[:cut], words.end[:cut], words.value[:cut]
    )
    counts = np.bincount(part.letter, minlength=128)
    odd = [each for each in block.odd if each.line < lines]
    return Block(
        block.chunk, block.bytes, block.line_start[:lines], block.line_end[:lines], part, odd, counts
    )
