"""Which laying move starts a layer: from heights for level layers, from turns for walls that rise or wave."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

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

DROP_MM = 1.0
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

    def joined(self, more: Laying) -> Laying:
        """This and what follows it."""
        if not len(self):
            return more
        return Laying(
            np.concatenate([self.start, more.start], axis=1),
            np.concatenate([self.end, more.end], axis=1),
            np.concatenate([self.length_mm, more.length_mm]),
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
    sloped: NDArray[np.bool_]
    """Whether the run's first move climbs to its height."""


@dataclass(slots=True)
class LayerFinder:
    """Decides, move by move in order, where layers start; holds back what is not yet decided."""

    _open: Laying = field(
        default_factory=lambda: Laying(np.zeros((3, 0)), np.zeros((3, 0)), np.zeros(0))
    )
    _height: float | None = None
    """Height of the level layer now being laid; None in a rising section or at the start."""
    _turns: TurnFinder | None = None
    _turn: int = -1
    _top: float = -np.inf
    _band: float = 1.0
    pieces: int = 1
    lost_turns: bool = False
    _queue: list[Starts] = field(default_factory=list)
    _held: int = 0
    """Moves of the rising section whose turn is not settled."""
    _any: bool = False

    def add(self, moves: Laying, *, last: bool = False) -> Starts:
        """Take the next laying moves; give what is settled. `last` settles everything."""
        buffer = self._open.joined(moves)
        self._queue = []
        if len(buffer):
            runs = _find_runs(buffer, closed=last)
            closed = len(runs.first) if last or len(buffer) > LONGEST_RUN else len(runs.first) - 1
            end = len(buffer) if closed == len(runs.first) else int(runs.first[closed])
            self._decide(buffer, runs, closed, end)
            self._open = buffer.cut(end)
        if last:
            self._end_section()
        if not self._queue:
            return Starts(np.zeros(0, np.bool_), np.zeros(0, np.uint8))
        return Starts(
            np.concatenate([part.starts for part in self._queue]),
            np.concatenate([part.kind for part in self._queue]),
        )

    def _decide(self, buffer: Laying, runs: _Runs, closed: int, end: int) -> None:
        """Go through stretches of runs that are alike: level runs one by one, others together."""
        bounds = np.append(runs.first, len(buffer))
        index = 0
        while index < closed:
            if runs.level[index]:
                first, last = int(bounds[index]), int(bounds[index + 1])
                if self._turns is not None and runs.sloped[index]:
                    # the last step up to this height is still the rising wall's
                    self._rising(buffer.cut(first, first + 1))
                    first += 1
                self._end_section()
                self._level(buffer.cut(first, last), float(runs.height[index]))
                index += 1
                continue
            after = np.flatnonzero(runs.level[index:closed])
            stop = index + int(after[0]) if len(after) else closed
            self._rising(buffer.cut(int(bounds[index]), min(int(bounds[stop]), end)))
            index = stop

    def _level(self, run: Laying, height: float) -> None:
        starts = np.zeros(len(run), np.bool_)
        starts[0] = self._height is None or abs(height - self._height) > SAME_HEIGHT_MM
        self._look_for_new_piece(run, height)
        if self._height is not None and height > self._height + CLEAR_STEP_MM:
            self._band = height - self._height
        self._height = height
        self._top = max(self._top, height)
        self._put(starts, LEVEL)

    def _look_for_new_piece(self, run: Laying, height: float) -> None:
        came_flying = abs(run.start[2, 0] - height) <= SAME_HEIGHT_MM
        if came_flying and height < self._top - max(DROP_MM, 1.5 * self._band):
            self.pieces += 1
            self._top = height

    def _rising(self, part: Laying) -> None:
        if self._turns is None:
            self._turns, self._turn = TurnFinder(), -1
            self._look_for_new_piece(part, float(part.start[2, 0]))
        self._height = None
        self._top = max(self._top, float(part.end[2].max()))
        self._held += len(part)
        self._number(self._turns.add(part.start[:2, 0], part.end[:2]))
        if self._turns.lost:
            self.lost_turns = True

    def _number(self, turn: NDArray[np.int64]) -> None:
        if not len(turn):
            return
        self._held -= len(turn)
        starts = np.diff(turn, prepend=self._turn) > 0
        self._turn = int(turn[-1])
        self._put(starts, TURN)

    def _end_section(self) -> None:
        if self._turns is None:
            return
        self._number(self._turns.finish())
        self._turns = None
        self._height = None

    def _put(self, starts: NDArray[np.bool_], kind: int) -> None:
        if not self._any and len(starts):
            starts[0] = True
            self._any = True
        self._queue.append(Starts(starts, np.full(len(starts), kind, np.uint8)))


def _find_runs(moves: Laying, *, closed: bool) -> _Runs:
    """Runs of one end height, and which of them are level layers."""
    z = moves.end[2]
    change = np.abs(np.diff(z)) > SAME_HEIGHT_MM
    first = np.concatenate([[0], np.flatnonzero(change) + 1])
    sloped = np.abs(z - moves.start[2]) > SAME_HEIGHT_MM
    flat_path = np.add.reduceat(np.where(sloped, 0.0, moves.length_mm), first)
    diagonal = np.hypot(_extent(moves, 0, first), _extent(moves, 1, first))
    came_sloped = sloped[first]
    went_sloped = np.append(came_sloped[1:], False if closed else True)
    level = (flat_path > 0) & (flat_path >= CLOSED_PATH * diagonal)
    level |= ~came_sloped & ~went_sloped
    step = np.abs(np.diff(z[first], prepend=z[0]))
    level |= (step > CLEAR_STEP_MM) & (flat_path > 10 * moves.length_mm[first]) & came_sloped
    return _Runs(first, z[first], level, came_sloped)


def _extent(moves: Laying, axis: int, first: NDArray[np.int64]) -> Floats:
    # the start of a run's first move belongs to its box only if that move is level; the ends are enough
    column = moves.end[axis]
    return np.asarray(np.maximum.reduceat(column, first) - np.minimum.reduceat(column, first))
