"""The layer table: adds up the moves of each part of the wall as they come, and makes layers of the parts."""

from __future__ import annotations

from dataclasses import dataclass, fields
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from gpost.survey.compose import Parts, compose
from gpost.survey.model import LAYER_DTYPE
from gpost.survey.path import LEVEL

Floats = NDArray[np.float64]

SUMS = ("clay_ml", "laid_ml", "path_mm", "time_s", "cruise_s", "laying_s", "travel_mm", "height_mm2")
CLAY, LAID, PATH, TIME, CRUISE, LAYING, TRAVEL, HEIGHT = range(len(SUMS))
"""HEIGHT is path times height."""
LONG_FLIGHT = 10_000
"""Moves without clay, in one block."""


@dataclass(slots=True)
class Rows:
    """n moves, one array a column; the last axis is the moves'."""

    line: NDArray[np.int64]
    """0-based line within the file."""
    laying: NDArray[np.bool_]
    start: Floats
    """Where each move starts and ends, machine mm; shape (3, n)."""
    end: Floats
    low: Floats
    """The box round each move that lays clay, machine mm; shape (3, n). Infinite for the others."""
    high: Floats
    amounts: Floats
    """What is added up, shape (5, n), in the order of Amount."""

    def cut(self, first: int | None, last: int | None) -> Rows:
        """Part of it; the arrays are shared."""
        part = np.s_[..., first:last]
        return Rows(*(getattr(self, name)[part] for name in _COLUMNS))

    @staticmethod
    def join(parts: list[Rows]) -> Rows:
        """Parts, one after the other."""
        return Rows(*(np.concatenate([getattr(p, name) for p in parts], axis=-1) for name in _COLUMNS))

    def flight_as_one(self) -> Rows:
        """A long flight as one row, since only its sums count: no flight may fill the memory."""
        if len(self) < LONG_FLIGHT or self.laying.any():
            return self
        first = Rows(*(getattr(self, name)[..., :1].copy() for name in _COLUMNS))
        first.amounts[:, 0] = self.amounts.sum(axis=1)
        return first

    def __len__(self) -> int:
        return len(self.line)


_COLUMNS = tuple(field.name for field in fields(Rows))


class Amount(IntEnum):
    """Rows of `Rows.amounts`."""

    LENGTH_MM = 0
    """Path in space; 0 for a move of E alone."""
    CLAY_ML = 1
    CRUISE_S = 2
    """Time at full feed."""
    TIME_S = 3
    """Time with acceleration; 0 until it is known."""
    WAIT_S = 4
    """Dwell before the move."""


