"""Layers from the parts of a wall: what is lead-in, a scrap, on one height, or odd."""

from __future__ import annotations

from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.survey.beside import FEW_STROKES, MOST_RINGS, TOUCHING, PathOf, beside_piece
from gpost.survey.bycolumns import SAME_HEIGHT_MM
from gpost.survey.joints import join_joints
from gpost.survey.parts import (
    BESIDE_MM,
    FIRST_STROKES,
    INSIDE_MM,
    Parts,
    boxes_apart_mm,
    boxes_of,
    closed_layers,
    leading,
    travelled,
)
from gpost.survey.path import DROP_MM, LEVEL, ODD, TURN, Flags, Floats
from gpost.survey.pieces import count_pieces

MOST_HEIGHTS = 3
"""On so many heights, or fewer, strokes to prime the nozzle may lie: common practice, no source."""

MOST_BEFORE = MOST_HEIGHTS * FIRST_STROKES
"""More parts than so many heights have are looked at no further: each is held against all that follow."""

SHORT_PART = 0.1
"""An open stroke with less path than this part of the layer before it is no layer."""

HALF_TURN = 0.5
"""A wall's last turn with less path than this part of the one before is no layer."""

ALIKE = 1.5
"""How much more or less often than the turn before a turn may go round its own bounding box."""

AROUND, UNLIKE = 5, 0.15
"""Turns of which the middle one's path is compared with the median, and by which part it may differ."""

FLOOR_BEADS = 2.0
"""Bead widths: a floor laid before the wall round it is no higher, or the nozzle would not get beside it."""

CLEAR_BEADS = 0.5
"""Bead widths from the middle of a floor's bead to the wall's at least: less far it would go through it."""


class Composed(NamedTuple):
    """What the parts are."""

    lead_in: int
    """Parts at the start that are beside the piece or round it: strokes to prime the nozzle."""
    begins: Flags
    """Whether each of the other parts begins a layer; the first does."""
    boxed: Flags
    """Whether each of them lies where its layer lies; a stroke beside the piece does not."""
    beside: list[int]
    """All parts, lead-in counted, that lie on the first level and stand off the piece."""
    odd: Flags
    """Whether it can't be told what layers there are in it."""
    pieces: int
    """Pieces, one after the other."""


def compose(parts: Parts, bead_mm: float, path_of: PathOf) -> Composed:
    """Layers of parts, at least one; `bead_mm`: how wide the beads are, `path_of`: asked for single parts."""
    lead_in = _lead_in(parts)
    parts = parts.cut(lead_in)
    off = beside_piece(parts, bead_mm, partial(_later, path_of, lead_in))
    beside, before = (np.flatnonzero(off) + lead_in).tolist(), leading(off)
    lead_in, parts, off = lead_in + before, parts.cut(before), off[before:]
    begins = np.ones(len(parts.kind), np.bool_)
    _join_level(parts, begins)
    _join_scraps(parts, begins)
    _join_turns(parts, begins)
    _join_ring_around(parts, begins)
    join_joints(parts, begins, bead_mm)
    _join_floor(parts, begins, bead_mm)
    _join_last_strokes(parts, begins)
    boxed = _boxed(parts, begins, off, max(BESIDE_MM, TOUCHING * bead_mm))
    return Composed(lead_in, begins, boxed, beside, _odd(parts, begins), count_pieces(parts, begins))


def _later(path_of: PathOf, before: int, place: int) -> Floats:
    """The path of a part, by its index among those that come after so many."""
    return path_of(before + place)


def _lead_in(parts: Parts) -> int:
    """Parts at the start that stand apart from the first ring, or, if closed, from what is laid above.

    Where there is no ring, strokes that are most of the clay are no lead-in: what comes later lies beside.
    Nor are strokes on many heights: they stand there as high as a piece.
    """
    closed = parts.closed
    is_ring = closed & parts.single
    place = _first_by_the_piece(parts, closed, is_ring)
    if place < FEW_STROKES:
        return place
    rises = np.count_nonzero(np.diff(np.sort(parts.high[:place, 2])) > SAME_HEIGHT_MM)
    if place > MOST_BEFORE or rises >= MOST_HEIGHTS:
        return 0
    return place if is_ring.any() or parts.path_mm[:place].sum() < parts.path_mm[place:].sum() else 0


