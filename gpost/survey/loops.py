"""Closed loops seen from above: where a path first comes back to its start, and the middle of a loop."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

FULL_TURN = 2 * np.pi
EPSILON = 1e-6

TRIAL_PATHS = (8.0, 16.0, 32.0, 64.0, 128.0)
"""Path, in diagonals of its own bounding box, after which a first loop is looked for. A plain ring has 2.2 a
turn, a wall laid in small loops many times that."""

CLOSED_PATH = 1.9
"""A path may be closed if it is this many diagonals of its own bounding box: no closed line has less than 2
(it goes twice as far as its box is wide and as it is deep), a three-quarter ring 1.8, a stroke 1."""

SAME_PLACE = 0.1
"""Part of the diagonal by which the middles of both halves of a path that stays in one place may be apart."""

CLEAR_RISE_MM = 0.2
"""A loop that rises by more is a turn of a wall; small loops along a wall hardly rise."""

NEAR = 0.15
"""Part of the diagonal within which a path has come back to where it began."""

FAR = 0.2
"""Part of the diagonal by which it must have gone away before."""

ALIKE = 0.03
"""Part of the diagonal by which a second loop, much the same as the first, may lie off it."""

MORE_OFTEN = 1.5
"""A path that has turned so many times as much as a loop has gone round it more than once."""

SAMPLES = 16
"""Places of a loop that are compared with the path after it."""

SAME_WAY = 0.3
"""Least cosine between two ways that lead along each other: a thin section is passed twice, once each way."""

NO_AREA = 0.04
"""Area of a loop, as part of that of the circle with its path, under which it is a way there and back."""

STEADY = 0.2
"""Room round a good centre, as part of the radius of the circle with the loop's area."""


class Loop(NamedTuple):
    """A closed loop that a path makes."""

    end: int
    """Number of the path's moves that it takes."""
    centre: Floats
    """Its centroid, (2,)."""
    room_mm: float
    """Distance of that from the loop."""
    steady: bool
    """Whether it lies well inside."""
    spiral: bool = False
    """Whether it goes round the middle of the path without coming back to its start."""


MOST_BACK = 0.5
"""Angle, rad, by which a loop may turn back on its way round a good centre, as loops along a wall do."""


def first_loop(path: Floats, z: Floats, *, whole: bool = False, spiral: bool = False) -> Loop | None:
    """The first loop of a path (2, n + 1) at heights (n + 1,), from where the path begins; None without.

    It comes back to where it began; with `spiral` it need only go round the middle of the path. Parts of the
    path are tried that measure so many diagonals of their own bounding box, and with `whole`, when no more is
    to come, all of it; so the answer depends on the path alone, not on how much of it is known.
    """
    length = np.append(0.0, np.cumsum(np.hypot(*np.diff(path, axis=1))))
    extent = np.maximum.accumulate(path, axis=1) - np.minimum.accumulate(path, axis=1)
    diagonals = length / np.maximum(np.hypot(*extent), 1e-9)
    find = _round_its_middle if spiral else _back_at_start
    # a spiral is a last resort: a section with arms goes round its middle before it is back at its start
    trials = TRIAL_PATHS[1:] if spiral else TRIAL_PATHS
    for trial in (*trials, np.inf) if whole else trials:
        beyond = np.flatnonzero(diagonals >= trial)
        ends = not len(beyond)
        if ends and not np.isinf(trial):
            continue
        upto = path.shape[1] if ends else int(beyond[0]) + 1
        found = _loop_of(find(path[:, :upto], whole=ends), path[:, :upto], z, length[:upto], whole=ends)
        if found is not None:
            return found._replace(spiral=spiral)
    return None


def _loop_of(end: int | None, path: Floats, z: Floats, length: Floats, *, whole: bool) -> Loop | None:
    """The loop that ends there, if it is no small one along a wall. `whole`: the path ends here."""
    if end is None:
        return None
    rise_mm = abs(float(z[end] - z[0]))
    if not (whole or rise_mm > CLEAR_RISE_MM or _stays(path, length)):
        return None
    return Loop(end, *centre_of(path[:, : end + 1]))


