"""Which lines hold a straight move and nothing else, so that they can be split in parts."""

from __future__ import annotations

import numpy as np

from gpost.read.block import Block

MAY_STAND = frozenset("NGXYZEF*")
"""Letters of a line that can be split: with any other, the line does more than move."""


def letters_of(block: Block, line: int) -> dict[str, int]:
    """Letter -> index of its (last) word on a line of the block."""
    first, end = np.searchsorted(block.words.line, [line, line + 1]).tolist()
    return {chr(block.words.letter[i]): i for i in range(first, end)}


def can_split(block: Block, line: int, motion: int) -> bool:
    """Whether the move on a line of the block can be split; not so an arc.

    motion: the motion code in force there, for a line without a G.
    """
    words, letters = block.words, letters_of(block, line)
    first, end = np.searchsorted(words.line, [line, line + 1]).tolist()
    once = end - first == len(letters)
    g = float(words.value[letters["G"]]) if "G" in letters else float(motion)
    return once and letters.keys() <= MAY_STAND and bool(letters.keys() & set("XYZE")) and g in (0.0, 1.0)
