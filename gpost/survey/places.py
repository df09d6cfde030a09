"""Where the machine's place is lost or taken anew after clay has been laid: homing, motors let go."""

from __future__ import annotations

from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from gpost.motion import codes, machinecodes
from gpost.motion.follow import Follower

KEPT = 10_000
"""Lines of each kind that are remembered."""

LineNumbers: TypeAlias = NDArray[np.int64]

_NONE: LineNumbers = np.zeros(0, np.int64)
_LETS_GO = codes.CodeTable(machinecodes.LETS_GO_M)

SAME_MM = 1e-3
AT_ONCE = 100
"""So many homings of X or Y are remembered till the next bead."""


class _Homed(NamedTuple):
    """A homing of X or Y alone, until the next bead."""

    line: int
    axes: list[int]
    home_mm: NDArray[np.float64] | None
    """Where it ends, (3,); None: the next block tells."""
    laid_mm: float
    """How high the last bead before it lies."""


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
        self.homed_aside: list[int] = []
        """Lines after the first clay that home X or Y alone, the next bead begun there; the first KEPT."""
        self.homed_low: list[int] = []
        """The same no higher than the bead before, with the next begun elsewhere."""
        self._homed: list[_Homed] = []
        """After which no bead has come as yet."""
        self._laid_mm = 0.0
        """How high the last bead lies."""
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
            self._home_flat(follower)
        if len(laid):
            self._laid_mm = float(moves.end[2, laid[-1]])

    def _home_flat(self, follower: Follower) -> None:
        """Tell homings of X or Y alone by where the next bead begins, and how high the nozzle is."""
        homed, moves = [*self._homed, *self._homed_here(follower)], follower.moves
        self._homed = []
        for one in homed:
            first = int(np.searchsorted(moves.line, one.line - follower.block.chunk.first_line, side="right"))
            home_mm = one.home_mm
            if home_mm is None and first < len(moves):
                home_mm = moves.start[:, first].copy()
            laying = first + np.flatnonzero(moves.laying[first:])
            if home_mm is None or not len(laying):
                self._homed += [one._replace(home_mm=home_mm)][: AT_ONCE - len(self._homed)]
                continue
            begin_mm = moves.start[one.axes, laying[0]]
            if (np.abs(begin_mm - home_mm[one.axes]) <= SAME_MM).any():
                self.homed_aside += [one.line][: KEPT - len(self.homed_aside)]
            elif home_mm[2] <= one.laid_mm + SAME_MM:
                self.homed_low += [one.line][: KEPT - len(self.homed_low)]

    def _homed_here(self, follower: Follower) -> list[_Homed]:
        line = follower.other_line[follower.other == codes.HOME]
        if not len(line):
            return []
        moves, first_line = follower.moves, follower.block.chunk.first_line
        x, y, z = (follower.block.stands(letter)[line] for letter in "XYZ")
        found = []
        for at in np.flatnonzero((x | y) & ~z)[:KEPT].tolist():
            laid = np.flatnonzero(moves.laying[: np.searchsorted(moves.line, line[at])])
            laid_mm = float(moves.end[2, laid[-1]]) if len(laid) else self._laid_mm
            axes = [axis for axis, on in enumerate((x, y)) if on[at]]
            if first_line + int(line[at]) > (self.laid_from or 0):
                found.append(_Homed(first_line + int(line[at]), axes, None, laid_mm))
        return found


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
