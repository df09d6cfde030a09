"""Values that are said now and then and stay: from sparse events to a value for every move."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Lines = NDArray[np.int64]


def spread(at: Lines, values: NDArray, initial: float, length: int) -> NDArray:  # type: ignore[type-arg]
    """A column of `length` that holds `initial`, and values[k] from index at[k] on. `at` is sorted."""
    bounds = np.empty(len(at) + 2, np.int64)
    bounds[0], bounds[1:-1], bounds[-1] = 0, at, length
    full = np.empty(len(at) + 1, values.dtype)
    full[0], full[1:] = initial, values
    return np.repeat(full, np.diff(bounds))


def running(values: Floats, is_set: NDArray[np.bool_] | bool, initial: float) -> Floats:
    """A register that each event sets to its value (is_set) or moves by its value, from `initial` on.

    The result may be `values` itself, where each event sets.
    """
    if isinstance(is_set, bool):
        return values if is_set else _added(values, initial)
    if is_set.all():
        return values
    if not is_set.any():
        return _added(values, initial)
    total = np.cumsum(np.where(is_set, 0.0, values))
    last_set = np.maximum.accumulate(np.where(is_set, np.arange(len(values)), -1))
    base = np.where(last_set < 0, initial, values[last_set])
    before = np.where(last_set < 0, 0.0, total[last_set])
    return np.asarray(base + (total - before))


def _added(values: Floats, initial: float) -> Floats:
    # summed from `initial` on, so that one long sum and many short ones round alike
    total = np.empty(len(values) + 1)
    total[0], total[1:] = initial, values
    return np.cumsum(total)[1:]
