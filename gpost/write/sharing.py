"""The words that a rehearsal takes out of a line which moves as well; the move stays."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gpost.common.among import among
from gpost.motion.follow import Follower
from gpost.write.harmless import sets

Ints = NDArray[np.int64]
_LETTERS = np.array([ord(letter) for letter in "NGMXYZEFIJKRSP*"], np.int64)
"""All that stands on a line which moves, and switches something by a number."""


def beside_moves(follower: Follower, lines: Ints) -> tuple[Ints, Ints]:
    """(Which of these lines only move beside one M code, the words there of that code).

    Lines hold a code that is to go; M, and S and P, which no straight move has, are its words then. What
    else a line may mean, by a text, another code or the turns of an arc, is nobody's guess.
    """
    block, words = follower.block, follower.block.words
    codes_there = np.bincount(words.line[block.of("M")], minlength=block.lines)
    arcs = np.zeros(block.lines, np.bool_)
    arcs[follower.moves.line[follower.motion > 1]] = True
    plain = follower.is_move & (codes_there == 1)
    plain &= ~np.where(arcs, block.stands("P"), block.stands("R"))
    plain &= ~sets(follower, pushed=False)
    plain[follower.other_line] = False
    plain[words.line[~among(words.letter.astype(np.int64), _LETTERS)]] = False
    plain[[odd.line for odd in block.odd]] = False
    found = lines[plain[lines]]
    of_code = np.sort(np.concatenate([block.of(letter) for letter in "MSP"]))
    return found, of_code[among(words.line[of_code], found)]
