"""Counts pieces printed one after the other: the nozzle goes down again, beside what is laid."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

DROP_MM = 0.2
"""Depth under the top of a piece from which a start may be that of another."""

SAME_PLACE_MM = 1e-3
BESIDE_MM = 5.0
"""Distance from the piece's bounding box at which a start is certainly beside the piece."""


class PieceCounter:
    """Takes laying moves in order and finds where another piece begins.

    It begins where the nozzle comes by travel, lies under the top of the piece so far, and is either as low
    as that piece's lowest start or well beside it: a wall that waves comes down too, but not so.
    """

    def __init__(self) -> None:
        self.count = 1
        self._last = np.full(3, np.nan)
        """Where the last move ended."""
        self._forget()

    def _forget(self) -> None:
        self._low_start, self._top = np.inf, -np.inf
        self._low, self._high = np.full(2, np.inf), np.full(2, -np.inf)

    def add(self, start: Floats, end: Floats) -> list[int]:
        """Indices of the moves, among these n, that begin another piece; start, end: (3, n) in mm."""
        top = np.maximum.accumulate(np.append(self._top, end[2, :-1]))
        maybe = np.flatnonzero(start[2] < top - DROP_MM)
        before = np.where(maybe > 0, end[:, maybe - 1], self._last[:, None])
        travelled = np.abs(start[:, maybe] - before).max(axis=0, initial=0.0) > SAME_PLACE_MM
        begins: list[int] = []
        done = 0
        for place in maybe[travelled].tolist():
            self._take(start[:, done:place], end[:, done:place])
            done = place
            if self._is_other(start[:, place]):
                begins.append(place)
                self.count += 1
                self._forget()
        self._take(start[:, done:], end[:, done:])
        self._last = end[:, -1]
        return begins

    def _is_other(self, start: Floats) -> bool:
        beside = np.maximum(self._low - start[:2], start[:2] - self._high).max()
        low = start[2] <= self._low_start + SAME_PLACE_MM
        return bool(start[2] < self._top - DROP_MM and (low or beside > BESIDE_MM))

    def _take(self, start: Floats, end: Floats) -> None:
        if not start.shape[1]:
            return
        self._low_start = min(self._low_start, float(start[2].min()))
        self._top = max(self._top, float(end[2].max()))
        self._low = np.minimum(self._low, end[:2].min(axis=1))
        self._high = np.maximum(self._high, end[:2].max(axis=1))
