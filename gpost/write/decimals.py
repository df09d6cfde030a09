"""How many decimals the numbers in the bytes are written with, many at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gpost.read.block import Block

try:
    from gpost.write.onepass import count_decimals
except ImportError:  # installed without a compiler
    from gpost.write.figures import count_decimals

Ints = NDArray[np.int64]


def decimals_of(text: str) -> int:
    """Decimals that a number is written with, its exponent counted."""
    mantissa, _, power = text.lower().partition("e")
    return max(len(mantissa.partition(".")[2]) - int(power or 0), 0)


def decimals_of_words(block: Block, index: Ints) -> Ints:
    """Decimals of the numbers of some words, by their index; shape (k,)."""
    found = count_decimals(block.bytes, block.words, index)
    if block.odd:
        _read_odd(block, index, found)
    return found


def _read_odd(block: Block, index: Ints, decimals: Ints) -> None:
    """Numbers on odd lines may have exponents or blanks inside."""
    odd = np.zeros(block.lines, np.bool_)
    odd[[line.line for line in block.odd]] = True
    words = block.words
    for place in np.flatnonzero(odd[words.line[index]]).tolist():
        word = index[place]
        text = block.bytes[words.start[word] + 1 : words.end[word]].tobytes().decode("ascii")
        decimals[place] = decimals_of("".join(text.split()))
