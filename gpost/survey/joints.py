"""Level rings laid by turns whose joints break: beads that lie beside one another, each half a layer off."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.survey.parts import INSIDE_MM, Parts, boxes_apart_mm, extents_of, travelled
from gpost.survey.path import DROP_MM, LEVEL, Flags, Floats

FEWEST_BY_TURNS = 4
"""Rings from which it can be told that two walls are laid by turns."""

LOOKED_BACK = 8
"""So many layers before one is looked for what it lies on: four cups of two beads each."""

FREE_BEADS = 0.75
"""Bead widths from one ring to a higher one at least: nearer, that lies on it rather than beside it."""

BESIDE = 0.25
"""Part of the lower bead's height over which two beads stand side by side at least: the rest is tolerance."""

THICKER = 1.5
"""Times as high as the other of two beads side by side one is at most: both are of one wall."""


class _Rings(NamedTuple):
    """Layers as they are so far, n of them."""

    low: Floats
    """shape (n, 3)."""
    high: Floats
    level: Flags
    beneath: NDArray[np.int64]
    """The last layer before each that isn't clear of it, seen from above; -1: none of the last ones."""
    bottom_mm: Floats
    """Where its bead begins: on that layer. NaN: nothing tells."""

    @classmethod
    def of(cls, parts: Parts, first: NDArray[np.int64], low: Floats, high: Floats) -> _Rings:
        """Layers that begin with these parts, and their extents."""
        beneath, above = np.full((2, len(first)), -1)
        at = np.arange(len(first))
        for back in range(1, min(LOOKED_BACK, len(first) - 1) + 1):
            before, own = at[:-back], at[back:]
            met = ~_clear(low, high, before, own, INSIDE_MM) & (beneath[own] < 0)
            beneath[own[met]] = before[met]
        upper = at[beneath >= 0][::-1]
        above[beneath[upper]] = upper
        # of a ring over a base, which is one layer with all its rings, the next on that ring tells
        top_mm = high[:, 2]
        rise_mm = np.where(above >= 0, top_mm[above] - top_mm, np.nan)
        bottom_mm = np.where(beneath >= 0, top_mm[beneath], top_mm - rise_mm)
        return cls(low, high, np.maximum.reduceat(parts.kind != LEVEL, first) == 0, beneath, bottom_mm)


def join_joints(parts: Parts, begins: Flags, bead_mm: float) -> None:
    """Level rings by turns whose beads stand side by side, one a part of a layer higher, are one layer.

    As in a wall of two beads that break joint, or in several such walls. A layer ends where the next ring
    lies on one of its own.
    """
    first = np.flatnonzero(begins)
    if len(first) < FEWEST_BY_TURNS:
        return
    before, own = np.arange(len(first) - 1), np.arange(1, len(first))
    low, high = extents_of(parts, first)
    moved = (np.abs(np.diff(high[:, 2])) > DROP_MM) & travelled(parts, first[1:])
    if not (moved & _clear(low, high, before, own, INSIDE_MM)).any():
        return
    rings = _Rings.of(parts, first, low, high)
    moved &= rings.level[1:] & rings.level[:-1]
    joined = np.append(False, moved & (_lower(rings) | _side_by_side(rings, bead_mm)))
    joined = _again(joined)
    start = 0
    for place in np.flatnonzero(joined).tolist():
        start = start if joined[place - 1] else place - 1
        if rings.beneath[place] >= start:
            start = place
        else:
            begins[first[place]] = False


def _again(joined: Flags) -> Flags:
    """Those of which the second before or after is one, too, or of which both neighbours are such."""
    again = np.zeros(len(joined), np.bool_)
    again[2:] |= joined[:-2]
    again[:-2] |= joined[2:]
    again &= joined
    again[1:-1] |= joined[1:-1] & again[2:] & again[:-2]
    return again


def _lower(rings: _Rings) -> Flags:
    """Which but the first lie beside the one before and lower, but above the layer before both."""
    low, high = rings.low, rings.high
    at = np.arange(1, len(low))
    lower = _clear(low, high, at - 1, at, INSIDE_MM) & (high[1:, 2] < high[:-1, 2] - DROP_MM)
    lower[1:] &= low[2:, 2] > high[:-2, 2] + DROP_MM
    return np.asarray(lower)


def _side_by_side(rings: _Rings, bead_mm: float) -> Flags:
    """Of which, but the first, the bead stands beside that of the one before."""
    top_mm, bottom_mm, at = rings.high[:, 2], rings.bottom_mm, np.arange(1, len(rings.low))
    own_mm = top_mm - bottom_mm
    shared_mm = np.minimum(top_mm[1:], top_mm[:-1]) - np.maximum(bottom_mm[1:], bottom_mm[:-1])
    thin_mm, thick_mm = np.minimum(own_mm[1:], own_mm[:-1]), np.maximum(own_mm[1:], own_mm[:-1])
    beside = (shared_mm >= BESIDE * thin_mm) & (thick_mm <= THICKER * thin_mm)
    free = _clear(rings.low, rings.high, at - 1, at, FREE_BEADS * bead_mm)
    free |= (top_mm[1:] < top_mm[:-1]) & _clear(rings.low, rings.high, at - 1, at, INSIDE_MM)
    return np.asarray(beside & free)


def _clear(
    low: Floats, high: Floats, one: NDArray[np.int64], other: NDArray[np.int64], room_mm: float
) -> Flags:
    """Whether of two layers each, by their boxes, one lies inside the other with that room, or beside it."""
    least, most = low[other, :2] - low[one, :2], high[one, :2] - high[other, :2]
    inside = np.minimum(least, most).min(axis=1) > room_mm
    around = np.maximum(least, most).max(axis=1) < -room_mm
    return np.asarray(inside | around | (boxes_apart_mm(low[one], high[one], low[other], high[other]) > 0))
