"""What a ScaleFeed makes of a feed: the one rule, for the plan's times, the checks and the second pass."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
LEAST_MM_MIN = 1e-9
"""Instead of no feed, where a file has said none."""


def scaled_mm_min(feed_mm_min: Floats, factor: ArrayLike, floor_mm_min: ArrayLike) -> Floats:
    """Feeds times a factor, but none brought below the floor, and none that is slower already made faster.

    All mm/min as the machine runs them, of shapes that fit together.
    """
    scaled: Floats = np.maximum(feed_mm_min * np.asarray(factor), np.minimum(feed_mm_min, floor_mm_min))
    return scaled
