"""Where a block sets an axis without moving it: G92, G28 and G92.1, by the axes that they concern."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gpost.motion import codes
from gpost.motion.follow import Follower

Ints = NDArray[np.int64]


def setters(follower: Follower, letter: str) -> tuple[Ints, Ints]:
    """(line within the block, code times ten) of what sets the axis, in order.

    A G92 without axis words sets all of them, a bare G28 homes X, Y and Z; of E only G92 is told.
    """
    special = follower.special
    line = np.array(sorted(special), np.int64)
    code = np.array([special[at] for at in line.tolist()], np.int64)
    if not len(line):
        return line, code
    stands = {axis: _stands(follower, axis, line) for axis in "XYZE"}
    place = stands["X"] | stands["Y"] | stands["Z"]
    concerns = (code == codes.SET_REGISTER) & (stands[letter] | ~(place | stands["E"]))
    if letter != "E":
        concerns |= (code == codes.HOME) & (stands[letter] | ~place)
        concerns |= code == codes.CLEAR_OFFSETS
    return line[concerns], code[concerns]


def _stands(follower: Follower, letter: str, line: Ints) -> NDArray[np.bool_]:
    """Whether a letter stands on each of some lines."""
    found = np.zeros(follower.block.lines, np.bool_)
    found[follower.axis[letter][0]] = True
    return np.asarray(found[line])
