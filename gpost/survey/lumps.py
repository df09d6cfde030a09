"""Beads that push far more clay than those around them: E jumps, or is counted from the wrong place."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.common.digits import few
from gpost.motion import codes
from gpost.motion.follow import Follower
from gpost.motion.modes import on_lines

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LUMP_ML = 1.0
"""So much more than its share a bead must push to be one of them: a ball of clay 12 mm wide."""
FAR, FAR_UNSET = 3.0, 1.5
"""So many times its share; the second where E is counted from 0 since nothing sets it: doubtful itself."""
BESIDE = 3
"""Beads on either side by which a bead's share is told."""
KEPT = 1000
"""Lumps that are remembered."""


class Lump(NamedTuple):
    """A bead that pushes far more than it would if it were as thick as those around it."""

    line: int
    clay_ml: float
    share_ml: float


class Lumps:
    """Goes along with the survey, block by block; how the file is cut into blocks makes no difference."""

    def __init__(self) -> None:
        self._before = self._pending = np.zeros((3, 0))
        """The last beads that are judged, and those after them: line, clay in ml, path in mm."""
        self._found: list[Lump] = []
        self._e_said = False
        self._unset_line = -1
        """The line of the first E of a move, if it is absolute and nothing has set E before."""

    def add(self, follower: Follower, laying: Ints, clay_ml: Floats) -> None:
        """Look at one block: those of its moves that lay clay, and how much; shape (k,) both."""
        if not self._e_said:
            self._look_for_e(follower)
        if not len(laying):
            return
        judges = bool((clay_ml > LUMP_ML).any() or (self._pending[1] > LUMP_ML).any())
        if not judges:  # then they count as neighbours alone
            laying, clay_ml = laying[-2 * BESIDE :], clay_ml[-2 * BESIDE :]
        line = follower.moves.line[laying] + follower.block.chunk.first_line
        new = np.stack([line.astype(np.float64), clay_ml, follower.moves.path_mm[laying]])
        self._take(new, BESIDE, judges=judges)

    def _take(self, new: Floats, later: int, *, judges: bool) -> None:
        """Judge all but the last so many beads."""
        beads = np.concatenate([self._before, self._pending, new], axis=1)
        begin = self._before.shape[1]
        end = max(beads.shape[1] - later, begin)
        if judges:
            self._judge(beads, begin, end)
        self._before, self._pending = beads[:, max(end - BESIDE, 0) : end], beads[:, end:]

    def _judge(self, beads: Floats, begin: int, end: int) -> None:
        _, clay_ml, path_mm = beads
        sums = np.cumsum(np.pad(beads[1:], ((0, 0), (1, 0))), axis=1)
        at = begin + np.flatnonzero(clay_ml[begin:end] > LUMP_ML)
        first, last = np.maximum(at - BESIDE, 0), np.minimum(at + 1 + BESIDE, len(clay_ml))
        around = [sums[:, at] - sums[:, first], sums[:, last] - sums[:, at + 1]]
        ml_per_mm = np.max([ml / np.maximum(mm, 1e-12) for ml, mm in around], axis=0)
        share_ml = ml_per_mm * path_mm[at]
        far = np.where(beads[0, at] == self._unset_line, FAR_UNSET, FAR)
        lumps = (share_ml > 0) & (clay_ml[at] > far * share_ml) & (clay_ml[at] - share_ml > LUMP_ML)
        for index in np.flatnonzero(lumps)[: KEPT - len(self._found)].tolist():
            self._found.append(
                Lump(int(beads[0, at[index]]), float(clay_ml[at[index]]), float(share_ml[index]))
            )

    def _look_for_e(self, follower: Follower) -> None:
        """Whether the first move with an E counts it from where nothing has set it."""
        lines = follower.block.said("E")[0]
        lines = lines[follower.is_move[lines]]
        sets = sets_e(follower)
        self._e_said = bool(len(lines) or len(sets))
        if len(lines) and not (len(sets) and sets[0] <= lines[0]):
            relative = on_lines(follower.e_relative, lines[:1])[0]
            self._unset_line = -1 if relative else follower.block.chunk.first_line + int(lines[0])

    def found_from(self, first_line: int) -> list[Lump]:
        """All lumps from this line on; nothing can be added any more."""
        self._take(np.zeros((3, 0)), 0, judges=True)
        return [lump for lump in self._found if lump.line >= first_line]

    def sentences(self, lumps: list[Lump]) -> Iterator[str]:
        """What these are, in one sentence."""
        if not lumps:
            return
        first = lumps[0]
        pushes = (
            f"the bead on line {first.line + 1} pushes {few(first.clay_ml)} ml, where those around it would "
            f"push {few(first.share_ml, 2)} ml over its length"
        )
        if first.line == self._unset_line:
            yield (
                f"{pushes}: E stands there for the first time and is counted from 0, since nothing sets it. "
                "Put a G92 before it, with the E from which the file goes on, or write the file again with E "
                "from 0"
            )
        else:
            more = f" (the first of {len(lumps)} such beads)" if len(lumps) > 1 else ""
            yield (
                f"{pushes}{more}: a lump of clay. Look what its E counts from (a G92 E0 too many, or a wrong "
                "digit), unless it is meant"
            )


def sets_e(follower: Follower) -> Ints:
    """Lines of the G92s that set E: by name, or as a bare one sets all; shape (k,)."""
    at = follower.other_line[follower.other == codes.SET_REGISTER]
    x, y, z, e = (follower.block.stands(letter)[at] for letter in "XYZE")
    return np.asarray(at[e | ~(x | y | z)])
