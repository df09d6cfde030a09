"""Which lines hold a move and nothing else, so that they can be split in parts."""

from __future__ import annotations

import numpy as np

from gpost.read.block import Block

MAY_STAND = frozenset("NGXYZEF*")
"""Letters of a line that can be split: with any other, the line does more than move."""
OF_ARCS = frozenset("IJKR")
"""Letters that say which way an arc goes."""


def letters_of(block: Block, line: int) -> dict[str, int]:
    """Letter -> index of its (last) word on a line of the block."""
    first, end = np.searchsorted(block.words.line, [line, line + 1]).tolist()
    return {chr(block.words.letter[i]): i for i in range(first, end)}


def can_split(block: Block, line: int, motion: int, *, arcs: bool = False) -> bool:
    """Whether the move on a line of the block can be split; that of an arc only where `arcs` says so.

    motion: the motion code in force there, for a line without a G.
    """
    words, letters = block.words, letters_of(block, line)
    first, end = np.searchsorted(words.line, [line, line + 1]).tolist()
    once = end - first == len(letters)
    g = float(words.value[letters["G"]]) if "G" in letters else float(motion)
    if arcs and g in (2.0, 3.0):
        return once and letters.keys() <= MAY_STAND | OF_ARCS
    return once and letters.keys() <= MAY_STAND and bool(letters.keys() & set("XYZE")) and g in (0.0, 1.0)
