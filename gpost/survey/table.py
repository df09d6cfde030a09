"""The layer table: adds up the moves of each part of the wall as they come, and makes layers of the parts."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from gpost.survey.beside import ASIDE_DTYPE, NO_ASIDE, Beside
from gpost.survey.compose import compose
from gpost.survey.growing import Growing
from gpost.survey.layerrows import LAYER_DTYPE
from gpost.survey.parts import Parts
from gpost.survey.path import LEVEL
from gpost.survey.rows import CRUISE, HEIGHT, LAID, LAYING, PATH, SUMS, TRAVEL, Rows

try:
    from gpost.survey.onepass import added_up
except ImportError:  # installed without a compiler
    from gpost.survey.bycolumns import added_up

Floats = NDArray[np.float64]


class LayerSums:
    """Sums by part of the wall, filled move by move. Part 0 is what comes before the first clay is laid.

    The parts are kept in the very rows that will be the layers: there may be hundreds of thousands.
    """

    def __init__(self) -> None:
        self._layers, self._extra = Growing(LAYER_DTYPE), Growing(_EXTRA)
        """One row a part, in both."""
        self._open(np.zeros(1, np.int64), np.zeros(1, np.uint8), np.zeros((3, 1)))
        self._last_laying_line = -1
        self.lead_in: Floats = np.zeros(len(SUMS))
        """Sums of what came before the first layer, in the order of SUMS; once finished."""
        self.pieces = 1
        """Pieces one after the other; once finished."""
        self.beside: tuple[Beside, ...] = ()
        """What is laid beside the piece at the height of the first layer; once finished."""
        self.aside: NDArray[np.void] = NO_ASIDE
        """All that is laid and is none of any layer, ASIDE_DTYPE; once finished."""

    def __len__(self) -> int:
        """Parts so far."""
        return len(self._layers)

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
        if len(self) == 1 and len(begins):
            row[0] = laying[begins[0]]
            before[0] = rows.line[row[0]] - 1
        self._open(before + 1, kind[begins], rows.start[:, laying[begins]])
        self._accumulate(rows, row, laying, begins)
        if len(laying):
            self._last_laying_line = int(rows.line[laying[-1]])

    def _open(self, line: NDArray[np.int64], kind: NDArray[np.uint8], start: Floats) -> None:
        new, extra = self._layers.add(len(line)), self._extra.add(len(line))
        new["first_line"], new["kind"], extra["start_mm"] = line, kind, start.T
        new = new.view(_JOINED)
        new["low_mm"], new["high_mm"] = np.inf, -np.inf

    def _accumulate(
        self, rows: Rows, row: NDArray[np.int64], laying: NDArray[np.int64], begins: NDArray[np.int64]
    ) -> None:
        bounds = np.append(0, row)
        filled = np.flatnonzero(np.diff(bounds, append=len(rows)) > 0)
        at = bounds[filled]
        parts, extra = self._layers.rows[-len(bounds) :].view(_JOINED), self._extra.rows[-len(bounds) :]
        sums, low, high = added_up(rows, at)
        parts["sum"][filled] += sums[:, :TRAVEL]
        extra["sum"][filled] += sums[:, TRAVEL:]
        parts["low_mm"][filled] = np.minimum(parts["low_mm"][filled], low)
        parts["high_mm"][filled] = np.maximum(parts["high_mm"][filled], high)
        if len(laying):
            # where each part's last laying move among these ends
            last = np.append(begins - 1, len(laying) - 1)
            ended = np.flatnonzero(np.diff(last, prepend=-1) > 0)
            extra["end_mm"][ended] = rows.end[:, laying[last[ended]]].T

    def finish(
        self, bead_mm: float, points_on: Callable[[int, int], Floats]
    ) -> tuple[NDArray[np.void], Floats]:
        """(layers, sums of everything, in the order of SUMS). Nothing can be added any more.

        `bead_mm`: how wide the beads are; `points_on`: lines from and to (exclusive) -> the points that the
        clay laid on them leads through, (2, k).
        """
        rows, total = self._layers.rows, self._sums_of(slice(None))
        self.lead_in = self._sums_of(slice(1))
        if len(rows) == 1:
            return self._layers.cut(0), total
        ends = np.append(rows["first_line"][1:], self._last_laying_line + 1)
        parts = self._parts()
        found = compose(parts, bead_mm, lambda part: points_on(*_lines(ends, part)))
        self.pieces, begin = found.pieces, 1 + found.lead_in
        boxes = np.stack([parts.low[found.beside], parts.high[found.beside]], axis=2).tolist()
        self.beside = tuple(
            Beside(*_lines(ends, part), tuple(x_mm), tuple(y_mm))
            for part, (x_mm, y_mm, _) in zip(found.beside, boxes, strict=True)
        )
        self.lead_in = self._sums_of(slice(begin))
        left_out = np.flatnonzero(~found.boxed)
        self.aside = _aside(rows, np.append(np.arange(1, begin), begin + left_out), ends)
        _leave_out(rows[begin:], left_out)
        rows["odd"][begin:], rows["kind"][begin:] = found.odd, rows["kind"][begin:] != LEVEL
        starts = ("start_x_mm", "start_y_mm", "start_z_mm")
        for name, place_mm in zip(starts, self._extra.rows["start_mm"].T, strict=True):
            rows[name] = place_mm
        first = np.flatnonzero(found.begins)
        for name, join in _JOINS.items():
            # what is written stands before what is yet to be read
            rows[name][: len(first)] = join.reduceat(rows[name][begin:], first)
        for name in ("first_line", *starts):
            rows[name][: len(first)] = rows[name][begin:][first]
        layers = self._layers.cut(len(first))
        layers["feed_mm_min"], paced = 0.0, layers["cruise_s"] > 0
        layers["feed_mm_min"][paced] = layers["path_mm"][paced] / layers["cruise_s"][paced] * 60
        return layers, total

    def _sums_of(self, which: slice) -> Floats:
        """Sums over some of the parts, in the order of SUMS."""
        parts = (self._layers.rows.view(_JOINED)["sum"], self._extra.rows["sum"])
        return np.concatenate([part[which].sum(axis=0) for part in parts])

    def _parts(self) -> Parts:
        """The parts but the one before the first clay."""
        layers, extra = self._layers.rows[1:], self._extra.rows[1:]
        joined, path_mm = layers.view(_JOINED), layers["path_mm"]
        mean_mm = extra["sum"][:, HEIGHT - TRAVEL] / np.maximum(path_mm, 1e-12)
        places = (extra["start_mm"], extra["end_mm"], joined["low_mm"], joined["high_mm"])
        return Parts(layers["kind"], path_mm, mean_mm, *places)


_LAID_SUMS = np.array([LAID, PATH, CRUISE, LAYING])
"""Sums over laying moves alone: what is laid beside the piece is none of them."""

_JOINS = {
    "kind": np.maximum,
    "odd": np.logical_or,
    **dict.fromkeys(SUMS[:TRAVEL], np.add),
    **dict.fromkeys(("x_min_mm", "y_min_mm", "low_mm"), np.minimum),
    **dict.fromkeys(("x_max_mm", "y_max_mm", "height_mm"), np.maximum),
}
"""How a layer's value is made of those of its parts."""


