"""Values that are said now and then and stay: from sparse events to a value for every move."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Lines = NDArray[np.int64]

LONG = 64
"""Sums of more events are added up one by one, shorter ones side by side."""


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
    return _in_order(values, is_set, initial)


def _in_order(values: Floats, is_set: NDArray[np.bool_], initial: float) -> Floats:
    # each sum from its own start on, event by event: else its last bit would tell where a block was cut
    total = np.empty(len(values) + 1)
    total[0], total[1:] = initial, values
    start = np.concatenate([[0], np.flatnonzero(is_set) + 1])
    size = np.diff(start, append=len(total))
    for first, count in zip(start[size > LONG].tolist(), size[size > LONG].tolist(), strict=True):
        np.cumsum(total[first : first + count], out=total[first : first + count])
    start, size = start[size <= LONG], size[size <= LONG]
    for step in range(1, int(size.max(initial=0))):
        at = start[size > step] + step
        total[at] += total[at - 1]
    return total[1:]


def _added(values: Floats, initial: float) -> Floats:
    # summed from `initial` on, so that one long sum and many short ones round alike
    total = np.empty(len(values) + 1)
    total[0], total[1:] = initial, values
    return np.cumsum(total)[1:]
