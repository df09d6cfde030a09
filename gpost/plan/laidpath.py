"""The path on which clay is laid between two lines of the file, arcs in full: its places and lengths."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.motion.arcbox import PlaneArcs, arcs_of, boxes_mm
from gpost.motion.follow import Follower
from gpost.spot import Spot
from gpost.survey.model import Survey

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Place = tuple[float, float, float]
"""x, y, z, machine mm, as the source has it."""

GRID = np.linspace(0.0, 1.0, 49)
HALF = 0.5
JOINED_MM = 0.01
"""A move that begins so near to where the last bead has ended goes on with it."""
ROUNDS = 6
"""An arc is looked at in 48 steps, then the two beside the best one, and so on: to 1e-9 of its length."""


class Near(NamedTuple):
    """A place on the path."""

    spot: Spot
    """Exact, whether the move can be split there or not."""
    at_mm: Place
    off_mm: float
    """How far the place asked for lies from it, seen from above."""


class Pass(NamedTuple):
    """Where the path comes by a place, and comes nearest to it."""

    near: Near
    begun_mm: float
    """What of the bead is laid before it, since the nozzle last came to it without laying."""
    until: Spot
    """Where that bead ends, and the nozzle goes on without laying, or the path does."""


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

    def falls_mm(self, top_mm: float) -> float:
        """How far it comes down at most below the highest place before; `top_mm`: that before all of it."""
        most_mm = 0.0
        for part in self._parts:
            low, high = (mm[2, part.which] for mm in boxes_mm(part.follower, part.arcs))
            ends_mm = part.follower.moves.end[2, part.which]
            tops_mm = np.maximum.accumulate(np.append(top_mm, high))
            before_mm = np.maximum(tops_mm[:-1], part.follower.moves.start[2, part.which])
            falls = np.maximum(before_mm - low, tops_mm[1:] - ends_mm)
            most_mm, top_mm = max(most_mm, float(falls.max(initial=0.0))), float(tops_mm[-1])
        return most_mm

    @property
    def climbs_mm(self) -> float:
        """How far its highest place lies above the one where it begins."""
        starts_mm, ends_mm = self._heights()
        return float(ends_mm.max(initial=starts_mm[0]) - starts_mm[0]) if len(starts_mm) else 0.0

    def below_mm(self, height_mm: float) -> float:
        """What of it is laid before it first comes up to a height of the source's, mm along it."""
        starts_mm, ends_mm = self._heights()
        at = int(np.searchsorted(np.maximum.accumulate(ends_mm), height_mm))
        if at == len(ends_mm):
            return self.length_mm
        rise_mm = float(ends_mm[at] - starts_mm[at])
        share = (height_mm - float(starts_mm[at])) / rise_mm if rise_mm > 0 else 0.0
        return float(self._along_mm[at] + max(share, 0.0) * (self._along_mm[at + 1] - self._along_mm[at]))

    def _heights(self) -> tuple[Floats, Floats]:
        """Where each move begins and ends, mm up."""
        none = np.zeros(0)
        starts_mm = (part.follower.moves.start[2, part.which] for part in self._parts)
        ends_mm = (part.follower.moves.end[2, part.which] for part in self._parts)
        return np.concatenate([none, *starts_mm]), np.concatenate([none, *ends_mm])

    def before_mm(self, spot: Spot) -> float:
        """What of the path lies before a spot, mm."""
        at = int(np.searchsorted(self._lines, spot.line))
        inside = at < len(self._lines) and self._lines[at] == spot.line
        part = spot.fraction * (self._along_mm[at + 1] - self._along_mm[at]) if inside else 0.0
        return float(self._along_mm[at] + part)

    def after(self, along_mm: float) -> Near | None:
        """The place after so much of it; None where it is shorter."""
        if along_mm > self.length_mm + JOINED_MM or not len(self._lines):
            return None
        at = int(np.searchsorted(self._along_mm[:-1], along_mm, side="right")) - 1
        share = (along_mm - self._along_mm[at]) / (self._along_mm[at + 1] - self._along_mm[at])
        return self._near(int(self._lines[at]), min(float(share), 1.0), 0.0)

    def end_before(self, spot: Spot) -> Place | None:
        """Where the last clay before a spot is laid; None where there is none."""
        at = int(np.searchsorted(self._lines, spot.line, side="right" if spot.fraction else "left")) - 1
        if at < 0:
            return None
        line = int(self._lines[at])
        return self._near(line, spot.fraction if line == spot.line else 1.0, 0.0).at_mm

    def passes(self, x_mm: float, y_mm: float, reach_mm: float) -> list[Pass]:
        """Each time that it comes by x and y, as the source has them, within reach; in the order of laying.

        A bead is one pass for as long as it stays within reach. Where one ends and the next begins in the
        same place, as at the seam of a closed turn, there are two; so there are where it has been away in
        between, be it inside one move, as on circles that climb.
        """
        found = [near for part in self._parts if len(part.which) for near in _nearest(part, (x_mm, y_mm))]
        columns = [np.concatenate([np.zeros(0), *column]) for column in zip(*found, strict=True)]
        order = np.lexsort((columns[1], columns[0]))
        lines, share, off_mm, begin_off_mm = (column[order] for column in columns)
        lines = lines.astype(np.int64)
        move = np.searchsorted(self._lines, lines)
        begins = self._begins()
        number = np.cumsum(begins)[move]
        within = np.flatnonzero(off_mm <= reach_mm)
        away = (np.diff(within) > 1) | (begin_off_mm[within[1:]] > reach_mm)
        apart = away | (np.diff(number[within]) > 0)
        passes = []
        for each in np.split(within, np.flatnonzero(apart) + 1) if len(within) else []:
            best = int(each[np.argmin(off_mm[each])])
            near = self._near(int(lines[best]), float(share[best]), float(off_mm[best]))
            first = np.append(np.flatnonzero(begins), len(self._lines))
            bead = int(np.searchsorted(first, move[best], side="right")) - 1
            begun_mm = self.before_mm(near.spot) - float(self._along_mm[first[bead]])
            passes.append(Pass(near, begun_mm, Spot(int(self._lines[first[bead + 1] - 1]) + 1)))
        return passes

    def _begins(self) -> NDArray[np.bool_]:
        """Whether each move begins a bead, and doesn't go on with that of the move before."""
        moves = [(part.follower.moves, part.which) for part in self._parts]
        starts = np.concatenate([each.start[:, which] for each, which in moves], axis=1)
        ends = np.concatenate([each.end[:, which] for each, which in moves], axis=1)
        apart_mm = np.abs(starts[:, 1:] - ends[:, :-1]).max(axis=0)
        return np.append(True, apart_mm > JOINED_MM)

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


