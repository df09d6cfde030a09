"""Stretches of a block: what is laid without the nozzle being moved aside, and what lies between."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.motion.arcbox import arcs_of, boxes_mm
from gpost.motion.follow import Follower

Floats = NDArray[np.float64]
Places = NDArray[np.int64]

FEW = 64
"""So many stretches of a block are looked at one by one, which is faster than all at once."""
SAME_MM = 1e-3


class Runs(NamedTuple):
    """n stretches that are laid, in order."""

    line: NDArray[np.int64]
    """On which each begins, 0-based."""
    start: Floats
    """Where each begins, shape (3, n), machine mm."""
    low: Floats
    """The box round each, shape (3, n)."""
    high: Floats

    def some(self, which: slice | NDArray[np.int64]) -> Runs:
        """Those of them."""
        return Runs(self.line[which], self.start[:, which], self.low[:, which], self.high[:, which])


class Stretches:
    """Of the block last observed, for the families that are asked after it."""

    def __init__(self) -> None:
        self.begin: Places = np.zeros(0, np.int64)
        """The first move of each stretch of moves that all lay, shape (n,)."""
        self.end: Places = self.begin
        """The move after the last of each."""
        self.each: Runs | None = None
        """These; None: the block lays nothing."""

    def observe(self, follower: Follower, _clay_ml: Floats) -> None:
        """Look at one block."""
        moves, laying = follower.moves, follower.moves.laying
        edges = np.flatnonzero(laying[1:] != laying[:-1]) + 1
        if not len(edges) and not laying[:1].any():
            self.begin, self.end, self.each = np.zeros(0, np.int64), np.zeros(0, np.int64), None
            return
        edges = np.concatenate([[0] * int(laying[0]), edges, [len(laying)] * int(laying[-1])]).astype(
            np.int64
        )
        self.begin, self.end = edges[::2], edges[1::2]
        low, high = _boxes(follower, self.begin, self.end)
        line = moves.line[self.begin] + follower.block.chunk.first_line
        self.each = Runs(line, moves.start[:, self.begin], low, high)

    def joined(self, follower: Follower) -> Runs | None:
        """Those that go on where the one before has ended, after whatever way, as one."""
        if self.each is None or len(self.begin) == 1:
            return self.each
        moves = follower.moves
        jumps = apart(moves.start[:, self.begin[1:]], moves.end[:, self.end[:-1] - 1])
        if jumps.all():
            return self.each
        first = np.flatnonzero(np.append(True, jumps))
        low = np.minimum.reduceat(self.each.low, first, axis=1)
        high = np.maximum.reduceat(self.each.high, first, axis=1)
        return Runs(self.each.line[first], self.each.start[:, first], low, high)

    def between_low_mm(self, follower: Follower) -> tuple[Floats, Places]:
        """How low the nozzle goes before, between and after them, (k,), and how many are laid before each."""
        moves, arcs = follower.moves, arcs_of(follower)
        cuts = np.stack([self.begin, self.end], axis=1).ravel()
        before = int(not len(cuts) or cuts[0] > 0)
        cuts = np.concatenate([np.zeros(before, np.int64), cuts])
        cuts = cuts[:-1] if cuts[-1] == len(moves) else cuts
        # an arc of G18 or G19 may go lower than its ends
        low_mm = boxes_mm(follower, arcs)[0][2] if arcs else moves.end[2]
        low_mm = np.minimum.reduceat(low_mm, cuts)[1 - before :: 2]
        low_mm = np.minimum(low_mm, moves.start[2, cuts[1 - before :: 2]])
        return low_mm, np.arange(1 - before, 1 - before + len(low_mm))


def apart(one: Floats, other: Floats) -> NDArray[np.bool_]:
    """Whether two places each, (3, n), are not the same."""
    return np.asarray((np.abs(one - other) > SAME_MM).any(axis=0))


def _boxes(follower: Follower, begin: Places, end: Places) -> tuple[Floats, Floats]:
    """(low, high) of stretches of moves, from begin to end each, with all between; (3, n)."""
    moves, arcs = follower.moves, arcs_of(follower)
    low, high = boxes_mm(follower, arcs) if arcs else (moves.end, moves.end)
    if len(begin) > FEW:
        which = np.stack([begin, end], axis=1).ravel()
        which = which[:-1] if which[-1] == low.shape[1] else which
        low = np.minimum.reduceat(low, which, axis=1)[:, ::2]
        high = np.maximum.reduceat(high, which, axis=1)[:, ::2]
    else:
        each = list(zip(begin.tolist(), end.tolist(), strict=True))
        low = np.stack([low[:, first:last].min(axis=1) for first, last in each], axis=1)
        high = np.stack([high[:, first:last].max(axis=1) for first, last in each], axis=1)
    return np.minimum(low, moves.start[:, begin]), np.maximum(high, moves.start[:, begin])
