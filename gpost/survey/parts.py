"""Parts of a wall, from which layers are made: their boxes, heights and paths."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.survey.bycolumns import SAME_HEIGHT_MM, SAME_PLACE_MM
from gpost.survey.loops import CLOSED_PATH
from gpost.survey.path import Flags, Floats

FIRST_STROKES = 64
"""So many strokes at each height are parts of their own, so that those beside the piece can be told apart;
the last of them holds all that follow."""

BESIDE_MM = 5.0
"""Distance between bounding boxes at which one thing certainly stands beside the other."""

INSIDE_MM = 1.0
"""A wall lies inside another if its box lies that far inside on all sides."""


class Parts(NamedTuple):
    """n parts in printing order, machine mm."""

    kind: NDArray[np.uint8]
    path_mm: Floats
    mean_mm: Floats
    """Mean height along the path."""
    start: Floats
    """shape (n, 3)."""
    end: Floats
    low: Floats
    high: Floats

    def cut(self, first: int) -> Parts:
        """Those from one on."""
        return Parts(*(column[first:] for column in self))  # type: ignore[arg-type]

    @property
    def closed(self) -> Flags:
        """Whether each part has path enough to go round."""
        return np.asarray(self.path_mm >= CLOSED_PATH * self.diagonal_mm)

    @property
    def single(self) -> Flags:
        """Whether each part is certainly one stroke, and not all that is left of its level."""
        at, begins = np.arange(len(self.kind)), np.ones(len(self.kind), np.bool_)
        begins[1:] = np.abs(np.diff(self.high[:, 2])) > SAME_HEIGHT_MM
        begins[1:] |= self.kind[1:] != self.kind[:-1]
        return np.asarray(at - np.maximum.accumulate(np.where(begins, at, 0)) < FIRST_STROKES - 1)

    @property
    def diagonal_mm(self) -> Floats:
        """Diagonal of each part's box, seen from above."""
        return np.asarray(np.hypot(*(self.high[:, :2] - self.low[:, :2]).T))


def boxes_apart_mm(low: Floats, high: Floats, other_low: Floats, other_high: Floats) -> Floats:
    """How far boxes (..., 3), seen from above, are apart along X or Y, (...); below 0 where they overlap."""
    gaps = np.maximum(other_low[..., :2] - high[..., :2], low[..., :2] - other_high[..., :2])
    return np.asarray(gaps.max(axis=-1))


def leading(flags: Flags) -> int:
    """How many stand before the first that is not set."""
    return len(flags) if flags.all() else int(np.argmin(flags))


def travelled(parts: Parts, to: NDArray[np.int64]) -> Flags:
    """Whether the nozzle comes from elsewhere to each of these parts, none of them the first."""
    away = np.zeros(len(to), np.bool_)
    for axis in range(3):  # one after the other: all at once would hold three columns more
        away |= np.abs(parts.start[to, axis] - parts.end[to - 1, axis]) > SAME_PLACE_MM
    return away


def extents_of(parts: Parts, first: NDArray[np.int64]) -> tuple[Floats, Floats]:
    """(low, high) of layers that begin with these parts, x, y and z, (n, 3) each."""
    low = np.minimum.reduceat(parts.low, first, axis=0)
    return low, np.maximum.reduceat(parts.high, first, axis=0)


def boxes_of(parts: Parts, first: NDArray[np.int64]) -> tuple[Floats, Floats]:
    """(low, high) of layers that begin with these parts, x and y, (n, 2) each."""
    low, high = extents_of(parts, first)
    return low[:, :2], high[:, :2]


def closed_layers(parts: Parts, first: NDArray[np.int64], low: Floats, high: Floats) -> Flags:
    """Whether each layer, which begins with one of these parts, has path enough to go round its box."""
    return np.asarray(np.add.reduceat(parts.path_mm, first) >= CLOSED_PATH * np.hypot(*(high - low).T))
