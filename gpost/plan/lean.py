"""How a wall leans: each layer's path beside that of the layer below it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.survey.layerrows import HEIGHT_STEP_MM
from gpost.survey.model import Survey

Floats = NDArray[np.float64]
LOOKED_AT = 360
"""So many points of a layer, evenly along its path, are held against the layer below."""
MOST_SIDES = 2000
"""Of the layer below; a path of more moves is followed in so many even steps."""


class Lean(NamedTuple):
    """How far a layer's wall leans over the one below, in mm sideways for each mm that it rises.

    Above 0 outwards, below 0 inwards; 0 stands upright, 1 leans by 45 degrees.
    """

    mean: float
    """Along the whole path."""
    most_out: float
    """Where it leans outwards the most."""
    most_in: float
    """Where it leans inwards the most."""


UPRIGHT = Lean(0.0, 0.0, 0.0)


def wall_lean(survey: Survey, index: int) -> Lean:
    """How the layer of that index leans over the one below; upright for the first, and where nothing rises.

    Each of some points of its path is as far out, or in, as it lies from the path below, by the nearest way:
    the plane distance to a closed line. It is meant for a single wall that goes round; where a layer holds
    more (a base that is filled, walls inside one another) outwards is away from what lies below, by even and
    odd crossings. The two layers are read again in the file.
    """
    rise_mm = _rise_mm(survey, index)
    here, below = _points(survey, index), _points(survey, index - 1)
    if rise_mm < HEIGHT_STEP_MM or here.shape[1] < 2 or below.shape[1] < 3:
        return UPRIGHT
    if below.shape[1] > MOST_SIDES:
        below = _evenly(below, MOST_SIDES)
    out = _outwards_mm(_evenly(here, LOOKED_AT), below) / rise_mm
    return Lean(float(out.mean()), float(max(out.max(), 0.0)), float(min(out.min(), 0.0)))


def _rise_mm(survey: Survey, index: int) -> float:
    low_mm = survey.layers["low_mm"]
    return float(low_mm[index] - low_mm[index - 1]) if index > 0 else 0.0


def _points(survey: Survey, index: int) -> Floats:
    if index < 0:
        return np.zeros((2, 0))
    return np.asarray(survey.laid_points(survey.start_of(index).line, survey.start_of(index + 1).line))


def _evenly(points: Floats, count: int) -> Floats:
    """So many points at even steps along a path of points x and y, shape (2, count)."""
    along_mm = np.append(0.0, np.cumsum(np.hypot(*np.diff(points, axis=1))))
    steps_mm = (np.arange(count) + 0.5) / count * along_mm[-1]
    return np.stack([np.interp(steps_mm, along_mm, axis) for axis in points])


def _outwards_mm(points: Floats, ring: Floats) -> Floats:
    """Distance of points from a ring, that is closed, above 0 outside it; shapes (2, k) and (2, n), (k,)."""
    start, end = ring, np.roll(ring, -1, axis=1)
    side = end - start
    apart = points[:, :, None] - start[:, None, :]
    part = (apart * side[:, None, :]).sum(axis=0) / np.maximum((side**2).sum(axis=0), 1e-12)
    off = apart - np.clip(part, 0, 1) * side[:, None, :]
    distance_mm = np.sqrt((off**2).sum(axis=0).min(axis=1))
    y = points[1][:, None]
    spans = (start[1] > y) != (end[1] > y)
    rise = np.where(side[1] == 0, 1.0, side[1])
    crosses = spans & (points[0][:, None] < start[0] + (y - start[1]) / rise * side[0])
    inside = crosses.sum(axis=1) % 2 == 1
    return np.asarray(np.where(inside, -distance_mm, distance_mm))