def _back_at_start(path: Floats, *, whole: bool) -> int | None:
    """Moves after which the path is back where it began and goes on the same way; None if it never is.

    A path that ends just there (`whole`) has come back too, if there is an area inside.
    """
    way = np.diff(path, axis=1)
    size = np.hypot(*way)
    moved = np.flatnonzero(size > EPSILON)
    if not len(moved):
        return None
    start, first = path[:, :1], way[:, moved[0]] / size[moved[0]]
    diagonal = float(np.hypot(*np.ptp(path, axis=1)))
    away = np.hypot(*(path - start))
    gone = np.flatnonzero(away > FAR * diagonal)
    if not len(gone):
        return None
    off, part = _distance(start, path[:, :-1], way, size)
    near = np.flatnonzero(off[gone[0] :] < NEAR * diagonal) + gone[0]
    along = (way[:, near] * first[:, None]).sum(axis=0) > SAME_WAY * size[near]
    length = np.append(0.0, np.cumsum(size))
    passings = _passings(near[along & (size[near] > EPSILON)], off, length, 3 * NEAR * diagonal)
    nearest = {move + int(part[move] > 0.5): float(off[move]) for move in passings}
    ends = {end: off_mm for end, off_mm in nearest.items() if _encloses(path[:, : end + 1])}
    found = _likest(path, length, ends, diagonal, whole=whole)
    last = int(path.shape[1]) - 1
    if found is None and not ends and whole and away[-1] < NEAR * diagonal and _encloses(path):
        return last
    return found


def _likest(
    path: Floats, length: Floats, ends: dict[int, float], diagonal: float, *, whole: bool
) -> int | None:
    """Which of these moves ends the first loop; `ends`: to how far off the start each has come.

    An arm of a section may pass the start too, and lead the same way; but what follows is not the same way
    again. None if more of the path has to tell, or none is a loop.
    """
    following = dict(pairwise(ends))
    apart = {end: _apart_again(path, length, end, following.get(end)) for end in ends}
    alike = [end for end in ends if apart[end] <= SAME_PLACE * diagonal]
    unsure = [end for end in ends if np.isinf(apart[end])]
    if not alike:
        return unsure[0] if unsure and whole else None
    first = alike[0]
    if apart[first] <= ALIKE * diagonal:
        return first
    # another may be much the same again, or come much nearer; but it must not be several rounds of the first
    once = MORE_OFTEN * _turned(path[:, : first + 1])
    single = [end for end in ends if end > first and _turned(path[:, : end + 1]) <= once]
    better = [end for end in single if apart[end] <= ALIKE * diagonal]
    nearer = [end for end in single if end in unsure and ends[end] < ends[first] / 4]
    if better or not nearer:
        return (better or [first])[0]
    return nearer[0] if whole else None


def _turned(loop: Floats) -> float:
    """How far the direction of a path turns in all, rad; a simple loop turns once round."""
    way = np.diff(loop, axis=1)
    way = way[:, np.hypot(*way) > EPSILON]
    return abs(float(wrapped(np.diff(np.arctan2(way[1], way[0]))).sum()))


def _apart_again(path: Floats, length: Floats, end: int, after: int | None) -> float:
    """How far, on the average, a second loop lies from the first one, which ends there.

    It has as much path, or ends `after` so many moves. Infinite where too little of it is known.
    """
    share = (np.arange(SAMPLES) + 0.5) / SAMPLES
    ways = [float(length[end]), *([] if after is None else [float(length[after] - length[end])])]
    found = [np.inf]
    for way_mm in ways:
        again = length[end] + share * way_mm
        known = again <= length[-1]
        if np.count_nonzero(known) >= SAMPLES // 2:
            first, second = (
                np.stack([np.interp(along[known], length, axis) for axis in path])
                for along in (share * length[end], again)
            )
            found.append(float(np.hypot(*(second - first)).mean()))
    return min(found)


def _passings(near: NDArray[np.int64], off: Floats, length: Floats, reach_mm: float) -> list[int]:
    """Of moves that lie near a place, the nearest in each passing: those within a reach of path."""
    found = []
    while len(near):
        count = int(np.searchsorted(length[near], length[near[0]] + reach_mm, side="right"))
        found.append(int(near[np.argmin(off[near[:count]])]))
        near = near[count:]
    return found


def _encloses(loop: Floats) -> bool:
    """Whether a loop has an area, and is no way there and back."""
    length = float(np.hypot(*np.diff(closed_loop(loop), axis=1)).sum())
    if length < CLOSED_PATH * float(np.hypot(*np.ptp(loop, axis=1))):
        return False
    return abs(_area(loop)) * 4 * np.pi > NO_AREA * length * length


