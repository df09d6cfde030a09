"""What of the first level lies beside the piece: rings and lines round it or next to it, apart from it."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from gpost.common.ways import come_near
from gpost.survey.bycolumns import SAME_HEIGHT_MM
from gpost.survey.parts import Parts, boxes_apart_mm, leading
from gpost.survey.path import DROP_MM, LEVEL, Flags, Floats

TOUCHING = 1.25
"""Bead widths between the middles of two beads from which on they are certainly apart: soft clay spreads."""

FEW_STROKES = 3
"""Where nothing is laid on the first level, so many open strokes that touch one another are a piece; fewer
that touch none are lines beside it. Prime lines are one or two, and a tile takes more."""

MOST_RINGS = 3.0
"""So many rounds of a bounding box may be rings around a piece; more are a base."""

PathOf: TypeAlias = Callable[[int], Floats]
"""Index of a part -> the points that it leads through, x and y in machine mm, shape (2, k)."""


class Beside(NamedTuple):
    """A ring or line of the file that touches nothing of the piece, on lines from and to (exclusive)."""

    first_line: int
    end_line: int
    x_mm: tuple[float, float]
    """From where to where its path reaches, machine mm."""
    y_mm: tuple[float, float]


ASIDE_DTYPE = np.dtype(
    [
        ("first_line", "i8"),
        ("end_line", "i8"),
        ("before_ml", "f8"),  # net clay of the file before them
        ("clay_ml", "f8"),  # net clay metered on them
        ("laid_ml", "f8"),  # of that, clay metered by moves that lay clay
    ]
)
"""Lines whose beads are none of any layer, at whatever height: one row each, in order."""
NO_ASIDE = np.zeros(0, ASIDE_DTYPE)


def aside_at(aside: NDArray[np.void], line: NDArray[np.int64]) -> NDArray[np.int64]:
    """Which of such rows each line belongs to, by index; -1 for none."""
    row = np.searchsorted(aside["first_line"], line, side="right") - 1
    row[row >= 0] = np.where(line[row >= 0] < aside["end_line"][row[row >= 0]], row[row >= 0], -1)
    return np.asarray(row, np.int64)


def beside_piece(parts: Parts, bead_mm: float, path_of: PathOf) -> Flags:
    """Whether each part is one of the first level that stands off all that is the piece, shape (n,).

    The piece is what lies inside the box of the next level, or comes so near to that, or to another part of
    the piece, that the beads touch: a brim, a flange and the strokes of a base are the piece's. Where there
    is no next level, it is what is more than a few strokes that touch.
    """
    off, first_end = np.zeros(len(parts.kind), np.bool_), _level_end(parts, 0)
    if not first_end:
        return off
    if first_end == len(parts.kind):
        return _beside_strokes(parts, TOUCHING * bead_mm, cache(path_of))
    above = range(first_end, _next_level_end(parts, first_end))
    low, high = parts.low[above].min(axis=0)[:2], parts.high[above].max(axis=0)[:2]
    touching_mm = TOUCHING * bead_mm
    over_mm = np.maximum(low - parts.low[:first_end, :2], parts.high[:first_end, :2] - high).max(axis=1)
    off[:first_end] = over_mm > touching_mm
    if not off.any():
        return off
    todo = [*above, *np.flatnonzero(~off[:first_end]).tolist()]
    _take_touching(parts, todo, off, touching_mm, cache(path_of))
    # what a turn that begins as low stands on is nothing before it
    needed = abs(float(parts.start[first_end, 2] - parts.high[0, 2])) > DROP_MM
    if needed and off[:first_end].all():
        off[:] = False
    return off


def _take_touching(parts: Parts, todo: list[int], left: Flags, touching_mm: float, path_of: PathOf) -> None:
    """Set no more, of those `left`, what touches one of `todo`, and what touches that."""
    while todo and left.any():
        place, others = todo.pop(), np.flatnonzero(left)
        boxes = parts.low[others], parts.high[others], parts.low[place], parts.high[place]
        near = others[boxes_apart_mm(*boxes) <= touching_mm].tolist()
        touching = [one for one in near if come_near(path_of(one), path_of(place), touching_mm)]
        left[touching] = False
        todo += touching


def _beside_strokes(parts: Parts, touching_mm: float, path_of: PathOf) -> Flags:
    """Of an only level, the few open strokes that touch no piece, and rings round a piece of open strokes."""
    off, strokes = np.zeros(len(parts.kind), np.bool_), ~parts.closed
    if not strokes.any():
        return off
    groups = _hanging_together(parts, touching_mm, path_of)
    boxes, count = (
        [_Box.round(parts, group) for group in groups],
        [np.count_nonzero(strokes[g]) for g in groups],
    )
    tiles = [box for box, number in zip(boxes, count, strict=True) if number >= FEW_STROKES]
    pieces, few = tiles.copy(), []
    for group, box, number in zip(groups, boxes, count, strict=True):
        rings = parts.path_mm[group].sum() <= MOST_RINGS * 2 * (box.high_mm - box.low_mm).sum()
        if number >= FEW_STROKES:
            continue
        if number == len(group):
            few.append((group, box))
        elif not number and rings and any(box.holds(tile, touching_mm) for tile in tiles):
            off[group] = True
        else:
            pieces.append(box)
    for group, box in few if pieces else []:
        off[group] = not any(piece.holds(box, -touching_mm) for piece in pieces)
    return off


class _Box(NamedTuple):
    """Seen from above, x and y in machine mm."""

    low_mm: Floats
    high_mm: Floats

    @classmethod
    def round(cls, parts: Parts, which: NDArray[np.int64]) -> _Box:
        """Round some parts."""
        return cls(parts.low[which, :2].min(axis=0), parts.high[which, :2].max(axis=0))

    def holds(self, other: _Box, room_mm: float) -> bool:
        """Whether another lies in it with so much room on all sides, or, below 0, reaches out no further."""
        room = np.minimum(other.low_mm - self.low_mm, self.high_mm - other.high_mm)
        return bool((room >= room_mm).all())


def _hanging_together(parts: Parts, touching_mm: float, path_of: PathOf) -> list[NDArray[np.int64]]:
    """Parts by what touches what, all of them."""
    left, groups = np.ones(len(parts.kind), np.bool_), []
    while left.any():
        before, place = left.copy(), int(np.argmax(left))
        left[place] = False
        _take_touching(parts, [place], left, touching_mm, path_of)
        groups.append(np.flatnonzero(before & ~left))
    return groups


def _next_level_end(parts: Parts, first: int) -> int:
    """The part after those on the next level, of which `first` is one: as high, or begun as low again."""
    level_end = _level_end(parts, first)
    if level_end > first:
        return level_end
    lower = parts.low[first:, 2] < parts.high[first, 2] - SAME_HEIGHT_MM
    lower[0] = True
    return first + leading(lower)


def _level_end(parts: Parts, first: int) -> int:
    """The part after the level ones that lie, from `first` on, at one height."""
    same = (parts.kind[first:] == LEVEL) & (
        np.abs(parts.high[first:, 2] - parts.high[first, 2]) <= SAME_HEIGHT_MM
    )
    return first + leading(same)
