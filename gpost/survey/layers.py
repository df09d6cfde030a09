"""Which laying move starts a layer: from heights for level layers, from turns for walls that rise or wave."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from gpost.survey.pieces import PieceCounter
from gpost.survey.turns import TurnFinder

Floats = NDArray[np.float64]

SAME_HEIGHT_MM = 1e-6
CLOSED_PATH = 1.9
"""A run at one height is a layer if its path is this many diagonals of its own bounding box: a closed
ring has 2.2 or more, a three-quarter ring 1.7, a straight stroke 1."""

CLEAR_STEP_MM = 0.2
"""A step of height that is a layer's, not the last digit of a rising wall's."""

LONGEST_RUN = 400_000
"""Laying moves at one height after which no more are held back to judge them."""

LEVEL, TURN = 0, 1


@dataclass(slots=True)
class Laying:
    """n laying moves: ends (3, n) and starts (3, n) in machine mm, path lengths (n,)."""

    start: Floats
    end: Floats
    length_mm: Floats

    def __len__(self) -> int:
        return len(self.length_mm)

    def cut(self, first: int, last: int | None = None) -> Laying:
        """Part of it."""
        return Laying(self.start[:, first:last], self.end[:, first:last], self.length_mm[first:last])

    @staticmethod
    def join(parts: Sequence[Laying]) -> Laying:
        """Parts, one after the other; at least one."""
        filled = [part for part in parts if len(part)] or [parts[0]]
        if len(filled) == 1:
            return filled[0]
        return Laying(
            np.concatenate([part.start for part in filled], axis=1),
            np.concatenate([part.end for part in filled], axis=1),
            np.concatenate([part.length_mm for part in filled]),
        )


@dataclass(slots=True)
class Starts:
    """For settled laying moves, oldest first: whether each starts a layer, and the layer's kind."""

    starts: NDArray[np.bool_]
    kind: NDArray[np.uint8]


@dataclass(slots=True)
class _Runs:
    """Consecutive laying moves that end at one height."""

    first: NDArray[np.int64]
    height: Floats
    level: NDArray[np.bool_]


class LayerFinder:
    """Decides, move by move in order, where layers start; holds back what is not yet decided."""

    def __init__(self) -> None:
        self._open = Laying(np.zeros((3, 0)), np.zeros((3, 0)), np.zeros(0))
        self._before: float | None = None
        """Height of the run before the open one."""
        self._height: float | None = None
        """Height of the level layer now being laid; None in a rising section or at the start."""
        self._turns: TurnFinder | None = None
        self._turn = -1
        self._pieces = PieceCounter()
        self._queue: list[Starts] = []
        self._any = False
        self.lost_turns = False
        """Whether part of the wall rises without going round."""

    @property
    def pieces(self) -> int:
        """Pieces laid one after the other so far."""
        return self._pieces.count

    def add(self, moves: Sequence[Laying], *, last: bool = False) -> Starts:
        """Take the next laying moves, in parts; give what is settled. `last` settles everything."""
        buffer = Laying.join([self._open, *moves])
        self._queue = [Starts(np.zeros(0, np.bool_), np.zeros(0, np.uint8))]
        if len(buffer):
            runs = _find_runs(buffer, self._before, closed=last)
            closed = len(runs.first) if last or len(buffer) > LONGEST_RUN else len(runs.first) - 1
            end = len(buffer) if closed == len(runs.first) else int(runs.first[closed])
            self._decide(buffer.cut(0, end), runs, closed)
            self._before = float(runs.height[closed - 1]) if closed else self._before
            self._open = buffer.cut(end)
        if last:
            self._end_section()
        return Starts(
            np.concatenate([part.starts for part in self._queue]),
            np.concatenate([part.kind for part in self._queue]),
        )

    def _decide(self, moves: Laying, runs: _Runs, closed: int) -> None:
        """Go through stretches of runs that are alike, level or rising."""
        bounds = np.append(runs.first[:closed], len(moves))
        level = runs.level[:closed]
        edges = np.flatnonzero(level[1:] != level[:-1]) + 1
        for first, last in pairwise([0, *edges.tolist(), closed] if closed else [0]):
            part = moves.cut(int(bounds[first]), int(bounds[last]))
            if level[first]:
                self._level(part, bounds[first:last] - bounds[first], runs.height[first:last])
            else:
                self._rising(part)

    def _level(self, moves: Laying, first: NDArray[np.int64], height: Floats) -> None:
        """Level runs one after the other: where each begins among the moves, and its height."""
        before = np.inf if self._height is None else self._height
        begins = np.abs(np.diff(height, prepend=before)) > SAME_HEIGHT_MM
        starts = np.zeros(len(moves), np.bool_)
        starts[first[begins]] = True
        if self._turns is not None and abs(moves.start[2, 0] - height[0]) > SAME_HEIGHT_MM:
            # the last step up to this height is still the rising wall's
            self._rising(moves.cut(0, 1))
            moves, starts = moves.cut(1), starts[1:]
            starts[0] = True
        self._end_section()
        self._pieces.add(moves.start, moves.end)
        self._height = float(height[-1])
        self._put(starts, LEVEL)

    def _rising(self, moves: Laying) -> None:
        """Moves of a rising section; where the nozzle has gone to another piece a new section begins."""
        self._height = None
        bounds = [0, *self._pieces.add(moves.start, moves.end), len(moves)]
        for place, (first, last) in enumerate(pairwise(bounds)):
            if place:
                self._end_section()
            if first == last:
                continue
            if self._turns is None:
                self._turns, self._turn = TurnFinder(), -1
            self._number(self._turns.add(moves.start[:2, first], moves.end[:2, first:last]))

    def _number(self, turn: NDArray[np.int64]) -> None:
        if len(turn):
            self._put(np.diff(turn, prepend=self._turn) > 0, TURN)
            self._turn = int(turn[-1])

    def _end_section(self) -> None:
        if self._turns is None:
            return
        self._number(self._turns.finish())
        self.lost_turns |= self._turns.lost
        self._turns = None

    def _put(self, starts: NDArray[np.bool_], kind: int) -> None:
        if not self._any and len(starts):
            starts[0] = True
            self._any = True
        self._queue.append(Starts(starts, np.full(len(starts), kind, np.uint8)))