class LayerTable:
    """Sums by part of the wall, filled move by move. Part 0 is what comes before the first clay is laid."""

    def __init__(self) -> None:
        self._count = 1
        self._part = _no_parts(64)
        """One row a part, of which `_count` are in use."""
        self._last_laying_line = -1
        self.lead_in: Floats = np.zeros(len(SUMS))
        """Sums of what came before the first layer, in the order of SUMS; once finished."""
        self.pieces = 1
        """Pieces one after the other; once finished."""

    def add(self, rows: Rows, starts: NDArray[np.bool_], kind: NDArray[np.uint8]) -> None:
        """Add settled moves. `starts` and `kind` are for the laying moves among them, in order.

        A part begins after the last clay of the part before it, so that the travel to its start is its own.
        """
        if not len(rows):
            return
        laying = np.flatnonzero(rows.laying)
        begins = np.flatnonzero(starts)
        # the first row of each new part: the one after the laying move before
        row = np.where(begins > 0, laying[begins - 1] + 1, 0) if len(laying) else begins
        before = rows.line[laying[begins - 1]] if len(laying) else begins
        before = np.where(begins > 0, before, self._last_laying_line)
        if self._count == 1 and len(begins):
            row[0] = laying[begins[0]]
            before[0] = rows.line[row[0]] - 1
        self._open(before + 1, kind[begins], rows.start[:, laying[begins]])
        self._accumulate(rows, row, laying, begins)
        if len(laying):
            self._last_laying_line = int(rows.line[laying[-1]])

    def _open(self, line: NDArray[np.int64], kind: NDArray[np.uint8], start: Floats) -> None:
        count = self._count + len(line)
        if count > len(self._part):
            self._part = np.concatenate([self._part[: self._count], _no_parts(count)])
        new = self._part[self._count : count]
        new["first_line"], new["kind"], new["start_mm"] = line, kind, start.T
        self._count = count

    def _accumulate(
        self, rows: Rows, row: NDArray[np.int64], laying: NDArray[np.int64], begins: NDArray[np.int64]
    ) -> None:
        bounds = np.append(0, row)
        filled = np.flatnonzero(np.diff(bounds, append=len(rows)) > 0)
        at = bounds[filled]
        parts = self._part[self._count - len(bounds) : self._count]
        parts["sum"][filled] += _sums(rows, at).T
        low, high = (np.minimum.reduceat(rows.low, at, axis=1), np.maximum.reduceat(rows.high, at, axis=1))
        parts["low_mm"][filled] = np.minimum(parts["low_mm"][filled], low.T)
        parts["high_mm"][filled] = np.maximum(parts["high_mm"][filled], high.T)
        if len(laying):
            # where each part's last laying move among these ends
            last = np.append(begins - 1, len(laying) - 1)
            ended = np.flatnonzero(np.diff(last, prepend=-1) > 0)
            parts["end_mm"][ended] = rows.end[:, laying[last[ended]]].T

    def finish(self) -> tuple[NDArray[np.void], Floats]:
        """(layers, sums of everything, in the order of SUMS)."""
        parts = self._part[1 : self._count]
        total = self._part["sum"][: self._count].sum(axis=0)
        self.lead_in = np.asarray(self._part["sum"][0]).copy()
        if not len(parts):
            return np.zeros(0, LAYER_DTYPE), total
        found = compose(_as_parts(parts))
        self.pieces = found.pieces
        self.lead_in += parts["sum"][: found.lead_in].sum(axis=0)
        parts, first = parts[found.lead_in :], np.flatnonzero(found.begins)
        own = parts["sum"].copy()
        own[np.ix_(np.flatnonzero(~found.boxed), _LAID_SUMS)] = 0.0
        sums = np.add.reduceat(own, first, axis=0)
        table = np.zeros(len(first), LAYER_DTYPE)
        table["first_line"] = parts["first_line"][first]
        table["kind"] = np.maximum.reduceat(parts["kind"] != LEVEL, first)
        table["odd"] = np.logical_or.reduceat(found.odd, first)
        for name in ("clay_ml", "laid_ml", "path_mm", "time_s", "cruise_s", "laying_s"):
            table[name] = sums[:, SUMS.index(name)]
        paced = table["cruise_s"] > 0
        table["feed_mm_min"][paced] = table["path_mm"][paced] / table["cruise_s"][paced] * 60
        low = np.minimum.reduceat(np.where(found.boxed[:, None], parts["low_mm"], np.inf), first, axis=0)
        high = np.maximum.reduceat(np.where(found.boxed[:, None], parts["high_mm"], -np.inf), first, axis=0)
        for axis, (lowest, highest) in enumerate(_BOUNDS):
            table[lowest], table[highest] = low[:, axis], high[:, axis]
        table["start_x_mm"], table["start_y_mm"] = parts["start_mm"][first, :2].T
        return table, total

    @property
    def laid_until(self) -> int:
        """The line after the last one that lays clay."""
        return self._last_laying_line + 1


_LAID_SUMS = np.array([LAID, PATH, CRUISE, LAYING, HEIGHT])
"""Sums over laying moves alone: what is laid beside the piece is none of them."""

_BOUNDS = (("x_min_mm", "x_max_mm"), ("y_min_mm", "y_max_mm"), ("low_mm", "height_mm"))
_PART = np.dtype(
    [
        ("first_line", "i8"),
        ("kind", "u1"),
        ("start_mm", "f8", 3),
        ("end_mm", "f8", 3),
        ("sum", "f8", len(SUMS)),
        ("low_mm", "f8", 3),
        ("high_mm", "f8", 3),
    ]
)


def _no_parts(count: int) -> NDArray[np.void]:
    """Rows of parts in which nothing has been laid yet."""
    parts = np.zeros(count, _PART)
    parts["low_mm"], parts["high_mm"] = np.inf, -np.inf
    return parts


def _as_parts(parts: NDArray[np.void]) -> Parts:
    path_mm = parts["sum"][:, PATH]
    mean_mm = parts["sum"][:, HEIGHT] / np.maximum(path_mm, 1e-12)
    places = (parts[name] for name in ("start_mm", "end_mm", "low_mm", "high_mm"))
    return Parts(parts["kind"], path_mm, mean_mm, *places)


def _sums(rows: Rows, at: NDArray[np.int64]) -> Floats:
    """What is added up from each of `at` to the next, (len(SUMS), len(at))."""
    every = np.add.reduceat(rows.amounts, at, axis=1)
    laid = every if rows.laying.all() else np.add.reduceat(rows.amounts * rows.laying, at, axis=1)
    height = (rows.start[2] + rows.end[2]) * rows.amounts[Amount.LENGTH_MM] * rows.laying
    found = np.empty((len(SUMS), len(at)))
    found[CLAY], found[LAID] = every[Amount.CLAY_ML], laid[Amount.CLAY_ML]
    found[PATH] = laid[Amount.LENGTH_MM]
    found[TIME] = every[Amount.TIME_S] + every[Amount.WAIT_S]
    found[CRUISE], found[LAYING] = laid[Amount.CRUISE_S], laid[Amount.TIME_S]
    found[TRAVEL] = every[Amount.LENGTH_MM] - laid[Amount.LENGTH_MM]
    found[HEIGHT] = np.add.reduceat(height, at) / 2
    return found
