"""Lets the layer finder see arcs in full: as short straight steps, whose answers become the arcs' again."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from gpost.motion.arcbox import PlaneArcs
from gpost.survey.path import Laying, Starts

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]

STEP = math.radians(30)
"""An arc that sweeps no more stands as one step."""

ROUNDING = 1e-6
LEVEL_PLANE = 17
"""An arc in an upright plane goes round nothing, seen from above."""

AT, CENTRE_X, CENTRE_Y, RADIUS, ANGLE, SWEEP = range(6)
"""Rows of the arcs that are known; SWEEP is above 0 counter-clockwise."""


class ArcSteps:
    """Stands between the blocks and the layer finder: `note` each block, `spread` moves, `gather` answers.

    The ends of an arc of half a turn or more don't tell which way it goes round, nor whether it does.
    A file without arcs passes as it is.
    """

    def __init__(self) -> None:
        self._noted = self._spread = 0
        """Laying moves noted, and those of them spread."""
        self._arcs = np.zeros((6, 0))
        """Arcs noted and not yet spread; AT is counted in laying moves of the file."""
        self._waiting = 0
        """Moves spread and not yet gathered, as long as there were no arcs."""
        self._steps: Counts | None = None
        """Once there are arcs: the steps of each move spread and not yet gathered, oldest first."""
        self._answers = Starts(np.zeros(0, np.bool_), np.zeros(0, np.uint8))
        """For steps of moves not yet gathered."""
        self._begun = False
        """Whether a layer starts in the second half of the last move gathered."""

    def note(self, laying: NDArray[np.bool_], arcs: Sequence[PlaneArcs]) -> None:
        """Remember the arcs of one block that lay clay; `laying`: whether each of its moves does."""
        for group in arcs:
            which = np.flatnonzero(laying[group.at] & (group.sweep > STEP))
            if group.plane == LEVEL_PLANE and len(which):
                at = self._noted + np.cumsum(laying)[group.at[which]] - 1
                self._arcs = np.concatenate([self._arcs, _columns(group, which, at)], axis=1)
        self._noted += int(np.count_nonzero(laying))

    def spread(self, moves: Sequence[Laying], whole: int) -> Sequence[Laying]:
        """The next laying moves, in parts, each arc among them as steps of equal length.

        `whole`: how many of the file's they are. Where that is more than there are, so many wait for an
        answer that some are held as one, and no arc is looked at in full.
        """
        here = int(np.searchsorted(self._arcs[AT], self._spread + whole))
        arcs, self._arcs = self._arcs[:, :here], self._arcs[:, here:]
        count = sum(map(len, moves))
        if whole > count:
            arcs = arcs[:, :0]
        at = arcs[AT].astype(np.int64) - self._spread
        self._spread += whole
        if self._steps is None and not len(at):
            self._waiting += count
            return moves
        steps = np.ones(count, np.int64)
        # an even number, so that the middle of the arc is where a step starts
        steps[at] = 2 * np.ceil(np.abs(arcs[SWEEP]) / (2 * STEP) - ROUNDING).astype(np.int64)
        before = np.ones(self._waiting, np.int64) if self._steps is None else self._steps
        self._steps = np.concatenate([before, steps])
        return [_stepped(Laying.join(moves), steps, at, arcs)] if len(at) else moves

    def gather(self, answers: Starts) -> Starts:
        """Answers for whole moves from those for steps: a move lies in the layer in which its middle lies.

        For an arc, the first step after its middle is asked, so that a middle on the seam itself is no doubt;
        a middle less than half a step before the seam then counts as beyond it.
        """
        if self._steps is None:
            self._waiting -= len(answers.starts)
            return answers
        starts = np.concatenate([self._answers.starts, answers.starts])
        kind = np.concatenate([self._answers.kind, answers.kind])
        ends = np.cumsum(self._steps)
        done = int(np.searchsorted(ends, len(starts), side="right"))
        upto = int(ends[done - 1]) if done else 0
        middle = (ends - (self._steps + 1) // 2)[:done]
        self._answers = Starts(starts[upto:], kind[upto:])
        self._steps = self._steps[done:]
        if not done:
            return Starts(starts[:0], kind[:0])
        begun = np.cumsum(starts[:upto])
        own = np.diff(begun[middle], prepend=-int(self._begun)) > 0
        self._begun = bool(begun[-1] > begun[middle[-1]])
        return Starts(own, kind[middle])


def _columns(arcs: PlaneArcs, which: NDArray[np.int64], at: Counts) -> Floats:
    """Some of a plane's arcs as columns, shape (6, k)."""
    x, y = arcs.centre_mm[:, which]
    sweep = (arcs.turn * arcs.sweep)[which]
    return np.stack([at.astype(np.float64), x, y, arcs.radius_mm[which], arcs.angle[which], sweep])


def _stepped(moves: Laying, steps: Counts, at: Counts, arcs: Floats) -> Laying:
    """The moves, of which those `at` are arcs, with so many steps each."""
    start, end = (np.repeat(side, steps, axis=1) for side in (moves.start, moves.end))
    count = steps[at]
    arc = np.repeat(np.arange(len(at)), count)
    number = np.arange(len(arc)) - np.repeat(np.cumsum(count) - count, count)
    place = np.repeat((np.cumsum(steps) - steps)[at], count) + number
    inner = number > 0
    arc, number, place = arc[inner], number[inner], place[inner]
    share = number / count[arc]
    angle = arcs[ANGLE, arc] + arcs[SWEEP, arc] * share
    point = np.stack([
        arcs[CENTRE_X, arc] + arcs[RADIUS, arc] * np.cos(angle),
        arcs[CENTRE_Y, arc] + arcs[RADIUS, arc] * np.sin(angle),
        start[2, place] + (end[2, place] - start[2, place]) * share,
    ])  # fmt: skip
    start[:, place] = end[:, place - 1] = point
    return Laying(start, end, np.repeat(moves.length_mm / steps, steps))