def _first_by_the_piece(parts: Parts, closed: Flags, is_ring: Flags) -> int:
    """The first part that does not stand apart from the first ring, or from what is laid above."""
    count = len(parts.kind)
    most = min(count - 1, MOST_BEFORE + 1)
    for place in range(most):
        if closed[place] and parts.kind[place] != LEVEL:
            return place
        later = np.arange(count) > place
        above = later & (np.abs(parts.mean_mm - parts.mean_mm[place]) > SAME_HEIGHT_MM)
        rings = (above if closed[place] else later) & is_ring
        found = rings if rings.any() else above
        if not found.any() or not _stands_apart(parts, place, int(np.argmax(found))):
            return place
    return most


def _stands_apart(parts: Parts, place: int, reference: int) -> bool:
    """Whether a part is apart from a later one and all that follows at its height."""
    same = np.abs(parts.mean_mm[reference:] - parts.mean_mm[reference]) <= SAME_HEIGHT_MM
    end = reference + leading(same)
    low, high = parts.low[reference:end].min(axis=0), parts.high[reference:end].max(axis=0)
    return bool(boxes_apart_mm(parts.low[place], parts.high[place], low, high) > BESIDE_MM)


def _join_level(parts: Parts, begins: Flags) -> None:
    """Level parts at one height, one after the other, are one layer."""
    level = (parts.kind[1:] == LEVEL) & (parts.kind[:-1] == LEVEL)
    begins[1:] &= ~(level & (np.abs(np.diff(parts.high[:, 2])) <= SAME_HEIGHT_MM))


def _join_scraps(parts: Parts, begins: Flags) -> None:
    """A short open stroke belongs to the layer before it, or at the very start to the one after it.

    So does the last part of a wall's turns, if it is less than half as long as the turn before it.
    """
    first = np.flatnonzero(begins)
    path_mm = np.add.reduceat(parts.path_mm, first)
    alone = np.diff(first, append=len(begins)) == 1
    is_open = ~parts.closed[first] & alone
    short = is_open[1:] & (path_mm[1:] < SHORT_PART * path_mm[:-1])
    turn = parts.kind[first] == TURN
    ends = turn & ~np.append(turn[1:], False)
    short |= ends[1:] & turn[:-1] & (path_mm[1:] < HALF_TURN * path_mm[:-1])
    short |= ends[1:] & ~turn[:-1] & is_open[1:]
    begins[first[1:][short]] = False
    if len(first) > 1 and is_open[0] and path_mm[0] < SHORT_PART * path_mm[1]:
        begins[first[1]] = False


def _join_turns(parts: Parts, begins: Flags) -> None:
    """Turns of walls inside one another or side by side, to which the nozzle goes down again, are one layer.

    Not so strands that climb together, of which each turn goes round where the one before did, nor a piece
    beside one that is done: the nozzle goes down further then than to where the turn before began.
    """
    first = np.flatnonzero(begins)
    before, after = first[:-1], first[1:]
    inside = _inside(parts, before, after) | _inside(parts, after, before)
    aside = boxes_apart_mm(parts.low[before], parts.high[before], parts.low[after], parts.high[after]) > 0
    aside &= parts.start[after, 2] >= parts.low[before, 2] - DROP_MM
    turns = (parts.kind[before] == TURN) & (parts.kind[after] == TURN)
    away = travelled(parts, after)
    down = parts.start[after, 2] < parts.mean_mm[before]
    begins[after[turns & away & down & (inside | aside)]] = False


def _inside(
    parts: Parts, outer: NDArray[np.int64], inner: NDArray[np.int64], room_mm: float = INSIDE_MM
) -> Flags:
    """Whether each part lies inside the other, seen from above and by their boxes, with room on all sides."""
    low = parts.low[inner, :2] - parts.low[outer, :2]
    high = parts.high[outer, :2] - parts.high[inner, :2]
    return np.asarray((np.minimum(low, high) > room_mm).all(axis=1))


