"""Moves added up, told apart and wound round a centre, with numpy: where there was no compiler.

Else gpost/survey/onepass.pyx gives the very same.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gpost.survey.loops import FULL_TURN, angle_of, wrapped
from gpost.survey.rows import CLAY, CRUISE, HEIGHT, LAID, LAYING, PATH, SUMS, TIME, TRAVEL, Amount, Rows

if TYPE_CHECKING:
    from gpost.survey.path import Path

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Ints = NDArray[np.int64]

SAME_HEIGHT_MM = 1e-6
SAME_PLACE_MM = 1e-3
CLEAR_STEP_MM = 0.2
"""A step of height that is a layer's, not the last digit of a rising wall's, nor one of many fine stairs."""

LIFT_MM = 0.6
"""A step of height as from one turn to the next, not from one stroke of a stair to the next."""


def added_up(rows: Rows, at: Ints) -> tuple[Floats, Floats, Floats]:
    """Sums over the moves from each of `at` to the next, and the box of what they lay: low, high.

    `at`: rising, from 0 on, (k,). Gives (k, len(SUMS)), (k, 3), (k, 3).
    """
    every = laid = np.add.reduceat(rows.amounts, at, axis=1)
    low, high = np.minimum(*rows.corners()), np.maximum(*rows.corners())
    height = (rows.start[2] + rows.end[2]) * rows.amounts[Amount.LENGTH_MM]
    if not rows.laying.all():
        away = np.flatnonzero(~rows.laying)
        laid = np.add.reduceat(rows.amounts * rows.laying, at, axis=1)
        low[:, away], high[:, away], height[away] = np.inf, -np.inf, 0.0
    found = np.empty((len(at), len(SUMS)))
    found[:, CLAY], found[:, LAID] = every[Amount.CLAY_ML], laid[Amount.CLAY_ML]
    found[:, PATH] = laid[Amount.LENGTH_MM]
    found[:, TIME] = every[Amount.TIME_S] + every[Amount.WAIT_S]
    found[:, CRUISE], found[:, LAYING] = laid[Amount.CRUISE_S], laid[Amount.TIME_S]
    found[:, TRAVEL] = every[Amount.LENGTH_MM] - laid[Amount.LENGTH_MM]
    found[:, HEIGHT] = np.add.reduceat(height, at) / 2
    return found, np.minimum.reduceat(low, at, axis=1).T, np.maximum.reduceat(high, at, axis=1).T


def flags(start: Floats, end: Floats, before: Floats) -> tuple[Flags, Flags, Flags, Flags]:
    """(joined, step, sloped, apart) of laying moves (3, n) after one that ended at `before`, each (n,).

    `step`: whether a small step by Z alone comes just before the move. The others as in `Path`.
    """
    came_from = np.empty_like(end)
    came_from[:, :1], came_from[:, 1:] = before[:, None], end[:, :-1]
    off = np.abs(start - came_from)
    joined = (off[0] <= SAME_PLACE_MM) & (off[1] <= SAME_PLACE_MM)
    step = joined & (off[2] <= CLEAR_STEP_MM) & (off[2] > SAME_HEIGHT_MM)
    begin = np.where(step, came_from[2], start[2]) if step.any() else start[2]
    return joined, step, np.abs(end[2] - begin) > SAME_HEIGHT_MM, ~joined | (off[2] > LIFT_MM)


def wound(
    path: Path, centre: Floats, lean: Floats, turn_mm: float, before: float, furthest: float
) -> tuple[Floats, Floats, Ints]:
    """(angle wound since the seam at each move's end, the most before and there, the turn of each move).

    A path of n moves gives (n,), (n + 1,) and (n,). `before`, `furthest`: both as they were where it starts.
    The centre (2,) goes on by the lean (2,) in each turn_mm of path; angles are in rad.
    """
    points, _, ends = path.points()
    if lean.any():
        # as if the wall did not lean: seen from where the centre is at the path's start
        along = np.zeros(points.shape[1])
        along[slice(1, None) if len(along) == len(path) + 1 else ends] = path.length_mm
        along = np.cumsum(along) / turn_mm
        points = np.stack([row - gone * along for row, gone in zip(points, lean.tolist(), strict=True)])
    wound = np.cumsum(wrapped(np.diff(angle_of(points, centre))))
    wound = wound if len(wound) == len(path) else wound[ends - 1]
    wound += before
    most = np.empty(len(path) + 1)
    most[0] = furthest
    np.abs(wound, out=most[1:])
    np.maximum.accumulate(most, out=most)
    turns = most / FULL_TURN
    return wound, most, ((turns[1:] + turns[:-1]) / 2).astype(np.int64)