def _nearest(part: _Part, goal: tuple[float, float]) -> Iterator[tuple[Floats, Floats, Floats, Floats]]:
    """(lines, shares, mm off) of the places on each move that lie nearest; an arc has one in each half.

    For a full circle ends where it began. The last of each is how many mm the move, or the half, begins off.
    """
    moves, place = part.follower.moves, np.array(goal)[:, None]
    lines = (moves.line + part.follower.block.chunk.first_line).astype(np.float64)
    straight = part.which[part.follower.motion[part.which] <= 1]
    start, way = moves.start[:2, straight], (moves.end - moves.start)[:2, straight]
    share = ((place - start) * way).sum(axis=0) / np.maximum((way * way).sum(axis=0), 1e-24)
    share = np.clip(share, 0.0, 1.0)
    yield lines[straight], share, np.hypot(*(start + share * way - place)), np.hypot(*(start - place))
    for arcs in part.arcs:
        laid = np.isin(arcs.at, part.which)
        for half in (0.0, HALF) if laid.any() else ():
            share, off_mm, begin_off_mm = _on_arcs(part.follower, arcs, place, half)
            yield lines[arcs.at[laid]], share[laid], off_mm[laid], begin_off_mm[laid]


def _on_arcs(follower: Follower, arcs: PlaneArcs, goal: Floats, half: float) -> tuple[Floats, Floats, Floats]:
    """(share, mm off) of the place on a half of each arc that lies nearest to a goal.

    The last is how many mm that half begins off. All of shape (k,). `goal`: shape (2, 1). `half`: the share
    at which it begins.
    """
    each = np.arange(len(arcs.at))
    low, high = np.full(len(each), half), np.full(len(each), half + HALF)
    begin_off_mm = np.hypot(*(arcs.places_mm(follower, low)[:2] - goal))
    share = off_mm = low
    for _ in range(ROUNDS):
        tried = low + (high - low) * GRID[:, None]
        off = np.hypot(*(arcs.places_mm(follower, tried)[:2] - goal[:, :, None]))
        best = np.argmin(off, axis=0)
        share, off_mm, step = tried[best, each], off[best, each], (high - low) / (len(GRID) - 1)
        low, high = np.maximum(share - step, half), np.minimum(share + step, half + HALF)
    return share, off_mm, begin_off_mm
