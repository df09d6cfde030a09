"""How many decimals the numbers in the bytes are written with, many at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gpost.read.block import Block

Ints = NDArray[np.int64]
Places = NDArray[np.int64]

POINT = ord(".")


def decimals_of(text: str) -> int:
    """Decimals that a number is written with, its exponent counted."""
    mantissa, _, power = text.lower().partition("e")
    return max(len(mantissa.partition(".")[2]) - int(power or 0), 0)


def decimals_of_words(block: Block, index: Ints) -> Ints:
    """Decimals of the numbers of some words, by their index; shape (k,)."""
    start, last = block.words.start.take(index), block.words.end.take(index) - 1
    found = _alike(block, start, last)
    if found is None:
        found = _counted(block, start, last)
    if block.odd:
        _read_odd(block, index, found)
    return found


def _alike(block: Block, start: Places, last: Places) -> Ints | None:
    """The usual case, told from one byte of each word: all have as many decimals as the first."""
    count = int(_counted(block, start[:1], last[:1]).sum())
    point = last - count
    if count and bool((block.bytes.take(point) == POINT).all() and (point > start).all()):
        return np.full(len(last), count)
    return None


def _counted(block: Block, start: Places, last: Places) -> Ints:
    """Looks for the points of all numbers at once, from the last byte on to the left."""
    decimals, left, count = np.zeros(len(last), np.int64), np.arange(len(last)), 0
    while len(left):
        is_point = block.bytes.take(last) == POINT
        decimals[left[is_point]] = count
        more = np.flatnonzero(~is_point & (last > start))
        left, start, last, count = left[more], start[more], last[more] - 1, count + 1
    return decimals


def _read_odd(block: Block, index: Ints, decimals: Ints) -> None:
    """Numbers on odd lines may have exponents or blanks inside."""
    odd = np.zeros(block.lines, np.bool_)
    odd[[line.line for line in block.odd]] = True
    words = block.words
    for place in np.flatnonzero(odd[words.line[index]]).tolist():
        word = index[place]
        text = block.bytes[words.start[word] + 1 : words.end[word]].tobytes().decode("ascii")
        decimals[place] = decimals_of("".join(text.split()))
