"""Where the machine's place is lost or taken anew after clay has been laid: homing of Z, motors let go."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from gpost.motion import codes, machinecodes
from gpost.motion.follow import Follower

KEPT = 10_000
"""Lines of each kind that are remembered."""

LineNumbers: TypeAlias = NDArray[np.int64]

_NONE: LineNumbers = np.zeros(0, np.int64)
_LETS_GO = codes.CodeTable(machinecodes.LETS_GO_M)


class PlacesLost:
    """Goes along with the survey, block by block; lines are 0-based."""

    def __init__(self) -> None:
        self.laid_from: int | None = None
        """The first line that lays clay, the file's own prime too."""
        self.laid_until = 0
        """The line after the last that lays clay."""
        self.moves_until = 0
        """The line after the last that moves."""
        self.homings: list[int] = []
        """Lines after the first clay that home Z once more; the first KEPT."""
        self.let_go: list[int] = []
        """The same for lines that let the motors of X, Y or Z go."""
        self._placed: int | None = None
        """The first line that homes Z or sets it."""

    def homed_since(self, begin: int) -> int | None:
        """The first line from `begin` on that homes Z, with clay after it."""
        return next((line for line in self.homings if begin <= line < self.laid_until), None)

    def add(self, follower: Follower) -> None:
        """Look at one block."""
        first_line, moves = follower.block.chunk.first_line, follower.moves
        if len(moves):
            self.moves_until = first_line + int(moves.line[-1]) + 1
        laid = np.flatnonzero(moves.laying)
        if len(laid):
            self.laid_until = first_line + int(moves.line[laid[-1]]) + 1
            if self.laid_from is None:
                self.laid_from = first_line + int(moves.line[laid[0]])
        homings = _of_z(follower, codes.HOME, "XYZ") + first_line
        if self._placed is None:
            sets = _of_z(follower, codes.SET_REGISTER, "XYZE") + first_line
            self._placed = min([*homings[:1].tolist(), *sets[:1].tolist()], default=None)
        if self.laid_from is not None:
            again = homings[homings > self._placed] if self._placed is not None else homings
            for kept, lines in ((self.homings, again), (self.let_go, _let_go(follower) + first_line)):
                kept += lines[lines > self.laid_from][: KEPT - len(kept)].tolist()


def _of_z(follower: Follower, code: int, letters: str) -> LineNumbers:
    """Lines of a block on which this code means Z: by name, or as none of these axes is named."""
    line = follower.other_line[follower.other == code]
    if not len(line):
        return _NONE
    named = np.stack([follower.block.stands(letter)[line] for letter in letters])
    return np.asarray(line[follower.block.stands("Z")[line] | ~named.any(axis=0)])


def _let_go(follower: Follower) -> LineNumbers:
    """Lines of a block that let the motors of X, Y or Z go, now and not after a time."""
    line = follower.m_line[_LETS_GO(follower.m) > 0]
    if not len(line):
        return _NONE
    x, y, z, e, later = (follower.block.stands(letter)[line] for letter in "XYZES")
    return np.asarray(line[~later & (x | y | z | ~e)])
