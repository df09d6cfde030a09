"""Rings and strokes that begin in the air: beside all that lies below them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.config.metering import bead_width_mm
from gpost.config.model import Config
from gpost.motion.arcbox import arcs_of, boxes_mm
from gpost.motion.follow import Follower
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.preflight.wall import HIGHEST_START
from gpost.spot import Spot
from gpost.survey.beside import TOUCHING

Floats = NDArray[np.float64]

LEAST_WIDTHS = 2.0
"""Bead widths from corner to corner of its box; what is smaller is no more than a lump."""
MOST_MM = 5000
"""Higher than any wall; what is above counts as there."""
MOST_KEPT = 1000
"""Of such strokes: more are one count."""
FEW = 64
"""So many stretches of a block are looked at one by one, which is faster than all at once."""
NEARBY = 3
"""So many stretches before each are asked first: one of them most often lies below it."""
SAME_MM = 1e-3


class _Runs(NamedTuple):
    """n stretches that are laid without the nozzle being moved aside, in order."""

    line: NDArray[np.int64]
    """On which each begins, 0-based."""
    low: Floats
    """shape (3, n), machine mm."""
    high: Floats

    def some(self, which: slice | NDArray[np.int64]) -> _Runs:
        """Those of them."""
        return _Runs(self.line[which], self.low[:, which], self.high[:, which])


class Floating:
    """Holds the box of each stretch against that round all that is laid before it, from a little below on.

    So it says nothing where it can't be sure: of what lies over that box, though nothing carries it there,
    and of strokes after the last of the piece, which many files lay beside it.
    """

    def __init__(self, config: Config) -> None:
        self._bead_mm = bead_width_mm(config)
        self._reach_mm = HIGHEST_START * config.machine.nozzle_mm
        self._open: _Runs | None = None
        """The last stretch, which may go on."""
        self._end = np.zeros((3, 1))
        """Where it ends."""
        self._low = np.full((2, MOST_MM + 1), np.inf)
        self._high = np.full((2, MOST_MM + 1), -np.inf)
        """x and y of what is laid, by the mm in which its top lies."""
        self._top = 0
        """The highest mm in which anything is laid."""
        self._lowest_mm = np.inf
        self._found: list[int] = []
        """Lines, as many as are worth keeping."""
        self._last: list[int] = []
        """Those after which nothing else has come."""

    def observe(self, follower: Follower, _clay_ml: Floats) -> None:
        """Look at one block."""
        moves, laying = follower.moves, follower.moves.laying
        edges = np.flatnonzero(laying[1:] != laying[:-1]) + 1
        if not len(edges) and not laying[:1].any():
            return
        edges = np.concatenate([[0] * int(laying[0]), edges, [len(laying)] * int(laying[-1])]).astype(
            np.int64
        )
        start, end = edges[::2], edges[1::2]
        jumps = _apart(moves.start[:, start[1:]], moves.end[:, end[:-1] - 1])
        start, end = start[np.append(True, jumps)], end[np.append(jumps, True)]
        low, high = _boxes(follower, start, end)
        runs = _Runs(moves.line[start] + follower.block.chunk.first_line, low, high)
        if self._open is not None:
            runs = _after(self._open, runs, joined=not _apart(moves.start[:, start[:1]], self._end)[0])
        self._open, self._end = runs.some(slice(-1, None)), moves.end[:, end[-1:] - 1].copy()
        self._judge(runs.some(slice(0, -1)))

    def _judge(self, runs: _Runs) -> None:
        """Hold whole stretches against all that was laid before each of them."""
        if not len(runs.line):
            return
        lowest_mm = np.minimum.accumulate(np.append(self._lowest_mm, runs.low[2]))[1:]
        since, top = _whole_mm(runs.low[2] - self._reach_mm), _whole_mm(runs.high[2])
        maybe = runs.low[2] > lowest_mm + self._reach_mm
        maybe &= np.hypot(*(runs.high - runs.low)[:2]) > LEAST_WIDTHS * self._bead_mm
        # nearly all touch one of the last before them, or what counts for the highest: the rest is looked at
        for back in range(1, min(NEARBY, len(top) - 1) + 1):
            last, these = runs.some(slice(None, -back)), runs.some(slice(back, None))
            touch = _gap_mm(these, last.low[:2], last.high[:2]) <= TOUCHING * self._bead_mm
            maybe[back:] &= ~(touch & (top[:-back] >= since[back:]))
        low, high = self._laid(int(since.max()))
        maybe &= _gap_mm(runs, low[:, None], high[:, None]) > TOUCHING * self._bead_mm
        for at in np.flatnonzero(maybe).tolist():
            low, high = self._laid(int(since[at]))
            earlier = runs.some(np.flatnonzero(top[:at] >= since[at]))
            low = np.minimum(low, earlier.low[:2].min(axis=1, initial=np.inf))
            high = np.maximum(high, earlier.high[:2].max(axis=1, initial=-np.inf))
            gap_mm = _gap_mm(runs.some(slice(at, at + 1)), low[:, None], high[:, None])[0]
            # what has nothing below it at all is found by the layers' heights
            maybe[at] = TOUCHING * self._bead_mm < gap_mm < np.inf
        for axis in (0, 1):
            np.minimum.at(self._low[axis], top, runs.low[axis])
            np.maximum.at(self._high[axis], top, runs.high[axis])
        self._top, self._lowest_mm = max(self._top, int(top.max())), float(lowest_mm[-1])
        self._take(runs.line, maybe)

    def _laid(self, since: int) -> tuple[Floats, Floats]:
        """(low, high) of the box round all whose top lies in this mm or above, x and y, (2,) each."""
        counts = slice(since, max(self._top, since) + 1)
        return self._low[:, counts].min(axis=1), self._high[:, counts].max(axis=1)

    def _take(self, line: NDArray[np.int64], floats: NDArray[np.bool_]) -> None:
        others = np.flatnonzero(~floats)
        if len(others):
            last = int(others[-1])
            self._found = [*self._found, *self._last, *line[:last][floats[:last]].tolist()][:MOST_KEPT]
            self._last = []
            line, floats = line[last:], floats[last:]
        self._last = [*self._last, *line[floats].tolist()][:MOST_KEPT]

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """One finding for all of them."""
        if self._open is not None:
            self._judge(self._open)
            self._open = None
        found = [line for line in self._found if line >= plan.since]
        if found:
            height_mm = plan.survey.laid_z(Spot(found[0]))
            yield Finding("floating", "warning", found[0], (
                f"clay is laid in the air here, {height_mm or 0.0:.1f} mm up: it lies beside all that is "
                "below it, so it falls; turn the piece, or slice it so that each part grows out of one that "
                "is printed before, as a handle or a spout out of the wall"
            ), len(found))  # fmt: skip


def _whole_mm(height_mm: Floats) -> NDArray[np.int64]:
    return np.floor(np.minimum(np.maximum(height_mm, 0), MOST_MM)).astype(np.int64)


def _gap_mm(runs: _Runs, low: Floats, high: Floats) -> Floats:
    """How far each lies beside a box, (2, n) or (2, 1), seen from above, (n,); below 0 where they overlap."""
    return np.asarray(np.maximum(runs.low[:2] - high, low - runs.high[:2]).max(axis=0))


def _apart(one: Floats, other: Floats) -> NDArray[np.bool_]:
    """Whether two places each, (3, n), are not the same."""
    return np.asarray((np.abs(one - other) > SAME_MM).any(axis=0))


def _boxes(follower: Follower, start: NDArray[np.int64], end: NDArray[np.int64]) -> tuple[Floats, Floats]:
    """(low, high) of stretches of moves, from start to end each, with all between; (3, n)."""
    moves, arcs = follower.moves, arcs_of(follower)
    low, high = boxes_mm(follower, arcs) if arcs else (moves.end, moves.end)
    if len(start) > FEW:
        which = np.stack([start, end], axis=1).ravel()
        which = which[:-1] if which[-1] == low.shape[1] else which
        low = np.minimum.reduceat(low, which, axis=1)[:, ::2]
        high = np.maximum.reduceat(high, which, axis=1)[:, ::2]
    else:
        each = list(zip(start.tolist(), end.tolist(), strict=True))
        low = np.stack([low[:, first:last].min(axis=1) for first, last in each], axis=1)
        high = np.stack([high[:, first:last].max(axis=1) for first, last in each], axis=1)
    return np.minimum(low, moves.start[:, start]), np.maximum(high, moves.start[:, start])


def _after(before: _Runs, runs: _Runs, *, joined: bool) -> _Runs:
    """Stretches with the one before them, of which the first may be the rest."""
    line, low, high = (np.concatenate(each, axis=-1) for each in zip(before, runs, strict=True))
    if joined:
        low[:, 1], high[:, 1] = np.minimum(low[:, 0], low[:, 1]), np.maximum(high[:, 0], high[:, 1])
        line[1] = line[0]
    return _Runs(line, low, high).some(slice(int(joined), None))
