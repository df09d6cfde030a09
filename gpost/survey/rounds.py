"""Counts how often a path has gone round since its seam: by its angle round a centre, or by its returns."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.survey.loops import FULL_TURN, SAME_WAY, Loop, angle_of, centre_of, centroid_of, wrapped
from gpost.survey.path import Floats, Path

Turns = NDArray[np.int64]

RECENTRE_TURNS = 8
"""A centre follows a leaning wall after so many turns, or after as many as leave it inside."""

JUDGE_AGAIN = 8
"""Moves of a centre after which it is judged again whether it lies well inside."""

EARLIEST, LATEST = 0.6, 1.6
"""Path in which a turn may come back to its seam, as part of the path of the turn before."""


class Look(NamedTuple):
    """What a path of n moves, from the start of a turn on, makes of the turns since the seam."""

    turn: Turns
    """The turn in which each move lies, (n,), counted since the seam."""
    turns: float
    """Turns since the seam at the path's end."""
    since: float
    """Turns since the last travel at the path's end."""


class ByAngle:
    """Turns round a centre. The seam is the ray from it through the place where the section starts.

    A turn ends with the move whose middle is the last before that ray. Whatever the section's lobes and
    twist, the angle round a place inside it grows by a full turn a round.
    """

    def __init__(self, loop: Loop, path: Path) -> None:
        self._centre = self._middle = loop.centre
        """The centre, and that of the last turn looked at, from which it leads the way of a leaning wall."""
        self._room_mm, self._judged, self._unjudged = loop.room_mm, loop.centre, 0
        """Room round the middle when it was judged; where it was then, and how often it has moved since."""
        self.turns_ahead = self._apart = 1
        """Turns until it moves again, and from the last turn looked at till then."""
        self.begin(path)

    def begin(self, path: Path) -> None:
        """The seam is where this path begins."""
        self._seam = _angle(path.start[:2, 0], self._centre)
        self._wound = self._furthest = 0.0
        """Angle wound since the seam where the turn in hand begins, and the most so far."""
        self.turn = 0
        """Number, since the seam, of the turn in hand."""
        self._travel_wound = 0.0
        """Angle wound when the nozzle travelled last."""

    def look(self, path: Path, *, ends: bool) -> Look:
        """`path`: from the start of the turn in hand on. `ends`: a travel comes after it, or nothing."""
        wound, furthest = self._wind(path)
        turns = furthest / FULL_TURN
        # a move belongs to the turn in which its middle lies: rounded coordinates then don't matter
        turn = ((turns[1:] + turns[:-1]) / 2).astype(np.int64)
        return Look(turn, float(turns[-1]), abs(float(wound[-1]) - self._travel_wound) / FULL_TURN)

    def travel(self, path: Path, place: int) -> None:
        """The nozzle travels to the start of this move, within the turn."""
        wound, _ = self._wind(path.cut(0, place))
        self._travel_wound = float(wound[-1]) + self._turned(path.end[:2, place - 1], path.start[:2, place])

    def take(self, path: Path, begins: Turns, upto: int) -> ByAngle | ByReturn:
        """Turns that begin there are done, and the next begins with move `upto`, if there is one.

        Gives what counts from there on.
        """
        wound, furthest = self._wind(path.cut(0, upto))
        self._wound, self._furthest = float(wound[-1]), float(furthest[-1])
        self.turn += len(begins)
        if upto < len(path) and not path.joined[upto]:
            self._wound += self._turned(path.end[:2, upto - 1], path.start[:2, upto])
        self.turns_ahead -= len(begins)
        if self.turns_ahead > 0 or upto == len(path):
            return self
        return self._recentred(path, int(begins[-1]), upto)

    def _wind(self, path: Path) -> tuple[Floats, Floats]:
        """Angle wound since the seam at each move's end, (n,); the most before and there, (n + 1,)."""
        points, _, ends = path.points()
        wound = np.cumsum(wrapped(np.diff(angle_of(points, self._centre))))
        wound = wound if len(wound) == len(path) else wound[ends - 1]
        wound += self._wound
        furthest = np.empty(len(path) + 1)
        furthest[0] = self._furthest
        np.abs(wound, out=furthest[1:])
        np.maximum.accumulate(furthest, out=furthest)
        return wound, furthest

    def _turned(self, before: Floats, after: Floats) -> float:
        """Angle from one place to the other, seen from the centre."""
        return float(wrapped(np.array(_angle(after, self._centre) - _angle(before, self._centre))))

    def _recentred(self, path: Path, first: int, upto: int) -> ByAngle | ByReturn:
        """Move the centre along with the wall; the seam keeps its direction."""
        loop, before = path.end[:2, first:upto], self._middle
        if loop.shape[1] < 3:
            self.turns_ahead = 1
            return self
        self._middle = centroid_of(loop)
        if not self._keeps_inside():
            self._middle, self._room_mm, steady = centre_of(loop)
            self._judged, self._unjudged = self._middle, 0
            if not steady:
                return ByReturn(path, first, upto)
        drift = (self._middle - before) / self._apart
        drift_mm = max(float(np.hypot(*drift)), 1e-9)
        self.turns_ahead = self._apart = int(min(max(self._room_mm / 2 / drift_mm, 1), RECENTRE_TURNS))
        self._centre = self._middle + drift * (self.turns_ahead + 1) / 2
        # where the ray through the seam stands now, seen from the new centre
        off = float(wrapped(np.array(_angle(path.start[:2, upto], self._centre) - self._seam)))
        whole = round((self._wound - off) / FULL_TURN) * FULL_TURN
        self._travel_wound += whole + off - self._wound
        self._wound = whole + off
        self._furthest = max(abs(self._wound), abs(whole))
        return self

    def _keeps_inside(self) -> bool:
        """Whether the middle is near where one was judged to lie well inside, not long ago."""
        self._unjudged += 1
        gone = self._middle - self._judged
        return self._unjudged <= JUDGE_AGAIN and float(gone @ gone) <= (self._room_mm / 4) ** 2


