"""Which laying moves start a part of the wall: by height for level layers, by turns for walls that climb."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from gpost.common.records import record
from gpost.survey.bycolumns import SAME_HEIGHT_MM
from gpost.survey.climb import Climb
from gpost.survey.loops import CLOSED_PATH
from gpost.survey.parts import FIRST_STROKES
from gpost.survey.path import LEVEL, Flags, Floats, Laying, Path, Starts

LONGEST_RUN = 200_000
"""Laying moves at one height after which no more are held back to judge them."""


@record(slots=True)
class _Runs:
    """Consecutive laying moves that end at one height, with no travel between them."""

    first: NDArray[np.int64]
    height: Floats
    open: Flags
    """Whether each is no closed ring."""
    climbs: Flags
    """Whether each belongs to a wall that may climb: open, and sloped or joined to another such run."""


class LayerFinder:
    """Decides, move by move in order, where parts start; holds back what is not yet decided.

    A run of moves at one height is level where it closes, or where the nozzle travels to it and from it. Open
    runs that slope, or that go on from one another, are a wall that climbs: its turns are found by `Climb`.
    """

    def __init__(self) -> None:
        self._open = Path.none()
        self._last_end = np.full(3, np.nan)
        self._open_before = False
        """Whether the run before the open one is open too."""
        self._height: float | None = None
        """Height of the level layer now being laid; None in a climbing section or at the start."""
        self._climb: Climb | None = None
        self._strokes = 0
        """At the height of the level layer now being laid."""
        self._queue: list[Starts] = []

    def add(self, moves: Sequence[Laying], *, last: bool = False) -> Starts:
        """Take the next laying moves, in parts; give what is settled. `last` settles everything."""
        path = self._open
        if any(map(len, moves)):
            path = path.followed(moves, self._last_end)
            self._last_end = path.end[:, -1].copy()
        self._queue = []
        if len(path):
            runs = _find_runs(path, open_before=self._open_before)
            settled = _settled(runs, path, last=last)
            end = len(path) if settled == len(runs.first) else int(runs.first[settled])
            self._decide(path.cut(0, end), runs, settled)
            self._open_before = bool(runs.open[settled - 1]) if settled else self._open_before
            self._open = path.cut(end)
        if last:
            self._end_climb()
        return Starts.join(self._queue)

    def _decide(self, path: Path, runs: _Runs, settled: int) -> None:
        """Go through stretches of runs that are alike, level or climbing."""
        bounds = np.append(runs.first[:settled], len(path))
        climbs = runs.climbs[:settled]
        edges = np.flatnonzero(climbs[1:] != climbs[:-1]) + 1
        for first, last in pairwise([0, *edges.tolist(), settled] if settled else [0]):
            part = path.cut(int(bounds[first]), int(bounds[last]))
            if climbs[first]:
                self._climbing(part)
            else:
                self._level(part, bounds[first:last] - bounds[first], runs.height[first:last])

    def _level(self, path: Path, first: NDArray[np.int64], height: Floats) -> None:
        """Level runs one after the other: where each begins among the moves, and its height."""
        before = np.inf if self._height is None else self._height
        begins = np.abs(np.diff(height, prepend=before)) > SAME_HEIGHT_MM
        starts = np.zeros(len(path), np.bool_)
        starts[first[begins]] = True
        if self._climb is not None and path.sloped[0] and path.joined[0]:
            # the last step up to this height is still the rising wall's
            self._climbing(path.cut(0, 1))
            path, starts = path.cut(1), starts[1:]
            starts[:1] = True
        self._end_climb()
        starts |= self._first_strokes(path, starts)
        self._height = float(height[-1])
        self._queue.append(Starts.of(starts, LEVEL))

    def _first_strokes(self, path: Path, levels: Flags) -> Flags:
        """Which moves begin one of the first strokes at their height; `levels`: which begin a height."""
        stroke = ~path.joined | levels
        count = np.cumsum(stroke) + self._strokes
        begin = np.maximum.accumulate(np.where(levels, count - 1, 0))
        count -= begin
        self._strokes = int(count[-1]) if len(count) else self._strokes
        return np.asarray(stroke & (count <= FIRST_STROKES))

    def _climbing(self, path: Path) -> None:
        self._height = None
        if self._climb is None:
            self._climb = Climb()
        self._queue += self._climb.add(path)

    def _end_climb(self) -> None:
        if self._climb is not None:
            self._queue += self._climb.finish()
        self._climb = None


def _find_runs(path: Path, *, open_before: bool) -> _Runs:
    z = path.end[2]
    first = np.append(0, np.flatnonzero((np.abs(np.diff(z)) > SAME_HEIGHT_MM) | ~path.joined[1:]) + 1)
    is_open = ~_closed(path, first)
    linked = path.joined[first] & is_open
    linked[0] &= open_before
    linked[1:] &= is_open[:-1]
    climbs = linked | (path.sloped[first] & is_open)
    climbs[:-1] |= linked[1:]
    return _Runs(first, z[first], is_open, climbs)


def _settled(runs: _Runs, path: Path, *, last: bool) -> int:
    """How many runs can be judged: the last may go on, and the one before hangs on it if they are joined."""
    count = len(runs.first)
    if last or len(path) - runs.first[-1] > LONGEST_RUN:
        return count
    return count - 1 - int(count > 1 and bool(path.joined[runs.first[-1]]))


def _closed(path: Path, first: NDArray[np.int64]) -> Flags:
    """Whether the level path of each run is long enough for a closed ring."""
    closed = np.zeros(len(first), np.bool_)
    level_mm = np.where(path.sloped, 0.0, path.length_mm) if path.sloped.any() else path.length_mm
    flat_mm, after = np.add.reduceat(level_mm, first), np.append(first[1:], len(path))
    # where the level path of the run begins: its first move is no part of that if it slopes
    begin = np.where(path.sloped[first], path.end[:2].take(first, axis=1), path.start[:2].take(first, axis=1))
    chord = path.end[:2].take(after - 1, axis=1) - begin
    chord *= chord
    # no box has a diagonal shorter than the chord: most runs of a climbing wall are ruled out by it
    maybe = np.flatnonzero((flat_mm > 0) & (flat_mm * flat_mm >= CLOSED_PATH**2 * (chord[0] + chord[1])))
    if not len(maybe):
        return closed
    edges = np.stack([first[maybe], after[maybe]], axis=1).ravel()
    edges = edges[:-1] if edges[-1] == len(path) else edges
    low = np.minimum(np.minimum.reduceat(path.end[:2], edges, axis=1)[:, ::2], begin[:, maybe])
    high = np.maximum(np.maximum.reduceat(path.end[:2], edges, axis=1)[:, ::2], begin[:, maybe])
    closed[maybe] = flat_mm[maybe] >= CLOSED_PATH * np.hypot(*(high - low))
    return closed
