"""The wall for the drawing in space: its points in whole steps, packed so that a page stays small."""

from __future__ import annotations

import base64
import zlib
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.plan.plan import Plan
from gpost.survey.wall import Wall, laid_wall

MOST_POINTS = 500_000
LEAST_STEP_MM = 0.01
STEPS = 0xFFFF
"""A coordinate is a whole number of steps that fits two bytes."""


class Solid(NamedTuple):
    """The wall as the page holds it."""

    packed: str
    """Base64 of a zlib stream: the low and the high bytes of the differences along x, of those along y, and
    z, each modulo 65,536, and then a bit a point, whether a bead begins there."""
    points: int
    low_mm: tuple[float, float, float]
    """Where the step 0 is, as printed."""
    step_mm: float
    stray_mm: float
    """How far the drawing may be off the path at most: points left out, and steps."""
    starts: tuple[int, ...]
    """The first point of each row of layers."""

    def as_data(self) -> dict[str, Any]:
        """All but the points."""
        return {**self._asdict(), "packed": None}


def solid(plan: Plan, rows: NDArray[np.int64]) -> Solid:
    """The wall of a plan, for rows of layers by the index of each one's last layer, the lowest first.

    Raises SourceError if the file has changed.
    """
    wall = laid_wall(plan.survey, MOST_POINTS)
    shift = np.array(plan.shift_mm).reshape(3, 1)
    places = wall.places_mm + shift
    low = places.min(axis=1, initial=np.inf) if places.shape[1] else np.zeros(3)
    high = places.max(axis=1, initial=-np.inf) if places.shape[1] else np.zeros(3)
    step_mm = max(LEAST_STEP_MM, float((high - low).max()) / STEPS)
    at = np.round((places - low[:, None]) / step_mm).astype(np.int64)
    starts = np.searchsorted(np.searchsorted(rows, wall.layer), np.arange(len(rows)))
    return Solid(
        base64.b64encode(zlib.compress(_bytes(at, wall), 9)).decode(),
        places.shape[1],
        (float(low[0]), float(low[1]), float(low[2])),
        step_mm,
        wall.stray_mm + step_mm * 3**0.5 / 2,
        tuple(starts.tolist()),
    )


def _bytes(at: NDArray[np.int64], wall: Wall) -> bytes:
    found = []
    for axis in np.diff(at, axis=1, prepend=0) & STEPS:
        found += [(axis & 0xFF).astype(np.uint8), (axis >> 8).astype(np.uint8)]
    return np.concatenate([*found, np.packbits(wall.begins)]).tobytes()
