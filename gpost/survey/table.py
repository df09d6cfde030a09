"""The layer table: adds up the moves of each layer as they come."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from gpost.survey.layers import CLOSED_PATH, LEVEL, TURN
from gpost.survey.model import LAYER_DTYPE

Floats = NDArray[np.float64]

SUMS = ("clay_ml", "laid_ml", "path_mm", "time_s", "cruise_s", "laying_s", "travel_mm")
PATH = SUMS.index("path_mm")
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
    """The box round each move, machine mm; shape (3, n)."""
    high: Floats
    length_mm: Floats
    """Path in space; 0 for a move of E alone."""
    clay_ml: Floats
    cruise_s: Floats
    """Time at full feed."""
    time_s: Floats
    """Time with acceleration; 0 until it is known."""
    wait_s: Floats
    """Dwell before the move."""

    def cut(self, first: int | None, last: int | None) -> Rows:
        """Part of it; the arrays are shared."""
        return Rows(*(getattr(self, name)[..., first:last] for name in _COLUMNS))

    @staticmethod
    def join(parts: list[Rows]) -> Rows:
        """Parts, one after the other."""
        return Rows(*(np.concatenate([getattr(p, name) for p in parts], axis=-1) for name in _COLUMNS))

    def flight_as_one(self) -> Rows:
        """A long flight as one row, since only its sums count: no flight may fill the memory."""
        if len(self) < LONG_FLIGHT or self.laying.any():
            return self
        first = Rows(*(getattr(self, name)[..., :1].copy() for name in _COLUMNS))
        for column in ("length_mm", "clay_ml", "cruise_s", "time_s", "wait_s"):
            getattr(first, column)[0] = getattr(self, column).sum()
        return first

    def __len__(self) -> int:
        return len(self.line)


_COLUMNS = tuple(field.name for field in fields(Rows))


class LayerTable:
    """Rows of sums by layer, filled move by move. Layer 0 is what comes before the first clay is laid."""

    def __init__(self) -> None:
        self._first_line: list[int] = [0]
        self._kind: list[int] = [LEVEL]
        self._start: list[tuple[float, float]] = [(0.0, 0.0)]
        self._sum: list[Floats] = [np.zeros(len(SUMS))]
        self._low: list[Floats] = [np.full(3, np.inf)]
        self._high: list[Floats] = [np.full(3, -np.inf)]
        self._last_laying_line = -1

    def add(self, rows: Rows, starts: NDArray[np.bool_], kind: NDArray[np.uint8]) -> None:
        """Add settled moves. `starts` and `kind` are for the laying moves among them, in order.

        A layer begins after the last clay of the layer before it, so that the travel to its start is its own.
        """
        if not len(rows):
            return
        laying = np.flatnonzero(rows.laying)
        lines = rows.line[laying]
        begins = np.flatnonzero(starts)
        before = np.concatenate([[self._last_laying_line], lines])[begins]
        # the first row of each new layer: the one after the laying move before
        row = np.where(begins > 0, laying[begins - 1] + 1, 0) if len(laying) else begins
        if len(self._first_line) == 1 and len(begins):
            row[0] = laying[begins[0]]
            before[0] = lines[begins[0]] - 1
        for i, start in enumerate(begins.tolist()):
            self._open(int(before[i]) + 1, int(kind[start]), rows, int(laying[start]))
        self._accumulate(rows, row, len(begins))
        if len(lines):
            self._last_laying_line = int(lines[-1])

    def _open(self, line: int, kind: int, rows: Rows, first: int) -> None:
        self._first_line.append(line)
        self._kind.append(kind)
        self._start.append((float(rows.start[0, first]), float(rows.start[1, first])))
        self._sum.append(np.zeros(len(SUMS)))
        self._low.append(np.full(3, np.inf))
        self._high.append(np.full(3, -np.inf))

    def _accumulate(self, rows: Rows, row: NDArray[np.int64], opened: int) -> None:
        bounds = np.concatenate([[0], row])
        layer = len(self._first_line) - 1 - opened
        filled = np.flatnonzero(np.diff(bounds, append=len(rows)) > 0)
        at = bounds[filled]
        sums = np.stack([np.add.reduceat(column, at) for column in _columns(rows)])
        low, high = _box(rows, at)
        for i, k in enumerate(filled.tolist()):
            self._sum[layer + k] += sums[:, i]
            np.minimum(self._low[layer + k], low[:, i], out=self._low[layer + k])
            np.maximum(self._high[layer + k], high[:, i], out=self._high[layer + k])

    def finish(self) -> tuple[NDArray[np.void], Floats]:
        """(layers, sums of what came before the first layer, in the order of SUMS)."""
        keep = self._merge_scraps()
        table = np.zeros(len(keep), LAYER_DTYPE)
        if keep:
            total = np.array([self._sum[i] for i in keep])
            low = np.array([self._low[i] for i in keep])
            high = np.array([self._high[i] for i in keep])
            table["first_line"] = [self._first_line[i] for i in keep]
            table["kind"] = [self._kind[i] for i in keep]
            for name in ("clay_ml", "laid_ml", "path_mm", "time_s", "cruise_s", "laying_s"):
                table[name] = total[:, SUMS.index(name)]
            table["feed_mm_min"] = table["path_mm"] / np.maximum(table["cruise_s"], 1e-12) * 60
            table["low_mm"], table["height_mm"] = low[:, 2], high[:, 2]
            table["x_min_mm"], table["x_max_mm"] = low[:, 0], high[:, 0]
            table["y_min_mm"], table["y_max_mm"] = low[:, 1], high[:, 1]
            table["start_x_mm"], table["start_y_mm"] = np.array([self._start[i] for i in keep]).T
        return table, np.sum([self._sum[i] for i in range(len(self._sum))], axis=0)

    @property
    def lead_in(self) -> Floats:
        """Sums of what came before the first layer, in the order of SUMS."""
        return self._sum[0]

    @property
    def laid_until(self) -> int:
        """The line after the last one that lays clay."""
        return self._last_laying_line + 1

    def _merge_scraps(self) -> list[int]:
        """Indices of the layers that stay; a part of a turn is joined to the layer it belongs to."""
        keep: list[int] = []
        count = len(self._sum)
        for i in range(1, count):
            ends_section = i + 1 == count or self._kind[i + 1] == LEVEL
            if keep and self._kind[i] == TURN and ends_section and self._is_scrap(i, keep[-1]):
                self._absorb(keep[-1], i)
            else:
                keep.append(i)
        return keep

    def _is_scrap(self, turn: int, before: int) -> bool:
        """Whether a section's last turn is less than half as long as the one before, or no ring at all."""
        path = float(self._sum[turn][PATH])
        if self._kind[before] == TURN:
            return path < 0.5 * float(self._sum[before][PATH])
        extent = self._high[turn][:2] - self._low[turn][:2]
        return path < CLOSED_PATH * float(np.hypot(*extent))

    def _absorb(self, into: int, other: int) -> None:
        self._sum[into] = self._sum[into] + self._sum[other]
        self._sum[other] = np.zeros(len(SUMS))
        self._low[into] = np.minimum(self._low[into], self._low[other])
        self._high[into] = np.maximum(self._high[into], self._high[other])


def _columns(rows: Rows) -> list[Floats]:
    """What is added up, in the order of SUMS."""
    time_s = rows.time_s + rows.wait_s
    laid_ml, path_mm, cruise_s, laying_s = rows.clay_ml, rows.length_mm, rows.cruise_s, rows.time_s
    if not rows.laying.all():
        laid_ml, path_mm = np.where(rows.laying, laid_ml, 0.0), np.where(rows.laying, path_mm, 0.0)
        cruise_s, laying_s = np.where(rows.laying, cruise_s, 0.0), np.where(rows.laying, laying_s, 0.0)
    return [rows.clay_ml, laid_ml, path_mm, time_s, cruise_s, laying_s, rows.length_mm - path_mm]


def _box(rows: Rows, at: NDArray[np.int64]) -> tuple[Floats, Floats]:
    """Lowest and highest laid x, y, z from each of `at` to the next; both (3, len(at))."""
    low, high = rows.low, rows.high
    if not rows.laying.all():
        low, high = np.where(rows.laying, low, np.inf), np.where(rows.laying, high, -np.inf)
    return np.minimum.reduceat(low, at, axis=1), np.maximum.reduceat(high, at, axis=1)
