"""The layer table: adds up the moves of each layer as they come."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from gpost.survey.layers import LEVEL, TURN
from gpost.survey.model import LAYER_DTYPE

Floats = NDArray[np.float64]

SUMS = ("clay_ml", "laid_ml", "path_mm", "time_s", "cruise_s", "laying_s", "travel_mm")
LOWS, HIGHS = ("x_min", "y_min", "z_min"), ("x_max", "y_max", "z_max")


@dataclass(slots=True)
class Rows:
    """n timed moves, one array a column, all of shape (n,)."""

    line: NDArray[np.int64]
    """0-based line within the file."""
    laying: NDArray[np.bool_]
    sx: Floats
    """Start and end of the move, machine mm."""
    sy: Floats
    sz: Floats
    x: Floats
    y: Floats
    z: Floats
    length_mm: Floats
    clay_ml: Floats
    cruise_s: Floats
    time_s: Floats
    wait_s: Floats

    def cut(self, first: int | None, last: int | None) -> Rows:
        """Part of it."""
        return Rows(*(getattr(self, f.name)[first:last] for f in fields(Rows)))

    @staticmethod
    def join(parts: list[Rows]) -> Rows:
        """Parts, one after the other."""
        if len(parts) == 1:
            return parts[0]
        return Rows(*(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Rows)))

    def __len__(self) -> int:
        return len(self.line)


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
        self._start.append((float(rows.sx[first]), float(rows.sy[first])))
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
        path = [float(s[SUMS.index("path_mm")]) for s in self._sum]
        keep: list[int] = []
        count = len(path)
        for i in range(1, count):
            ends_section = i + 1 == count or self._kind[i + 1] == LEVEL
            scrap = self._kind[i] == TURN and ends_section and keep and path[i] < 0.5 * path[keep[-1]]
            if scrap:
                self._absorb(keep[-1], i)
            else:
                keep.append(i)
        return keep

    def _absorb(self, into: int, other: int) -> None:
        self._sum[into] = self._sum[into] + self._sum[other]
        self._sum[other] = np.zeros(len(SUMS))
        self._low[into] = np.minimum(self._low[into], self._low[other])
        self._high[into] = np.maximum(self._high[into], self._high[other])


def _columns(rows: Rows) -> list[Floats]:
    laying = rows.laying
    path = np.where(laying, rows.length_mm, 0.0)
    return [
        rows.clay_ml,
        np.where(laying, rows.clay_ml, 0.0),
        path,
        rows.time_s + rows.wait_s,
        np.where(laying, rows.cruise_s, 0.0),
        np.where(laying, rows.time_s, 0.0),
        rows.length_mm - path,
    ]


def _box(rows: Rows, at: NDArray[np.int64]) -> tuple[Floats, Floats]:
    """Lowest and highest laid x, y, z from each of `at` to the next; both (3, len(at))."""
    flying = ~rows.laying
    low, high = [], []
    for start, end in ((rows.sx, rows.x), (rows.sy, rows.y), (rows.sz, rows.z)):
        lesser, greater = np.minimum(start, end), np.maximum(start, end)
        lesser[flying], greater[flying] = np.inf, -np.inf
        low.append(np.minimum.reduceat(lesser, at))
        high.append(np.maximum.reduceat(greater, at))
    return np.stack(low), np.stack(high)