def _round_its_middle(path: Floats, *, whole: bool) -> int | None:
    """Moves after which the path has gone once round its own middle, as a spiral does; None without."""
    wound = np.abs(winding(path, _middle(path)))
    done = np.flatnonzero(wound >= FULL_TURN - EPSILON)
    if not len(done):
        return None
    centre = centroid_of(path[:, : done[0] + 2])
    # once more: seen from there the turn ends at a somewhat other place
    again = np.flatnonzero(np.abs(winding(path, centre)) >= FULL_TURN - EPSILON)
    return int(min(int(again[0] if len(again) else done[0]) + 1, path.shape[1] - 1))


def _stays(path: Floats, length: Floats) -> bool:
    """Whether the second half of the path lies over the first: else it may be small loops along a wall."""
    half = int(np.searchsorted(length, length[-1] / 2)) + 1
    drift = np.hypot(*(_middle(path[:, :half]) - _middle(path[:, half - 1 :])))
    return bool(drift <= SAME_PLACE * np.hypot(*np.ptp(path, axis=1)))


def _middle(path: Floats) -> Floats:
    """Mean of all places along the path; a stray first stroke hardly moves it."""
    step = np.diff(path, axis=1)
    weight = np.hypot(*step)
    total = weight.sum()
    if total == 0:
        return path[:, 0]
    return np.asarray(((path[:, :-1] + step / 2) * weight).sum(axis=1) / total)


def angle_of(points: Floats, centre: Floats) -> Floats:
    """Direction of points (2, n) from a centre (2,), rad."""
    return np.asarray(np.arctan2(points[1] - centre[1], points[0] - centre[0]))


def winding(path: Floats, centre: Floats) -> Floats:
    """Angle wound round the centre up to each point but the first, rad, (n - 1,)."""
    return np.cumsum(wrapped(np.diff(angle_of(path, centre))))


def wrapped(angle: Floats) -> Floats:
    """Angles brought to -pi..pi."""
    whole = np.rint(angle / FULL_TURN)
    whole *= FULL_TURN
    return np.asarray(angle - whole)


def centre_of(loop: Floats) -> tuple[Floats, float, bool]:
    """(centroid of the area inside a loop (2, m), its distance from the loop in mm, whether it is steady).

    It is steady if it lies well inside, so that the section may lean and turn a good deal before it doesn't,
    and if the loop, seen from there, goes round without turning back much.
    """
    area, centre = _area_and_centroid(loop)
    way = np.diff(closed_loop(loop), axis=1)
    room_mm = float(_distance(centre[:, None], loop, way, np.hypot(*way))[0].min())
    wound = np.abs(winding(closed_loop(loop), centre))
    inside = wound[-1] > FULL_TURN / 2
    back = float((np.maximum.accumulate(wound) - wound).max())
    steady = inside and room_mm >= STEADY * np.sqrt(abs(area) / np.pi) and back < MOST_BACK
    return centre, room_mm, bool(steady)


def _distance(place: Floats, start: Floats, way: Floats, size: Floats) -> tuple[Floats, Floats]:
    """Distance of one place (2, 1) from each straight way, (n,), and the part of it where it is nearest."""
    off = place - start
    part = np.clip((off * way).sum(axis=0) / np.maximum(size * size, 1e-12), 0.0, 1.0)
    return np.asarray(np.hypot(*(off - part * way))), part


def _area(loop: Floats) -> float:
    """Area inside a closed polygon (2, n); above 0 if it is gone round counter-clockwise."""
    return _area_and_centroid(loop)[0]


def _area_and_centroid(loop: Floats) -> tuple[float, Floats]:
    """(area inside a closed polygon (2, n), its centroid); of its bounding box if there is no area."""
    around = closed_loop(loop) - loop[:, :1]
    a, b = around[:, :-1], around[:, 1:]
    cross = a[0] * b[1] - b[0] * a[1]
    area = float(cross.sum()) / 2
    box = np.ptp(loop, axis=1)
    if abs(area) < 1e-3 * max(float(box[0] * box[1]), 1e-12):
        return area, loop.min(axis=1) + box / 2
    return area, np.asarray(((a + b) @ cross) / (6 * area) + loop[:, 0])


def centroid_of(loop: Floats) -> Floats:
    """Centroid of the area inside a closed polygon (2, n), (2,); of its bounding box if there is no area."""
    return _area_and_centroid(loop)[1]


def closed_loop(loop: Floats) -> Floats:
    """The loop (2, n) with its first place once more at the end."""
    return np.concatenate([loop, loop[:, :1]], axis=1)
