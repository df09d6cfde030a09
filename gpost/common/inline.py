"""Rows of numbers as compiled code takes them: the values of a row side by side."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def in_line(rows: NDArray[np.float64]) -> NDArray[np.float64]:
    """The same rows, shape (k, n); copied only if a row's values don't stand side by side."""
    return rows if rows.strides[1] == rows.itemsize else np.ascontiguousarray(rows)