class ByReturn:
    """Turns of a section without a good centre, as a crescent: each ends where the path is back at its start.

    The place nearest to where the turn began, passed the same way, is where the next begins.
    """

    turns_ahead = 1

    def __init__(self, path: Path, first: int, upto: int) -> None:
        """The turn in hand begins with move `upto`, after one that began with move `first`."""
        self._turn_mm = float(path.length_mm[first:upto].sum())
        self.begin(path.cut(upto))

    def begin(self, path: Path) -> None:
        """The seam is where this path begins."""
        self.turn = 0
        self._before = 0.0
        """Turns from the last travel to the start of the turn in hand."""

    def look(self, path: Path, *, ends: bool) -> Look:
        """`path`: from the start of the turn in hand on. `ends`: a travel comes after it, or nothing."""
        along = np.cumsum(path.length_mm) / self._turn_mm
        turn = np.full(len(path), self.turn)
        if along[-1] >= LATEST or ends:
            back = self._back(path, along)
            if back is not None:
                turn[back:] += 1
        return Look(turn, self.turn + float(along[-1]), self._before + float(along[-1]))

    def _back(self, path: Path, along: Floats) -> int | None:
        """The move that begins the next turn; None if the path does not come back."""
        way = path.end[:2] - path.start[:2]
        size = np.maximum(np.hypot(*way), 1e-9)
        near = np.flatnonzero((along[:-1] > EARLIEST) & (along[:-1] < LATEST)) + 1
        same = near[(way[:, near] * way[:, :1]).sum(axis=0) > SAME_WAY * size[near] * size[0]]
        if not len(same):
            return None
        off = np.hypot(*(path.start[:2, same] - path.start[:2, :1]))
        return int(same[np.argmin(off)])

    def travel(self, path: Path, place: int) -> None:
        """The nozzle travels to the start of this move, within the turn."""
        self._before = -float(path.length_mm[:place].sum()) / self._turn_mm

    def take(self, path: Path, begins: Turns, upto: int) -> ByAngle | ByReturn:
        """Turns that begin there are done, and the next begins with move `upto`, if there is one.

        Gives what counts from there on.
        """
        first = int(begins[-1])
        self.turn += len(begins)
        self._before += float(path.length_mm[:upto].sum()) / self._turn_mm
        self._turn_mm = float(path.length_mm[first:upto].sum())
        loop = path.end[:2, first:upto]
        if upto == len(path) or loop.shape[1] < 3:
            return self
        centre, room_mm, steady = centre_of(loop)
        return ByAngle(Loop(upto - first, centre, room_mm, steady), path.cut(upto)) if steady else self


Rounds = ByAngle | ByReturn


def rounds_of(loop: Loop, path: Path) -> Rounds:
    """What counts the turns of a path that begins with a loop."""
    if loop.steady:
        return ByAngle(loop, path)
    found = ByReturn(path, 0, loop.end)
    found.begin(path)
    return found


def _angle(place: Floats, centre: Floats) -> float:
    return float(angle_of(place[:, None], centre)[0])
