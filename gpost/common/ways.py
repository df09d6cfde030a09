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
    way = np.diff(path_mm, axis=1)
    parts = np.maximum(np.ceil(np.hypot(*way) / SPACING_MM).astype(np.int64), 1)
    leg = np.repeat(np.arange(len(parts)), parts)
    share = (np.arange(len(leg)) - np.repeat(np.cumsum(parts) - parts, parts)) / np.repeat(parts, parts)
    return np.concatenate([path_mm[:, leg] + way[:, leg] * share, path_mm[:, -1:]], axis=1)


def apart_mm(one_mm: Floats, other_mm: Floats) -> float:
    """Least distance of two paths, (2, k) and (2, n); from 2 mm on too much by 0.02 mm at most."""
    from scipy.spatial import KDTree

    distance, _ = KDTree(once(filled(one_mm)).T).query(once(filled(other_mm)).T)
    return float(np.min(distance))


def once(points: Floats) -> Floats:
    """Each place once."""
    _, first = np.unique(np.round(points / SAME_MM).astype(np.int64), axis=1, return_index=True)
    return points[:, np.sort(first)]