def _find_runs(moves: Laying, before: float | None, *, closed: bool) -> _Runs:
    """Runs of one end height, and which of them are level layers.

    `before` is the height of the run before, if any; `closed` says that no moves will follow.
    """
    z = moves.end[2]
    change = np.abs(np.diff(z)) > SAME_HEIGHT_MM
    first = np.concatenate([[0], np.flatnonzero(change) + 1])
    sloped = np.abs(z - moves.start[2]) > SAME_HEIGHT_MM
    flat_path = np.add.reduceat(np.where(sloped, 0.0, moves.length_mm), first)
    came_sloped = sloped[first]
    went_sloped = np.append(came_sloped[1:], not closed)
    level = ~came_sloped & ~went_sloped
    level[_closed(moves, first, flat_path)] = True
    step = np.abs(np.diff(z[first], prepend=z[0] if before is None else before))
    level |= (step > CLEAR_STEP_MM) & (flat_path > 10 * moves.length_mm[first]) & came_sloped
    return _Runs(first, z[first], level)


def _closed(moves: Laying, first: NDArray[np.int64], flat_path: Floats) -> NDArray[np.int64]:
    """The runs whose level path is long enough for a closed ring, by their index."""
    x, y = moves.end[0], moves.end[1]
    after = np.append(first[1:], len(moves))
    chord = np.hypot(x[after - 1] - x[first], y[after - 1] - y[first])
    # no box has a diagonal shorter than the chord: most runs of a rising wall are ruled out by it
    maybe = np.flatnonzero((flat_path > 0) & (flat_path >= CLOSED_PATH * chord))
    if not len(maybe):
        return maybe
    edges = np.stack([first[maybe], after[maybe]], axis=1).ravel()
    edges = edges[:-1] if edges[-1] == len(moves) else edges
    diagonal = np.hypot(_extent(x, edges), _extent(y, edges))
    return maybe[flat_path[maybe] >= CLOSED_PATH * diagonal]


def _extent(column: Floats, edges: NDArray[np.int64]) -> Floats:
    """Highest less lowest between each two edges, first and second, third and fourth, and so on."""
    # the start of a run's first move belongs to its box only if that move is level; the ends are enough
    return np.asarray((np.maximum.reduceat(column, edges) - np.minimum.reduceat(column, edges))[::2])
