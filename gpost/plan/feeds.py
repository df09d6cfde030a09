"""Feeds that are changed: what a ScaleFeed makes of one, and the factor of a layer that is to take longer."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gpost.plan.intentions import ScaleFeed
from gpost.survey.model import Survey

Floats = NDArray[np.float64]
LEAST_MM_MIN = 1e-9
"""Instead of no feed, where a file has said none."""
LEAST_FACTOR = 0.01
"""Slower than this is no print any more."""


def scaled_mm_min(feed_mm_min: Floats, factor: ArrayLike, floor_mm_min: ArrayLike) -> Floats:
    """Feeds times a factor, but none brought below the floor, and none that is slower already made faster.

    All mm/min as the machine runs them, of shapes that fit together.
    """
    scaled: Floats = np.maximum(feed_mm_min * np.asarray(factor), np.minimum(feed_mm_min, floor_mm_min))
    return scaled


def slow_factor(row: Any, least_s: float) -> float:
    """Largest feed factor of a layer (a row of the survey's table) at which it takes `least_s`.

    Its time is other + cruise / k + turn * k, with turn what speeding up and slowing down adds: the
    slower root of that. Infinite when no factor is needed.
    """
    rest_s = least_s - float(row["time_s"] - row["laying_s"])
    cruise_s, turn_s = float(row["cruise_s"]), float(row["laying_s"] - row["cruise_s"])
    square = rest_s**2 - 4 * turn_s * cruise_s
    if rest_s <= 0 or cruise_s <= 0 or square < 0:
        return math.inf
    return 2 * cruise_s / (rest_s + math.sqrt(square))


def down_to_thousandths(factors: NDArray[np.float64]) -> NDArray[np.float64]:
    """The factors in whole thousandths, none larger than it was."""
    return np.asarray(np.floor(factors * 1000 + 1e-6) / 1000, dtype=np.float64)


def feed_scales(
    survey: Survey,
    factors: NDArray[np.float64],
    floor_mm_min: float,
    why: str,
    lines: Mapping[int, int] | None = None,
) -> Iterator[ScaleFeed]:
    """One ScaleFeed for each run of layers with one factor below 1; `factors` of shape (layers,).

    `lines`: index of a layer -> the line where its feed starts, if that is not the layer's own first.
    """
    starts = {} if lines is None else lines
    edges = [0, *(np.flatnonzero(np.diff(factors)) + 1).tolist(), len(factors)]
    for first, end in itertools.pairwise(edges):
        if factors[first] < 1:
            first_line, end_line = (starts.get(at, survey.start_of(at).line) for at in (first, end))
            yield ScaleFeed(first_line, end_line, float(factors[first]), floor_mm_min, why)
