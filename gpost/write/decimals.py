"""How many decimals the numbers in the bytes are written with, many at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gpost.read.block import Block

Ints = NDArray[np.int64]

UNREADABLE = 6
"""Decimals assumed of a number with an exponent or with blanks inside."""


def decimals_of_words(block: Block, index: Ints) -> Ints:
    """Decimals of the numbers of some words, by their index; shape (k,)."""
    start, end = block.words.start[index], block.words.end[index]
    points = np.flatnonzero(block.bytes == 46)
    if not len(points):
        return np.zeros(len(index), np.int64)
    last = points[np.maximum(np.searchsorted(points, end) - 1, 0)]
    decimals = np.where((last > start) & (last < end), end - 1 - last, 0)
    if block.odd:
        odd = np.unique([line.line for line in block.odd])
        decimals[np.isin(block.words.line[index], odd)] = UNREADABLE
    return np.asarray(decimals, np.int64)
