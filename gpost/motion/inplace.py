"""Which moves push clay, or draw it back, without going anywhere."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gpost.motion.follow import Follower

Flags = NDArray[np.bool_]

_LETTERS = np.array([ord(letter) for letter in "NGEF*"], np.uint8)
"""All that stands on a line which pushes and does nothing else."""


def in_place(follower: Follower) -> Flags:
    """Moves that change E and go nowhere, shape (m,)."""
    moves = follower.moves
    return np.asarray((moves.path_mm == 0) & (moves.e_mm != 0))


def alone(follower: Follower) -> Flags:
    """Of these the ones whose line holds nothing else: no code, and no place, be it where the nozzle is."""
    found = in_place(follower)
    if not found.any():
        return found
    words = follower.block.words
    busy = np.zeros(follower.block.lines, np.bool_)
    busy[words.line[~np.isin(words.letter, _LETTERS)]] = True
    busy[follower.other_line] = True
    return np.asarray(found & ~busy[follower.moves.line] & (follower.motion <= 1))
