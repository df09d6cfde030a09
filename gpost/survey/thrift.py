"""Keeps few the moves that wait for an answer: no file may fill the memory with them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gpost.survey.bycolumns import SAME_HEIGHT_MM
from gpost.survey.rows import Rows

MOST_HELD = 30_000
"""Laying moves that wait, from which on those that come are held four to one; from twice as many 16 to one,
and so on. Few walls have so many in one turn; where they do, a turn may begin by some moves off."""

FACTOR = 4
FEW = 1 / 8
"""Part of a block's moves that may lay nothing before it pays to join them."""


def held_together(rows: Rows, held: int) -> Rows:
    """Timed moves of one block as they may wait, with so many laying ones that wait already.

    Moves that lay nothing count only by their sums, so those between two that lay clay become one.
    """
    away = len(rows) - int(np.count_nonzero(rows.laying))
    if held < MOST_HELD and away <= FEW * len(rows):
        return rows
    changes = np.diff(rows.laying, prepend=~rows.laying[:1]) != 0
    if held < MOST_HELD:
        return rows.grouped(np.flatnonzero(changes | rows.laying))
    sloped = np.abs(rows.end[2] - rows.start[2]) > SAME_HEIGHT_MM
    changes[1:] |= (sloped[1:] != sloped[:-1]) & rows.laying[1:]
    return rows.grouped(_every(np.flatnonzero(changes), rows, FACTOR ** (held // MOST_HELD)))


def _every(begins: NDArray[np.int64], rows: Rows, count: int) -> NDArray[np.int64]:
    """Begins of stretches that are alike, and within those that lay clay every so many moves."""
    move = np.arange(len(rows))
    since = move - begins[np.searchsorted(begins, move, side="right") - 1]
    return np.flatnonzero((since == 0) | (rows.laying & (since % count == 0)))