def _join_ring_around(parts: Parts, begins: Flags) -> None:
    """A level ring around the first turn of a wall, as low as that begins, is no layer under it."""
    turn = int(np.argmax(parts.kind == TURN))
    if not turn or parts.kind[turn] != TURN or not (parts.kind[:turn] == LEVEL).all():
        return
    around = np.arange(turn)
    low, high = parts.low[:turn].min(axis=0), parts.high[:turn].max(axis=0)
    filled = parts.path_mm[:turn].sum() > MOST_RINGS * 2 * (high - low)[:2].sum()
    following = np.flatnonzero(begins[turn + 1 :])
    wall = np.arange(turn, turn + 1 + int(following[0]) if len(following) else len(begins))
    level = abs(float(parts.start[turn, 2]) - high[2]) <= DROP_MM and high[2] - low[2] <= DROP_MM
    inside = all(_inside(parts, around, np.full(turn, place), BESIDE_MM).all() for place in wall.tolist())
    if level and not filled and inside:
        begins[1 : turn + 1] = False


def _join_floor(parts: Parts, begins: Flags, bead_mm: float) -> None:
    """A floor and the wall beside it, laid one after the other from below, are as many layers as have levels.

    Whichever is first: it is low, and the other lies round or inside it and touches it, but not over it. All
    of the first that lies as high as the second begins is one layer with the lowest of that; what is laid
    higher begins a layer each, though it is no higher than the first's top. The next turn of a wall
    that waves comes down too, but not below the lowest of the turn before.
    """
    first = np.flatnonzero(begins)
    low = np.minimum.reduceat(parts.low[:, 2], first)
    high = np.maximum.reduceat(parts.high[:, 2], first)
    down = travelled(parts, first[1:]) & (parts.start[first[1:], 2] < high[:-1] - DROP_MM)
    if not down.any():
        return
    place = 1 + int(np.argmax(down))
    top_mm, low_mm = float(high[:place].max()), float(low[:place].min())
    below_mm = max(low_mm + SAME_HEIGHT_MM, float(low[:place].max()) - DROP_MM)
    if top_mm - low_mm > FLOOR_BEADS * bead_mm or low[place] > below_mm:
        return
    above = (low[place:] >= top_mm - DROP_MM) & (high[place:] > top_mm + DROP_MM)
    end = place + int(np.argmax(above)) if above.any() else len(first)
    last = first[end] if end < len(first) else len(begins)
    room_mm = _room_mm(parts, slice(0, first[place]), slice(first[place], last)) if end > place else None
    if room_mm is None:
        return
    least, most = (float(room) / bead_mm for room in (room_mm.min(), room_mm.max()))
    # a spiral ends on one side, and is a bead further from the wall on the other
    if CLEAR_BEADS <= least <= TOUCHING and most <= TOUCHING + 1:
        begin = int(np.argmax(high[:place] > low[place] - DROP_MM))
        begins[first[begin + 1 : place + 1]] = False


def _room_mm(parts: Parts, one: slice, other: slice) -> Floats:
    """From the box round some parts to that of others round it, by side; below 0: it lies over that.

    Of a wall that is laid in rings it is to the nearest of those round all of what they hold.
    """
    boxes = [(parts.low[each, :2].min(axis=0), parts.high[each, :2].max(axis=0)) for each in (one, other)]
    inner, outer = (0, 1) if boxes[1][0][0] < boxes[0][0][0] else (1, 0)
    (low, high), within = boxes[inner], (one, other)[outer]
    sides = np.hstack([low - parts.low[within, :2], parts.high[within, :2] - high])
    around = (sides > 0).all(axis=1)
    if around.any():
        return np.asarray(sides[around].min(axis=0))
    return np.concatenate([low - boxes[outer][0], boxes[outer][1] - high])


