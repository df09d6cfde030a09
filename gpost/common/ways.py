"""Ways over the bed as points: filled with more of them, and how far two of them are apart."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SPACING_MM = 0.5
"""Between the points for which a path is taken: an outline is then off by a few thousandths of a mm."""
SAME_MM = 0.01
"""Points nearer than this are one."""


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

    Not where one has no points. Only what lies near the box round the other is looked at: a path may be all
    strokes of a level, and be held against many.
    """
    if not one_mm.shape[1] or not other_mm.shape[1]:
        return False
    pair = _near(one_mm, other_mm, far_mm), _near(other_mm, one_mm, far_mm)
    return all(part.shape[1] for part in pair) and _nearest_mm(*pair) <= far_mm


def _near(path_mm: Floats, other_mm: Floats, far_mm: float) -> Floats:
    """Points of a path on those of its legs whose box comes so near to the box round another path."""
    start, end = path_mm, np.append(path_mm[:, 1:], path_mm[:, -1:], axis=1)
    low, high = other_mm.min(axis=1) - far_mm, other_mm.max(axis=1) + far_mm
    off = np.maximum(low[:, None] - np.maximum(start, end), np.minimum(start, end) - high[:, None])
    near = (off <= 0).all(axis=0)
    return np.concatenate([_on_legs(start[:, near], end[:, near]), end[:, near]], axis=1)


def _nearest_mm(one_mm: Floats, other_mm: Floats) -> float:
    """Least distance of points, (2, k) and (2, n)."""
    from scipy.spatial import KDTree

    distance, _ = KDTree(once(one_mm).T).query(once(other_mm).T)
    return float(np.min(distance))


def once(points: Floats) -> Floats:
    """Each place once."""
    x, y = np.round(points / SAME_MM).astype(np.int64)
    order = np.lexsort((x, y))  # equal ones stay in their order
    new = np.append(True, (np.diff(x[order]) != 0) | (np.diff(y[order]) != 0))[: len(order)]
    return points[:, np.sort(order[new])]