def _joined() -> np.dtype[np.void]:
    """A layer's row with fields that stand side by side taken together."""
    fields = LAYER_DTYPE.fields
    assert fields is not None
    joined: Any = {
        "names": ["sum", "low_mm", "high_mm"],
        "formats": [("f8", TRAVEL), ("f8", 3), ("f8", 3)],
        "offsets": [fields[name][1] for name in ("clay_ml", "x_min_mm", "x_max_mm")],
        "itemsize": LAYER_DTYPE.itemsize,
    }
    return cast("np.dtype[np.void]", np.dtype(joined))


_JOINED = _joined()

_EXTRA = np.dtype([("start_mm", "f8", 3), ("end_mm", "f8", 3), ("sum", "f8", len(SUMS) - TRAVEL)])
"""What must be known of a part on top of what will be known of a layer."""


def _lines(ends: NDArray[np.int64], part: int) -> tuple[int, int]:
    """The lines from which and to which (exclusive) a part goes; parts from the first clay on."""
    first, end = ends[part : part + 2].tolist()
    return first, end


def _aside(rows: NDArray[np.void], which: NDArray[np.int64], ends: NDArray[np.int64]) -> NDArray[np.void]:
    """Those of some parts that lay clay, as rows of their own; `ends`: the line after each part."""
    which = which[rows["laid_ml"][which] > 0]
    aside = np.zeros(len(which), ASIDE_DTYPE)
    for name in ("first_line", "clay_ml", "laid_ml"):
        aside[name] = rows[name][which]
    aside["end_line"] = ends[which]
    aside["before_ml"] = (np.cumsum(rows["clay_ml"]) - rows["clay_ml"])[which]
    return aside


def _leave_out(parts: NDArray[np.void], which: NDArray[np.int64]) -> None:
    """What these lay counts no more, but for their clay and time."""
    joined = parts.view(_JOINED)
    joined["low_mm"][which], joined["high_mm"][which] = np.inf, -np.inf
    joined["sum"][np.ix_(which, _LAID_SUMS)] = 0.0
