"""Moves as the layer table takes them, and what of them is added up."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from enum import IntEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gpost.common.records import record

Floats = NDArray[np.float64]

SUMS = ("clay_ml", "laid_ml", "path_mm", "time_s", "cruise_s", "laying_s", "travel_mm", "height_mm2")
CLAY, LAID, PATH, TIME, CRUISE, LAYING, TRAVEL, HEIGHT = range(len(SUMS))
"""HEIGHT is path times height."""


class Amount(IntEnum):
    """Rows of `Rows.amounts`."""

    LENGTH_MM = 0
    """Path in space; 0 for a move of E alone."""
    CLAY_ML = 1
    CRUISE_S = 2
    """Time at full feed."""
    TIME_S = 3
    """Time with acceleration, once it is known."""
    WAIT_S = 4
    """Dwell before the move."""


@record(slots=True)
class Rows:
    """n moves, one array a column; the last axis is the moves'."""

    line: NDArray[np.int64]
    """0-based line within the file."""
    laying: NDArray[np.bool_]
    start: Floats
    """Where each move starts and ends, machine mm; shape (3, n)."""
    end: Floats
    amounts: Floats
    """What is added up, shape (5, n), in the order of Amount."""
    corner: Floats | None = None
    """A corner of the box round each move that lays clay, machine mm, shape (3, n), and that across from it.

    None where start and end are such corners, as those of straight moves are.
    """
    across: Floats | None = None

    def corners(self) -> tuple[Floats, Floats]:
        """Both."""
        if self.corner is None or self.across is None:
            return self.start, self.end
        return self.corner, self.across

    def cut(self, first: int | None, last: int | None) -> Rows:
        """Part of it; the arrays are shared."""
        part = np.s_[..., first:last]
        return self._each(lambda column: column[part])

    @staticmethod
    def join(parts: list[Rows]) -> Rows:
        """Parts, one after the other."""
        joined: list[Any] = [np.concatenate([getattr(p, name) for p in parts], axis=-1) for name in _ALWAYS]
        if all(part.corner is None for part in parts):
            return Rows(*joined)
        corners = zip(*(part.corners() for part in parts), strict=True)
        return Rows(*joined, *(np.concatenate(side, axis=1) for side in corners))

    def take(self, which: NDArray[np.int64]) -> Rows:
        """Some of the moves."""
        return self._each(lambda column: column.take(which, axis=-1))

    def grouped(self, begins: NDArray[np.int64]) -> Rows:
        """Those that begin at these, the first among them, each with all up to the next as one move."""
        last, corners = np.append(begins[1:], len(self)) - 1, self.corners()
        return Rows(
            self.line[begins],
            self.laying[begins],
            self.start[:, begins],
            self.end[:, last],
            np.add.reduceat(self.amounts, begins, axis=1),
            np.minimum.reduceat(np.minimum(*corners), begins, axis=1),
            np.maximum.reduceat(np.maximum(*corners), begins, axis=1),
        )

    def _each(self, made: Callable[[Any], Any]) -> Rows:
        columns = [getattr(self, name) for name in _COLUMNS]
        changed: list[Any] = [column if column is None else made(column) for column in columns]
        return Rows(*changed)

    def __len__(self) -> int:
        return len(self.line)


_COLUMNS = tuple(field.name for field in fields(Rows))
_ALWAYS = _COLUMNS[:-2]
