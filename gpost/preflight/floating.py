"""Rings and strokes that begin in the air: beside all that lies below them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.config.metering import bead_width_mm
from gpost.config.model import Config
from gpost.motion.follow import Follower
from gpost.plan.intentions import Ground, Rehearse, Shift
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.preflight.stretches import SAME_MM, Runs, Stretches, apart
from gpost.preflight.wall import HIGHEST_START, SLACK_MM
from gpost.spot import Spot
from gpost.survey.beside import TOUCHING

Floats = NDArray[np.float64]

LEAST_WIDTHS = 2.0
"""Bead widths from corner to corner of its box; what is smaller is no more than a lump."""
MOST_MM = 5000
"""Higher than any wall; what is above counts as there."""
MOST_KEPT = 1000
"""Of such strokes: more are one count."""
NEARBY = 3
"""So many stretches before each are asked first: one of them most often lies below it."""


class _Found(NamedTuple):
    """One that begins beside all that is below it."""

    line: int
    over_mm: float
    """Height over the lowest that is laid before it."""
    low: Floats
    """Of its box, (3,), machine mm as sliced."""
    high: Floats


class Floating:
    """Holds each stretch against the box round all that is laid before it, from a little below on.

    One that lies beside that as a whole is told, and one that begins further beside it than a lump reaches,
    wherever it then goes. What begins no higher than a first layer may is told only beside a slab, which
    lifts it off the bed. So it says nothing where it can't be sure: of what lies over that box, though
    nothing carries it there, and of strokes after the last of the piece, which many files lay beside it.
    """

    def __init__(self, config: Config, stretches: Stretches) -> None:
        self._stretches = stretches
        self._bead_mm = bead_width_mm(config)
        self._reach_mm = HIGHEST_START * config.machine.nozzle_mm + SLACK_MM
        self._open: Runs | None = None
        """The last stretch, which may go on."""
        self._end = np.zeros((3, 1))
        """Where it ends."""
        self._low = np.full((2, MOST_MM + 1), np.inf)
        self._high = np.full((2, MOST_MM + 1), -np.inf)
        """x and y of what is laid, by the mm in which its top lies."""
        self._top = 0
        """The highest mm in which anything is laid."""
        self._lowest_mm = np.inf
        self._found: list[_Found] = []
        """As many as are worth keeping."""
        self._last: list[_Found] = []
        """Those after which nothing else has come."""

    def observe(self, follower: Follower, _clay_ml: Floats) -> None:
        """Look at one block."""
        runs, begin, end = self._stretches.joined(follower), self._stretches.begin, self._stretches.end
        if runs is None:
            return
        moves = follower.moves
        if self._open is not None:
            runs = _after(self._open, runs, joined=not apart(moves.start[:, begin[:1]], self._end)[0])
        self._open, self._end = runs.some(slice(-1, None)), moves.end[:, end[-1:] - 1].copy()
        self._judge(runs.some(slice(0, -1)))

    def _judge(self, runs: Runs) -> None:
        """Hold whole stretches against all that was laid before each of them."""
        if not len(runs.line):
            return
        lowest_mm = np.minimum.accumulate(np.append(self._lowest_mm, runs.low[2]))[1:]
        since, top = _whole_mm(runs.low[2] - self._reach_mm), _whole_mm(runs.high[2])
        large = np.hypot(*(runs.high - runs.low)[:2]) > LEAST_WIDTHS * self._bead_mm
        maybe = large & (runs.low[2] > lowest_mm + self._reach_mm)
        low_ones = large & ~maybe & (runs.low[2] > lowest_mm + SAME_MM) & self._beside_all(runs)
        # nearly all touch one of the last before them, or what counts for the highest: the rest is looked at
        for back in range(1, min(NEARBY, len(top) - 1) + 1):
            last, these = runs.some(slice(None, -back)), runs.some(slice(back, None))
            touch = self._gap_mm(these, last.low[:2], last.high[:2]) <= TOUCHING * self._bead_mm
            maybe[back:] &= ~(touch & (top[:-back] >= since[back:]))
        low, high = self._laid(int(since.max()))
        maybe &= self._gap_mm(runs, low[:, None], high[:, None]) > TOUCHING * self._bead_mm
        for at in np.flatnonzero(maybe).tolist():
            low, high = self._laid(int(since[at]))
            earlier = runs.some(np.flatnonzero(top[:at] >= since[at]))
            low = np.minimum(low, earlier.low[:2].min(axis=1, initial=np.inf))
            high = np.maximum(high, earlier.high[:2].max(axis=1, initial=-np.inf))
            gap_mm = self._gap_mm(runs.some(slice(at, at + 1)), low[:, None], high[:, None])[0]
            # what has nothing below it at all is found by the layers' heights
            maybe[at] = TOUCHING * self._bead_mm < gap_mm < np.inf
        for axis in (0, 1):
            np.minimum.at(self._low[axis], top, runs.low[axis])
            np.maximum.at(self._high[axis], top, runs.high[axis])
        self._top, self._lowest_mm = max(self._top, int(top.max())), float(lowest_mm[-1])
        self._take(runs, maybe | low_ones, runs.low[2] - lowest_mm)

    def _gap_mm(self, runs: Runs, low: Floats, high: Floats) -> Floats:
        """How far each lies beside a box, or by how much more than a lump it begins beside it, (n,)."""
        lump_mm = (LEAST_WIDTHS - TOUCHING) * self._bead_mm
        begin_mm = _gap_mm(runs.start[:2], runs.start[:2], low, high)
        return np.maximum(_gap_mm(runs.low[:2], runs.high[:2], low, high), begin_mm - lump_mm)

    def _beside_all(self, runs: Runs) -> NDArray[np.bool_]:
        """Whether each lies beside the box round all that is laid before it, at whatever height."""
        low, high = (side[:, None] for side in self._laid(0))
        low = np.minimum.accumulate(np.concatenate([low, runs.low[:2]], axis=1), axis=1)[:, :-1]
        high = np.maximum.accumulate(np.concatenate([high, runs.high[:2]], axis=1), axis=1)[:, :-1]
        gap_mm = _gap_mm(runs.low[:2], runs.high[:2], low, high)
        return np.asarray((gap_mm > TOUCHING * self._bead_mm) & (gap_mm < np.inf))

    def _laid(self, since: int) -> tuple[Floats, Floats]:
        """(low, high) of the box round all whose top lies in this mm or above, x and y, (2,) each."""
        counts = slice(since, max(self._top, since) + 1)
        return self._low[:, counts].min(axis=1), self._high[:, counts].max(axis=1)

    def _take(self, runs: Runs, floats: NDArray[np.bool_], over_mm: Floats) -> None:
        others = np.flatnonzero(~floats)
        which = np.flatnonzero(floats)
        if len(others):
            settled = which[which < others[-1]]
            self._found = [*self._found, *self._last, *_kept(runs, settled, over_mm)][:MOST_KEPT]
            self._last, which = [], which[len(settled) :]
        self._last = [*self._last, *_kept(runs, which, over_mm)][:MOST_KEPT]

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """One finding for all of them."""
        if self._open is not None:
            self._judge(self._open)
            self._open = None
        found = [
            one.line
            for one in self._found
            if one.line >= plan.since and (one.over_mm > self._reach_mm or self._beside_the_slab(one, plan))
        ]
        if found:
            height_mm = plan.survey.laid_z(Spot(found[0]))
            yield Finding("floating", "warning", found[0], (
                f"clay is laid in the air here, {height_mm or 0.0:.1f} mm up: it begins beside all that is "
                "below it, so it falls; turn the piece, or slice it so that each part grows out of one that "
                "is printed before, as a handle or a spout out of the wall"
            ), len(found))  # fmt: skip

    def _beside_the_slab(self, one: _Found, plan: Plan) -> bool:
        """Whether it lies beside all that the piece stands on, too high over the bed: where it is printed."""
        shifts = [shift for shift in plan.of(Shift) if shift.first_line <= one.line < shift.end_line]
        raised = [(0.0, 0.0, -rehearsal.raise_mm) for rehearsal in plan.of(Rehearse)]
        by_mm = np.sum([(0.0, 0.0, 0.0), *raised, *(shift.by_mm for shift in shifts)], axis=0)
        low, high = one.low + by_mm, one.high + by_mm
        grounds = [np.array([ground.x_mm, ground.y_mm]).T for ground in plan.of(Ground)]
        beside = [
            np.maximum(low[:2] - far, near - high[:2]).max() > self._bead_mm / 2 for near, far in grounds
        ]
        return bool(grounds) and all(beside) and bool(low[2] > self._reach_mm)


def _kept(runs: Runs, which: NDArray[np.int64], over_mm: Floats) -> list[_Found]:
    """Some of the stretches, no more than are worth keeping."""
    return [
        _Found(int(runs.line[at]), float(over_mm[at]), runs.low[:, at].copy(), runs.high[:, at].copy())
        for at in which[:MOST_KEPT].tolist()
    ]


def _whole_mm(height_mm: Floats) -> NDArray[np.int64]:
    return np.floor(np.minimum(np.maximum(height_mm, 0), MOST_MM)).astype(np.int64)


def _gap_mm(least: Floats, most: Floats, low: Floats, high: Floats) -> Floats:
    """How far boxes, (2, n), lie beside others, (2, n) or (2, 1), from above, (n,); below 0: they overlap."""
    return np.asarray(np.maximum(least - high, low - most).max(axis=0))


def _after(before: Runs, runs: Runs, *, joined: bool) -> Runs:
    """Stretches with the one before them, of which the first may be the rest."""
    line, start, low, high = (np.concatenate(each, axis=-1) for each in zip(before, runs, strict=True))
    if joined:
        low[:, 1], high[:, 1] = np.minimum(low[:, 0], low[:, 1]), np.maximum(high[:, 0], high[:, 1])
        line[1], start[:, 1] = line[0], start[:, 0]
    return Runs(line, start, low, high).some(slice(int(joined), None))
