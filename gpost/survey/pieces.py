"""How many pieces there are, one after the other: of walls beside one another each is one, if laid whole."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gpost.survey.bycolumns import SAME_HEIGHT_MM, SAME_PLACE_MM
from gpost.survey.parts import (
    BESIDE_MM,
    Parts,
    boxes_apart_mm,
    boxes_of,
    closed_layers,
    extents_of,
    travelled,
)
from gpost.survey.path import DROP_MM, ODD, Flags, Floats


def count_pieces(parts: Parts, begins: Flags) -> int:
    """Pieces one after the other: the nozzle goes down again, to the bottom or beside what is laid.

    A wall that waves comes down too, but not below where the layer before lay, and not by travel.
    """
    first = np.flatnonzero(begins)
    low = np.minimum.reduceat(parts.low[:, 2], first)
    lower = parts.start[first[1:], 2] < low[:-1] - DROP_MM
    behind = _behind_others(parts, first)
    maybe = np.flatnonzero(travelled(parts, first[1:]) & (lower | behind[1:])) + 1
    pieces, since, box = 1, 0, boxes_of(parts, first)
    begun: list[int] = []
    for place in maybe.tolist():
        own, start = slice(first[since], first[place]), parts.start[first[place]]
        lowest = float(parts.start[own, 2].min())
        beside = boxes_apart_mm(start, start, parts.low[own].min(axis=0), parts.high[own].max(axis=0))
        to_bottom = lower[place - 1] and (start[2] <= lowest + SAME_PLACE_MM or beside > BESIDE_MM)
        if to_bottom or (behind[place] and not _meets_any(box, place, begun)):
            pieces, since = pieces + 1, place
            begun.append(place)
    return pieces


def _meets_any(box: tuple[Floats, Floats], one: int, others: list[int]) -> bool:
    """Whether the box of a layer overlaps that of any of some others."""
    low, high = box
    return bool((boxes_apart_mm(low[one], high[one], low[others], high[others]) <= 0).any())


def _behind_others(parts: Parts, first: NDArray[np.int64]) -> Flags:
    """Which layers lie beside the two before, which lie on one another, and no higher than the lower one.

    So begins the second of two walls on floors that were laid level by level, each wall whole.
    """
    behind = np.zeros(len(first), np.bool_)
    low, high = extents_of(parts, first)
    ring = np.maximum.reduceat(parts.kind == ODD, first) == 0
    ring &= closed_layers(parts, first, low[:, :2], high[:, :2])
    one, two, own = slice(0, -2), slice(1, -1), slice(2, None)
    apart = boxes_apart_mm(low[own], high[own], low[one], high[one]) > 0
    apart &= boxes_apart_mm(low[own], high[own], low[two], high[two]) > 0
    pile = boxes_apart_mm(low[one], high[one], low[two], high[two]) < 0
    pile &= (high[two, 2] > high[one, 2] + DROP_MM) & (high[one, 2] >= high[own, 2] - SAME_HEIGHT_MM)
    behind[2:] = apart & pile & ring[one] & ring[two] & ring[own]
    return behind
