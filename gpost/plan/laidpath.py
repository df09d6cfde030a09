"""The path on which clay is laid between two lines of the file, arcs in full: its places and lengths."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.motion.arcbox import PlaneArcs, arcs_of
from gpost.motion.follow import Follower
from gpost.spot import Spot
from gpost.survey.model import Survey

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Place = tuple[float, float, float]
"""x, y, z, machine mm, as the source has it."""

GRID = np.linspace(0.0, 1.0, 49)
ROUNDS = 6
"""An arc is looked at in 48 steps, then the two beside the best one, and so on: to 1e-9 of its length."""


class Near(NamedTuple):
    """A place on the path."""

    spot: Spot
    """Exact, whether the move can be split there or not."""
    at_mm: Place
    off_mm: float
    """How far the place asked for lies from it, seen from above."""


class _Part(NamedTuple):
    """What lays clay in one block."""

    follower: Follower
    which: Ints
    """Indexes of the moves, shape (k,)."""
    lines: Ints
    """The same as lines of the file."""
    arcs: list[PlaneArcs]


class LaidPath:
    """The moves that lay clay on the lines from `first_line` up to `end_line`."""

    def __init__(self, survey: Survey, first_line: int, end_line: int) -> None:
        self._parts = []
        for index, mark in enumerate(survey.marks):
            if mark.first_line < end_line and mark.first_line + mark.lines > first_line:
                follower = survey.follow(index)
                line = follower.moves.line + mark.first_line
                which = np.flatnonzero(follower.moves.laying & (line >= first_line) & (line < end_line))
                self._parts.append(_Part(follower, which, line[which], arcs_of(follower)))
        self._lines = np.concatenate([np.zeros(0, np.int64), *(part.lines for part in self._parts)])
        lengths = (part.follower.moves.path_mm[part.which] for part in self._parts)
        self._along_mm = np.append(0.0, np.cumsum(np.concatenate([np.zeros(0), *lengths])))

    @property
    def length_mm(self) -> float:
        """All of it."""
        return float(self._along_mm[-1])

    def before_mm(self, spot: Spot) -> float:
        """What of the path lies before a spot, mm."""
        at = int(np.searchsorted(self._lines, spot.line))
        inside = at < len(self._lines) and self._lines[at] == spot.line
        part = spot.fraction * (self._along_mm[at + 1] - self._along_mm[at]) if inside else 0.0
        return float(self._along_mm[at] + part)

    def after(self, along_mm: float) -> Near | None:
        """The place after so much of it; None where it is shorter."""
        at = int(np.searchsorted(self._along_mm, along_mm, side="right")) - 1
        if at >= len(self._lines):
            return None
        share = (along_mm - self._along_mm[at]) / (self._along_mm[at + 1] - self._along_mm[at])
        return self._near(int(self._lines[at]), float(share), 0.0)

    def end_before(self, spot: Spot) -> Place | None:
        """Where the last clay before a spot is laid; None where there is none."""
        at = int(np.searchsorted(self._lines, spot.line, side="right" if spot.fraction else "left")) - 1
        if at < 0:
            return None
        line = int(self._lines[at])
        return self._near(line, spot.fraction if line == spot.line else 1.0, 0.0).at_mm

    def nearest(self, x_mm: float, y_mm: float) -> Near | None:
        """The place that lies nearest to x and y, as the source has them; None on a path of nothing."""
        found = [near for part in self._parts if len(part.which) for near in _nearest(part, (x_mm, y_mm))]
        if not found:
            return None
        line, share, off_mm = min(found, key=lambda near: near[2])
        return self._near(line, share, off_mm)

    def _near(self, line: int, share: float, off_mm: float) -> Near:
        part = next(part for part in self._parts if line in part.lines)
        move = int(part.which[np.searchsorted(part.lines, line)])
        moves = part.follower.moves
        place = moves.start[:, move] + share * (moves.end[:, move] - moves.start[:, move])
        for arcs in part.arcs:
            if move in arcs.at:
                each = np.full(len(arcs.at), share)
                place = arcs.places_mm(part.follower, each)[:, np.searchsorted(arcs.at, move)]
        x, y, z = place.tolist()
        return Near(Spot(line + 1) if share >= 1 else Spot(line, share), (x, y, z), off_mm)


def _nearest(part: _Part, goal: tuple[float, float]) -> list[tuple[int, float, float]]:
    """(line, share of its move, mm off) of the best straight move of a part, and of its best arc by plane."""
    moves, place = part.follower.moves, np.array(goal)[:, None]
    straight = part.which[part.follower.motion[part.which] <= 1]
    found = []
    if len(straight):
        start, way = moves.start[:2, straight], (moves.end - moves.start)[:2, straight]
        share = ((place - start) * way).sum(axis=0) / np.maximum((way * way).sum(axis=0), 1e-24)
        share = np.clip(share, 0.0, 1.0)
        found.append((straight, share, np.hypot(*(start + share * way - place))))
    for arcs in part.arcs:
        laid = np.isin(arcs.at, part.which)
        if laid.any():
            share, off_mm = _on_arcs(part.follower, arcs, place)
            found.append((arcs.at[laid], share[laid], off_mm[laid]))
    first = part.follower.block.chunk.first_line
    best = [(int(np.argmin(off_mm)), which, share, off_mm) for which, share, off_mm in found]
    return [
        (int(moves.line[which[at]]) + first, float(share[at]), float(off_mm[at]))
        for at, which, share, off_mm in best
    ]


def _on_arcs(follower: Follower, arcs: PlaneArcs, goal: Floats) -> tuple[Floats, Floats]:
    """(share, mm off) of the place on each arc that lies nearest to a goal, shape (2, 1), both (k,)."""
    each = np.arange(len(arcs.at))
    low, high = np.zeros(len(each)), np.ones(len(each))
    share = off_mm = low
    for _ in range(ROUNDS):
        tried = low + (high - low) * GRID[:, None]
        off = np.hypot(*(arcs.places_mm(follower, tried)[:2] - goal[:, :, None]))
        best = np.argmin(off, axis=0)
        share, off_mm, step = tried[best, each], off[best, each], (high - low) / (len(GRID) - 1)
        low, high = np.maximum(share - step, 0.0), np.minimum(share + step, 1.0)
    return share, off_mm
