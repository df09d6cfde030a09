"""Ways over the bed as points: filled with more of them, and how far two of them are apart."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SPACING_MM = 0.5
"""Between the points for which a path is taken: an outline is then off by a few thousandths of a mm."""
SAME_MM = 0.01
"""Points nearer than this are one."""
MOST_LEGS, MOST_MM = 50_000, 20_000.0
"""So much of a path is held against another at once, to bound the memory; a longer leg goes alone."""

FEW_PAIRS, PAIRS_AT_ONCE = 4_000_000, 100_000
"""So few distances are reckoned one by one: loading what finds the least of more takes longer."""


def filled(path_mm: Floats) -> Floats:
    """A path with points no more than SPACING_MM apart, shape (2, n)."""
    return np.concatenate([_on_legs(path_mm[:, :-1], path_mm[:, 1:]), path_mm[:, -1:]], axis=1)


def _on_legs(start_mm: Floats, end_mm: Floats) -> Floats:
    """Points on straight legs, the ends of the legs left out."""
    way = end_mm - start_mm
    parts = np.maximum(np.ceil(np.hypot(*way) / SPACING_MM).astype(np.int64), 1)
    leg = np.repeat(np.arange(len(parts)), parts)
    share = (np.arange(len(leg)) - np.repeat(np.cumsum(parts) - parts, parts)) / np.repeat(parts, parts)
    return np.asarray(start_mm[:, leg] + way[:, leg] * share)


def apart_mm(one_mm: Floats, other_mm: Floats) -> float:
    """Least distance of two paths, (2, k) and (2, n); from 2 mm on too much by 0.02 mm at most."""
    return _nearest_mm(filled(one_mm), filled(other_mm))


def come_near(one_mm: Floats, other_mm: Floats, far_mm: float) -> bool:
    """Whether two paths, (2, k) and (2, n), are no further apart than that, as `apart_mm` has it.

    Not where one has no points. Only what lies near the box round the other is looked at, part by part: a
    path may be all strokes of a level, kilometres long.
    """
    few, many = sorted((one_mm, other_mm), key=lambda path_mm: path_mm.shape[1])
    if not few.shape[1]:
        return False
    return any(
        _nearest_mm(some, more) <= far_mm
        for some in _near(few, many, far_mm)
        for more in _near(many, few, far_mm)
    )


def _near(path_mm: Floats, other_mm: Floats, far_mm: float) -> Iterator[Floats]:
    """Points of a path on those of its legs whose box comes so near to the box round another path."""
    low, high = other_mm.min(axis=1) - far_mm, other_mm.max(axis=1) + far_mm
    for first in range(0, path_mm.shape[1], MOST_LEGS):
        start = path_mm[:, first : first + MOST_LEGS]
        end = path_mm[:, np.minimum(np.arange(first + 1, first + 1 + start.shape[1]), path_mm.shape[1] - 1)]
        off = np.maximum(low[:, None] - np.maximum(start, end), np.minimum(start, end) - high[:, None])
        near = np.flatnonzero((off <= 0).all(axis=0))
        until_mm = np.cumsum(np.hypot(*(end[:, near] - start[:, near])))
        cuts = np.flatnonzero(np.diff(until_mm // MOST_MM)) + 1
        for legs in np.split(near, cuts) if len(near) else ():
            yield np.concatenate([_on_legs(start[:, legs], end[:, legs]), end[:, legs]], axis=1)


def _nearest_mm(one_mm: Floats, other_mm: Floats) -> float:
    """Least distance of points, (2, k) and (2, n)."""
    few, many = sorted((once(one_mm), once(other_mm)), key=lambda points_mm: points_mm.shape[1])
    if few.shape[1] * many.shape[1] > FEW_PAIRS:
        from scipy.spatial import KDTree

        return float(np.min(KDTree(few.T).query(many.T)[0]))
    at_once = max(PAIRS_AT_ONCE // few.shape[1], 1)
    parts = (many[:, first : first + at_once, None] for first in range(0, many.shape[1], at_once))
    return math.sqrt(min(float(np.square(part - few[:, None]).sum(axis=0).min()) for part in parts))


def once(points: Floats) -> Floats:
    """Each place once."""
    x, y = np.round(points / SAME_MM).astype(np.int64)
    order = np.lexsort((x, y))  # equal ones stay in their order
    new = np.append(True, (np.diff(x[order]) != 0) | (np.diff(y[order]) != 0))[: len(order)]
    return points[:, np.sort(order[new])]


def thinned(path_mm: Floats) -> Floats:
    """A path without points on the same place as the one before, but the last: segments may be fine as hairs.

    What is left is the path to within SAME_MM, and the path itself where its points are no nearer than that.
    """
    kept = np.ones(path_mm.shape[1], np.bool_)
    kept[1:-1] = (np.diff(np.round(path_mm[:, :-1] / SAME_MM), axis=1) != 0).any(axis=0)
    return path_mm if kept.all() else path_mm[:, kept]