def _join_last_strokes(parts: Parts, begins: Flags) -> None:
    """Strokes beside the piece when it is done are no layers; their clay belongs to the last one."""
    first, end = np.flatnonzero(begins), len(begins)
    while len(first) > 1:
        before, last = np.arange(first[-2], first[-1]), np.arange(first[-1], end)
        low, high = parts.low[before].min(axis=0), parts.high[before].max(axis=0)
        if not _off_the_wall(parts, last, low, high).all():
            return
        first, end = first[:-1], int(first[-1])
        begins[end] = False


def _boxed(parts: Parts, begins: Flags, off: Flags, reach_mm: float) -> Flags:
    """All but what stands off the first level, and strokes of the last layer that lie beside the piece.

    Of the last layer the piece is what is no open stroke, what lies over the layer before or, if there is
    none, on the first level, and what comes near to any of that.
    """
    boxed = ~off
    first = np.flatnonzero(begins)
    last = np.arange(first[-1], len(begins))
    if len(first) > 1:
        before = np.arange(first[-2], first[-1])
        before = before[boxed[before]]
        low, high = parts.low[before].min(axis=0), parts.high[before].max(axis=0)
        over = boxes_apart_mm(parts.low[last], parts.high[last], low, high) <= BESIDE_MM
    else:
        over = np.abs(parts.high[last, 2] - parts.high[last[0], 2]) <= SAME_HEIGHT_MM
    left = (parts.kind[last] == LEVEL) & ~parts.closed[last] & ~over & boxed[last]
    todo = last[boxed[last] & ~left].tolist()
    while todo and left.any():
        place, others = todo.pop(), last[left]
        boxes = parts.low[others], parts.high[others], parts.low[place], parts.high[place]
        near = others[boxes_apart_mm(*boxes) <= reach_mm]
        left[near - last[0]] = False
        todo += near.tolist()
    boxed[last[left]] = False
    return boxed


def _odd(parts: Parts, begins: Flags) -> Flags:
    """Where the parts don't fit one another: no layer can be told from them."""
    odd = np.asarray(parts.kind == ODD)
    turn = np.flatnonzero((parts.kind == TURN) & begins)
    if len(turn) > 2:
        rounds = parts.path_mm[turn] / np.maximum(parts.diagonal_mm[turn], 1e-9)
        # the first and the last turn may be a part of one
        inner = turn[1:-1]
        ratio = rounds[1:-1] / np.sort(rounds)[len(rounds) // 2]
        odd[inner[(ratio > ALIKE) | (ratio < 1 / ALIKE)]] = True
    first = np.flatnonzero(begins)
    low, high = boxes_of(parts, first)
    odd[first[1:][_off_the_wall(parts, first[1:], low[:-1], high[:-1])]] = True
    odd[first[_unlike_the_others(parts, first)]] = True
    # within a wall a turn is whole
    part = (parts.kind[first] == TURN) & ~closed_layers(parts, first, low, high) & ~parts.closed[first]
    odd[first[1:-1][part[1:-1]]] = True
    return odd


def _unlike_the_others(parts: Parts, first: NDArray[np.int64]) -> Flags:
    """Turns whose path is not about that of those around them."""
    path_mm, turn = np.add.reduceat(parts.path_mm, first), parts.kind[first] == TURN
    unlike = np.zeros(len(first), np.bool_)
    if len(first) < AROUND:
        return unlike
    window = np.lib.stride_tricks.sliding_window_view
    # the median; numpy's own would first load all that it knows of masked arrays
    usual = np.sort(window(path_mm, AROUND), axis=1)[:, AROUND // 2]
    inner = slice(AROUND // 2, len(first) - AROUND // 2)
    unlike[inner] = np.abs(path_mm[inner] / usual - 1) > UNLIKE
    unlike[inner] &= window(turn, AROUND).all(axis=1)
    return unlike


def _off_the_wall(parts: Parts, which: NDArray[np.int64], low: Floats, high: Floats) -> Flags:
    """Which of these are open level strokes whose middle lies off the box of the layer before each."""
    stroke = (parts.kind[which] == LEVEL) & ~parts.closed[which]
    middle = (parts.low[which, :2] + parts.high[which, :2]) / 2
    off = np.maximum(low[..., :2] - middle, middle - high[..., :2]).max(axis=1)
    return np.asarray(stroke & (off > BESIDE_MM))
