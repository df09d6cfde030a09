"""Numbers as sets: numpy's own ways would first load all that it knows of masked arrays."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray


def among(some: NDArray[np.int64] | Sequence[int], others: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether each of some whole numbers, shape (n,), is one of the others, in any order."""
    ascending = np.sort(others)
    place = np.searchsorted(ascending, some)
    return np.asarray(place < np.searchsorted(ascending, some, side="right"))


def distinct(numbers: NDArray[np.int64]) -> NDArray[np.int64]:
    """Whole numbers, shape (n,), each once and ascending."""
    ascending = np.sort(numbers)
    new = np.ones(len(ascending), np.bool_)
    new[1:] = ascending[1:] != ascending[:-1]
    return np.asarray(ascending[new])
