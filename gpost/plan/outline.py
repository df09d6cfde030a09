"""The way round what lies on the bed: a closed outline at an even distance from it."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.common.ways import SAME_MM, filled, once
from gpost.errors import PlanError

Floats = NDArray[np.float64]

CHORD_MM = 0.01
"""How far the outline's corners may let it stray from the true curve; as much again once it is thinned."""
LEAST_TURN = 1e-9


class _Arc(NamedTuple):
    """The rolling disc turns about a point, from one angle of its centre to another."""

    at: int
    start: float
    end: float


def way_round(path_mm: Floats, out_mm: float, bend_mm: float) -> Floats:
    """The closed way round a path, counter-clockwise; shapes (2, k) and (2, n), the last point is the first.

    It keeps `out_mm` from the path, and where the path turns inwards it bends by no less than `bend_mm`: what
    a disc rolled round the path leaves free, so that two sides of the way come no nearer than 2 `bend_mm`.
    Exact to some hundredths of a mm. Raises PlanError for a path without points.
    """
    if not path_mm.shape[1]:
        raise PlanError("there is nothing to go round: the first layer lays no clay")
    disc_mm = out_mm + bend_mm
    points = _outer(once(filled(path_mm)), disc_mm)
    return _thinned(_drawn(points, _rolled(points, disc_mm), out_mm, bend_mm))


def _outer(points: Floats, disc_mm: float) -> Floats:
    """The points without those that no disc from outside can touch.

    A disc that touches a point covers a whole cell of half its radius among the 25 round that point's own.
    """
    cell = np.floor(points / (disc_mm / 2)).astype(np.int64)
    cell -= cell.min(axis=1, keepdims=True) - 2
    taken = np.zeros(cell.max(axis=1) + 3, np.bool_)
    taken[tuple(cell)] = True
    full = np.ones(cell.shape[1], np.bool_)
    for right in range(-2, 3):
        for up in range(-2, 3):
            full &= taken[cell[0] + right, cell[1] + up]
    return points[:, ~full]


def _rolled(points: Floats, disc_mm: float) -> list[_Arc]:
    """The turns of a disc that rolls round all the points, beginning below the lowest."""
    first = int(np.lexsort((points[0], points[1]))[0])
    at, angle, found = first, -math.pi / 2, list[_Arc]()
    for _ in range(4 * points.shape[1] + 4):
        turn, touched = _turn(points, at, angle, disc_mm)
        to_start = (-math.pi / 2 - angle) % (2 * math.pi)
        if at == first and found and to_start <= turn:
            return [*found, _Arc(at, angle, angle + to_start)]
        if touched is None:
            return [*found, _Arc(at, angle, angle + 2 * math.pi)]
        found.append(_Arc(at, angle, angle + turn))
        centre = points[:, at] + disc_mm * np.array([math.cos(angle + turn), math.sin(angle + turn)])
        at = touched
        angle = math.atan2(*(centre - points[:, at])[::-1].tolist())
    raise PlanError("no way round the foot can be found; lay the first layer in fewer strokes")


def _turn(points: Floats, at: int, angle: float, disc_mm: float) -> tuple[float, int | None]:
    """How far the disc turns about a point till it touches another, and which; None: it touches none."""
    way = points - points[:, at : at + 1]
    far = np.hypot(*way)
    near = np.flatnonzero((far > 0) & (far < 2 * disc_mm))
    if not len(near):
        return math.inf, None
    ahead = np.arctan2(way[1, near], way[0, near]) - np.arccos(far[near] / (2 * disc_mm))
    turn = (ahead - angle) % (2 * math.pi)
    turn[turn > 2 * math.pi - LEAST_TURN] = 0.0  # touched already, but for noise
    next_one = int(turn.argmin())
    return float(turn[next_one]), int(near[next_one])


def _drawn(points: Floats, arcs: list[_Arc], out_mm: float, bend_mm: float) -> Floats:
    """What the disc leaves free: round each point outwards, and along the disc from one point to the next."""
    disc_mm, drawn = out_mm + bend_mm, list[Floats]()
    for arc, following in zip(arcs, [*arcs[1:], arcs[0]], strict=True):
        drawn.append(_circle(points[:, arc.at], out_mm, arc.start, arc.end))
        end = np.array([math.cos(arc.end), math.sin(arc.end)])
        back = (arc.end - following.start) % (2 * math.pi)
        if LEAST_TURN < back < 2 * math.pi - LEAST_TURN:
            centre, start = points[:, arc.at] + disc_mm * end, arc.end + math.pi
            drawn.append(_circle(centre, bend_mm, start, start - back))
    way = np.concatenate(drawn, axis=1)
    way = way[:, np.hypot(*np.diff(way, axis=1, prepend=way[:, -1:])) > SAME_MM / 10]
    return np.concatenate([way, way[:, :1]], axis=1)


def _circle(centre: Floats, radius_mm: float, start: float, end: float) -> Floats:
    """Points along a circle whose chords stray by no more than CHORD_MM."""
    step = 2 * math.acos(max(1 - CHORD_MM / radius_mm, 0.0)) if radius_mm > 0 else math.pi
    angle = np.linspace(start, end, max(math.ceil(abs(end - start) / step), 1) + 1)
    return np.asarray(centre[:, None] + radius_mm * np.stack([np.cos(angle), np.sin(angle)]))


def _thinned(way: Floats) -> Floats:
    """A closed way without the points that it strays from by no more than CHORD_MM if they are left out."""
    far = int(np.hypot(*(way - way[:, :1])).argmax())
    kept = np.zeros(way.shape[1], np.bool_)
    kept[[0, far, -1]] = True
    open_spans = [(0, far), (far, way.shape[1] - 1)]
    while open_spans:
        low, high = open_spans.pop()
        if high - low < 2:
            continue
        chord, inner = way[:, high] - way[:, low], way[:, low + 1 : high] - way[:, low : low + 1]
        along = np.clip(chord @ inner / max(float(chord @ chord), 1e-300), 0, 1)
        stray = np.hypot(*(inner - along * chord[:, None]))
        if stray.max() > CHORD_MM:
            middle = low + 1 + int(stray.argmax())
            kept[middle] = True
            open_spans += [(low, middle), (middle, high)]
    return way[:, kept]
