"""Feeds that are changed: what a ScaleFeed makes of one and of a layer's time; how slow a layer has to be."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gpost.plan.intentions import ScaleFeed
from gpost.survey.model import Survey

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
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


def mean_factors(survey: Survey, scales: Sequence[ScaleFeed]) -> Floats:
    """Mean feed factor of each layer under some changes, in their order, shape (layers,)."""
    layers = survey.layers
    factor = np.ones(len(layers))
    if not len(layers):
        return factor
    first = layers["first_line"]
    end = np.append(first[1:], max(survey.lines, int(first[-1]) + 1))
    low = np.searchsorted(end, [scale.first_line for scale in scales], side="right")
    high = np.searchsorted(first, [scale.end_line for scale in scales])
    if bool((high == low + 1).all()) and bool((low[1:] > low[:-1]).all()):
        # as most steps ask for it, each layer by itself: all at once
        asked = [(s.first_line, s.end_line, s.factor, s.floor_mm_min) for s in scales]
        _slow(factor, layers["feed_mm_min"], first, end, low, np.array(asked).reshape(-1, 4).T)
        return factor
    for scale, *part in zip(scales, low.tolist(), high.tolist(), strict=True):
        one = np.array([scale.first_line, scale.end_line, scale.factor, scale.floor_mm_min])
        _slow(factor, layers["feed_mm_min"], first, end, np.arange(*part), one)
    return factor


def _slow(factor: Floats, feed_mm_min: Floats, first: Ints, end: Ints, which: Ints, scale: Floats) -> None:
    """Bring the mean feed factor of some layers to what a ScaleFeed makes of it, or one for each of them.

    scale: its first line, end line, factor and floor; shape (4,) or (4, len(which)).
    """
    first_line, end_line, own, floor_mm_min = scale
    lines = np.minimum(end[which], end_line) - np.maximum(first[which], first_line)
    share = lines / np.maximum(end[which] - first[which], 1)
    before_mm_min = np.maximum(feed_mm_min[which] * factor[which], LEAST_MM_MIN)
    part = scaled_mm_min(before_mm_min, own, floor_mm_min) / before_mm_min
    factor[which] /= share / part + (1 - share)


def real_factors(survey: Survey, scales: Sequence[ScaleFeed], before: Floats) -> Floats:
    """What some changes make of the mean feeds of the layers that they touch, each as a share of it.

    Unlike what was asked for where a floor holds the feed up. `before`: the layers' factors without them.
    """
    layers = survey.layers
    if not len(layers):
        return np.array([scale.factor for scale in scales])
    end = np.append(layers["first_line"][1:], max(survey.lines, int(layers["first_line"][-1]) + 1))
    low = np.searchsorted(end, [scale.first_line for scale in scales], side="right")
    high = np.searchsorted(layers["first_line"], [scale.end_line for scale in scales])
    before_mm_min = np.maximum(layers["feed_mm_min"] * before, LEAST_MM_MIN)
    found = [np.zeros(0)]
    for scale, *part in zip(scales, low.tolist(), high.tolist(), strict=True):
        own_mm_min = before_mm_min[slice(*part)]
        known = own_mm_min > LEAST_MM_MIN
        real = scaled_mm_min(own_mm_min, scale.factor, scale.floor_mm_min) / own_mm_min
        found.append(np.where(known, real, scale.factor))
    return np.concatenate(found)


def times_s(layers: NDArray[np.void], factor: Floats) -> Floats:
    """Time of each layer at these feed factors, shape (layers,), s.

    The part of a layer's time that is path / feed grows as 1/k under a feed factor k; what speeding up and
    slowing down adds shrinks as k (exact for moves that start and end at rest).
    """
    cruise, laying = layers["cruise_s"], layers["laying_s"]
    changed = cruise / factor + (laying - cruise) * factor
    return np.asarray(layers["time_s"] - laying + changed, dtype=np.float64)


def slow_factor(row: Any, least_s: float) -> float:
    """Largest feed factor of a layer (a row of the survey's table) at which it takes `least_s`.

    The slower root of what `times_s` says. Infinite when no factor is needed.
    """
    rest_s = least_s - float(row["time_s"] - row["laying_s"])
    cruise_s, turn_s = float(row["cruise_s"]), float(row["laying_s"] - row["cruise_s"])
    square = rest_s**2 - 4 * turn_s * cruise_s
    if rest_s <= 0 or cruise_s <= 0 or square < 0:
        return math.inf
    return 2 * cruise_s / (rest_s + math.sqrt(square))


def down_to_thousandths(factors: Floats) -> Floats:
    """The factors in whole thousandths, none larger than it was."""
    return np.asarray(np.floor(factors * 1000 + 1e-6) / 1000, dtype=np.float64)


def feed_scales(
    survey: Survey,
    factors: Floats,
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
