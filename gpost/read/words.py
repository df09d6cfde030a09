"""Reads a chunk into a block: ordinary lines at once, those out of the ordinary by gpost/read/oddline.py."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gpost.errors import SourceError
from gpost.read.block import PAD, Block, OddLine, Words
from gpost.read.oddline import OddWords, read_line
from gpost.read.source import Chunk

try:
    from gpost.read.onepass import by_letter, find_words
except ImportError:  # installed without a compiler
    from gpost.read.bycolumns import by_letter, find_words

READER = "columns" if find_words.__module__.endswith("bycolumns") else "compiled"
"""Which of the two is in use."""
Bytes = NDArray[np.uint8]


def read_block(chunk: Chunk) -> Block:
    """The block of a chunk.

    Raises SourceError for a line that can't be read.
    """
    data = _padded(chunk.data)
    line_start, line_end = _lines(chunk)
    _refuse_lone_returns(data, line_end, chunk)
    words, odd = find_words(data, line_start, line_end)
    block = Block(chunk, data, line_start, line_end, words)
    if len(odd):
        _read_odd(block, odd)
    block.counts, block.by_letter = by_letter(block.words)
    return block


def _padded(raw: bytes) -> Bytes:
    data = np.empty(len(raw) + 2 * PAD, np.uint8)
    data[:PAD] = 10
    data[-PAD:] = 10
    data[PAD:-PAD] = np.frombuffer(raw, np.uint8)
    return data


def _lines(chunk: Chunk) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    end = chunk.line_ends.astype(np.int32)
    end += PAD
    start = np.empty_like(end)
    start[:1] = PAD
    start[1:] = end[:-1] + 1
    return start, end


def _refuse_lone_returns(data: Bytes, line_end: NDArray[np.int32], chunk: Chunk) -> None:
    """A carriage return inside a line ends it for some controllers: what follows would be run or not."""
    if b"\r" not in chunk.data:
        return
    returns = np.flatnonzero(data == 13)
    lone = returns[data[returns + 1] != 10]
    if len(lone):
        line = chunk.first_line + int(np.searchsorted(line_end, lone[0]))
        raise SourceError(
            "a carriage return stands inside this line; save the file with ordinary line ends (LF or CR LF)",
            line=line,
        )


def _read_odd(block: Block, odd_lines: NDArray[np.intp]) -> None:
    """Read the odd lines one by one and put their words among those found."""
    found = OddWords()
    lines: list[int] = []
    for number in odd_lines.tolist():
        origin = int(block.line_start[number])
        words = read_line(block.line_bytes(number), block.chunk.first_line + number)
        found.letter += words.letter
        found.start += [origin + place for place in words.start]
        found.end += [origin + place for place in words.end]
        found.value += words.value
        lines += [number] * len(words.letter)
        block.odd += [OddLine(number, kind.value) for kind in words.kinds]
    block.words = _merged(block.words, found, lines)


def _merged(words: Words, found: OddWords, lines: list[int]) -> Words:
    """The words and all those found on odd lines, in the order of the file."""
    start = np.concatenate([words.start, np.array(found.start, np.int64)])
    order = np.argsort(start, kind="stable")
    return Words(
        np.concatenate([words.line, np.array(lines, np.int64)])[order],
        np.concatenate([words.letter, np.array(found.letter, np.uint8)])[order],
        start[order],
        np.concatenate([words.end, np.array(found.end, np.int64)])[order],
        np.concatenate([words.value, np.array(found.value, np.float64)])[order],
    )
