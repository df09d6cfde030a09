"""The layer table: adds up the moves of each layer as they come."""

from __future__ import annotations

from dataclasses import dataclass, fields
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from gpost.survey.layers import CLOSED_PATH, LEVEL, TURN
from gpost.survey.model import LAYER_DTYPE

Floats = NDArray[np.float64]

SUMS = ("clay_ml", "laid_ml", "path_mm", "time_s", "cruise_s", "laying_s", "travel_mm")
CLAY, LAID, PATH, TIME, CRUISE, LAYING, TRAVEL = range(len(SUMS))
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
    """Sums by layer, filled move by move. Layer 0 is what comes before the first clay is laid."""

    def __init__(self) -> None:
        self._count = 1
        self._layer = _no_layers(64)
        """One row a layer, of which `_count` are in use."""
        self._last_laying_line = -1

    def add(self, rows: Rows, starts: NDArray[np.bool_], kind: NDArray[np.uint8]) -> None:
        """Add settled moves. `starts` and `kind` are for the laying moves among them, in order.

        A layer begins after the last clay of the layer before it, so that the travel to its start is its own.
        """
        if not len(rows):
            return
        laying = np.flatnonzero(rows.laying)
        begins = np.flatnonzero(starts)
        # the first row of each new layer: the one after the laying move before
        row = np.where(begins > 0, laying[begins - 1] + 1, 0) if len(laying) else begins
        before = rows.line[laying[begins - 1]] if len(laying) else begins
        before = np.where(begins > 0, before, self._last_laying_line)
        if self._count == 1 and len(begins):
            row[0] = laying[begins[0]]
            before[0] = rows.line[row[0]] - 1
        self._open(before + 1, kind[begins], rows.start[:2, laying[begins]])
        self._accumulate(rows, row)
        if len(laying):
            self._last_laying_line = int(rows.line[laying[-1]])

    def _open(self, line: NDArray[np.int64], kind: NDArray[np.uint8], start: Floats) -> None:
        count = self._count + len(line)
        if count > len(self._layer):
            self._layer = np.concatenate([self._layer[: self._count], _no_layers(count)])
        new = self._layer[self._count : count]
        new["first_line"], new["kind"], new["start_mm"] = line, kind, start.T
        self._count = count

    def _accumulate(self, rows: Rows, row: NDArray[np.int64]) -> None:
        bounds = np.append(0, row)
        filled = np.flatnonzero(np.diff(bounds, append=len(rows)) > 0)
        at = bounds[filled]
        layers = self._layer[self._count - len(bounds) : self._count]
        layers["sum"][filled] += _sums(rows, at).T
        low, high = (np.minimum.reduceat(rows.low, at, axis=1), np.maximum.reduceat(rows.high, at, axis=1))
        layers["low_mm"][filled] = np.minimum(layers["low_mm"][filled], low.T)
        layers["high_mm"][filled] = np.maximum(layers["high_mm"][filled], high.T)

    def finish(self) -> tuple[NDArray[np.void], Floats]:
        """(layers, sums of what came before the first layer, in the order of SUMS)."""
        layers = self._layer[: self._count]
        total = layers["sum"].sum(axis=0)
        kept = layers[self._merge_scraps()]
        table = np.zeros(len(kept), LAYER_DTYPE)
        table["first_line"], table["kind"] = kept["first_line"], kept["kind"]
        for name in ("clay_ml", "laid_ml", "path_mm", "time_s", "cruise_s", "laying_s"):
            table[name] = kept["sum"][:, SUMS.index(name)]
        paced = table["cruise_s"] > 0
        table["feed_mm_min"][paced] = table["path_mm"][paced] / table["cruise_s"][paced] * 60
        for axis, (low, high) in enumerate(_BOUNDS):
            table[low], table[high] = kept["low_mm"][:, axis], kept["high_mm"][:, axis]
        table["start_x_mm"], table["start_y_mm"] = kept["start_mm"].T
        return table, total

    @property
    def lead_in(self) -> Floats:
        """Sums of what came before the first layer, in the order of SUMS."""
        return np.asarray(self._layer["sum"][0])

    @property
    def laid_until(self) -> int:
        """The line after the last one that lays clay."""
        return self._last_laying_line + 1

    def _merge_scraps(self) -> list[int]:
        """Indices of the layers that stay; a part of a turn is joined to the layer it belongs to."""
        keep: list[int] = []
        kind = self._layer["kind"][: self._count].tolist()
        for i in range(1, self._count):
            ends_section = i + 1 == self._count or kind[i + 1] == LEVEL
            if keep and kind[i] == TURN and ends_section and self._is_scrap(i, keep[-1]):
                self._absorb(keep[-1], i)
            else:
                keep.append(i)
        return keep

    def _is_scrap(self, turn: int, before: int) -> bool:
        """Whether a section's last turn is less than half as long as the one before, or no ring at all."""
        layer = self._layer
        path = float(layer["sum"][turn, PATH])
        if layer["kind"][before] == TURN:
            return path < 0.5 * float(layer["sum"][before, PATH])
        extent = layer["high_mm"][turn, :2] - layer["low_mm"][turn, :2]
        return path < CLOSED_PATH * float(np.hypot(*extent))

    def _absorb(self, into: int, other: int) -> None:
        layer = self._layer
        layer["sum"][into] += layer["sum"][other]
        layer["sum"][other] = 0.0
        layer["low_mm"][into] = np.minimum(layer["low_mm"][into], layer["low_mm"][other])
        layer["high_mm"][into] = np.maximum(layer["high_mm"][into], layer["high_mm"][other])


_BOUNDS = (("x_min_mm", "x_max_mm"), ("y_min_mm", "y_max_mm"), ("low_mm", "height_mm"))
_ROW = np.dtype(
    [
        ("first_line", "i8"),
        ("kind", "u1"),
        ("start_mm", "f8", 2),
        ("sum", "f8", len(SUMS)),
        ("low_mm", "f8", 3),
        ("high_mm", "f8", 3),
    ]
)


def _no_layers(count: int) -> NDArray[np.void]:
    """Rows of layers in which nothing has been laid yet."""
    layers = np.zeros(count, _ROW)
    layers["low_mm"], layers["high_mm"] = np.inf, -np.inf
    return layers


def _sums(rows: Rows, at: NDArray[np.int64]) -> Floats:
    """What is added up from each of `at` to the next, (len(SUMS), len(at))."""
    every = np.add.reduceat(rows.amounts, at, axis=1)
    laid = every if rows.laying.all() else np.add.reduceat(rows.amounts * rows.laying, at, axis=1)
    found = np.empty((len(SUMS), len(at)))
    found[CLAY], found[LAID] = every[Amount.CLAY_ML], laid[Amount.CLAY_ML]
    found[PATH] = laid[Amount.LENGTH_MM]
    found[TIME] = every[Amount.TIME_S] + every[Amount.WAIT_S]
    found[CRUISE], found[LAYING] = laid[Amount.CRUISE_S], laid[Amount.TIME_S]
    found[TRAVEL] = every[Amount.LENGTH_MM] - laid[Amount.LENGTH_MM]
    return found
