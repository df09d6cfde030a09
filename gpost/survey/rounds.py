"""Counts how often a path has gone round since its seam: by its angle round a centre, or by its returns."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.survey.loops import (
    FULL_TURN,
    SAME_WAY,
    Loop,
    angle_of,
    centre_of,
    centroid_of,
    first_loop,
    wrapped,
)
from gpost.survey.path import Floats, Path

try:
    from gpost.survey.onepass import wound
except ImportError:  # installed without a compiler
    from gpost.survey.bycolumns import wound

Turns = NDArray[np.int64]

RECENTRE_TURNS = 8
"""A centre follows a leaning wall after so many turns, or after as many as leave it inside."""

JUDGE_AGAIN = 8
"""Moves of a centre after which it is judged again whether it lies well inside."""

REFINED = 10
"""How often the lean of the first turns is worked out anew."""

FEW_MOVES = 11
"""A turn with no more moves has corners, from which a ray would cut single moves as the wall twists."""

SAME_SEAM = 0.03
"""Part of a turn's path within which it is back at its seam, where no more of it is known."""

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
    twist, the angle round a place inside it grows by a full turn a round. The centre goes along with a wall
    that leans.
    """

    def __init__(self, loop: Loop, path: Path) -> None:
        """`path` begins with the loop; more of it tells how the wall leans."""
        self._turn_mm = float(path.length_mm[: loop.end].sum())
        """Path of the last turn looked at."""
        self._lean = _lean_of(loop, path)
        """How far the centre goes in a turn, mm, (2,); none where the nozzle travels to each turn."""
        self._centre = loop.centre - self._lean / 2
        """The centre where the turn in hand begins."""
        self._room_mm, self._judged, self._unjudged = loop.room_mm, self._centre, 0
        """Room round the centre when it was judged; where it was then, and how often it has moved since."""
        self.turns_ahead = 1
        """Turns until the wall is looked at again."""
        self._was_steady = loop.steady
        """Whether the centre has lain well inside before; that of a spiral from the middle has not yet."""
        self._looked: tuple[Floats, Floats]
        """Angle wound at each move's end of the path looked at last, and the most before and there."""
        self._begin(path)
        for _ in range(REFINED if self._lean.any() else 0):
            self._refine(path)

    def _refine(self, path: Path) -> None:
        """Look again where the first two turns end and lie, now that it is known how they lean."""
        turn = self.look(path, ends=False).turn
        first, second = np.searchsorted(turn, [1, 2]).tolist()
        if second == len(turn) or first < 3 or second - first < 3:
            return
        centres = []
        for begin, end in ((0, first), (first, second)):
            along = np.cumsum(path.length_mm[begin:end])
            leaning = self._lean[:, None] * (along / along[-1])
            centres.append(centroid_of(path.end[:2, begin:end] - leaning))
        self._turn_mm = float(path.length_mm[:first].sum())
        self._centre, self._lean = centres[0], centres[1] - centres[0]
        self._begin(path)

    def begin(self, path: Path) -> None:
        """The nozzle has travelled to a new seam, where this path begins."""
        self._lean = np.zeros(2)
        self._begin(path)

    def _begin(self, path: Path) -> None:
        self._seam = _angle(path.start[:2, 0], self._centre)
        self._wound = self._furthest = 0.0
        """Angle wound since the seam where the turn in hand begins, and the most so far."""
        self.turn = 0
        """Number, since the seam, of the turn in hand."""
        self._travel_wound = 0.0
        """Angle wound when the nozzle travelled last."""

    def look(self, path: Path, *, ends: bool) -> Look:
        """`path`: from the start of the turn in hand on. `ends`: a travel comes after it, or nothing."""
        # a move belongs to the turn in which its middle lies: rounded coordinates then don't matter
        angles, furthest, turn = wound(
            path, self._centre, self._lean, self._turn_mm, self._wound, self._furthest
        )
        self._looked = angles, furthest
        since = abs(float(angles[-1]) - self._travel_wound) / FULL_TURN
        return Look(turn, float(furthest[-1]) / FULL_TURN, since)

    def travel(self, path: Path, place: int) -> None:
        """The nozzle travels to the start of this move, within the turn, as far as was looked at."""
        self._travel_wound = float(self._looked[0][place - 1]) + self._turned(path, place)

    def take(self, path: Path, begins: Turns, upto: int) -> ByAngle | ByReturn:
        """Turns that begin there are done, and the next begins with move `upto`, if there is one.

        Gives what counts from there on. They are among the moves that were looked at last.
        """
        angles, furthest = self._looked
        self._wound, self._furthest = float(angles[upto - 1]), float(furthest[upto])
        self.turn += len(begins)
        if upto < len(path) and not path.joined[upto]:
            self._wound += self._turned(path, upto)
        self.turns_ahead -= len(begins)
        if self.turns_ahead > 0 or upto == len(path):
            self._centre = self._centre + self._lean * len(begins)
            return self
        return self._recentred(path, begins, upto)

    def _turned(self, path: Path, place: int) -> float:
        """Angle by which a travel to the start of a move goes round the centre."""
        before, after = path.end[:2, place - 1], path.start[:2, place]
        along = float(path.length_mm[:place].sum()) / self._turn_mm
        centre = self._centre + self._lean * along
        return float(wrapped(np.array(_angle(after, centre) - _angle(before, centre))))

    def _recentred(self, path: Path, begins: Turns, upto: int) -> ByAngle | ByReturn:
        """Look where the wall stands and how it leans; the seam keeps its direction."""
        first, turns = int(begins[-1]), len(begins)
        loop, before = path.end[:2, first:upto], self._centre
        if loop.shape[1] < 3:
            self._centre, self.turns_ahead = before + self._lean * turns, 1
            return self
        along = np.cumsum(path.length_mm[first:upto])
        self._turn_mm = float(along[-1])
        loop = loop - self._lean[:, None] * (along / self._turn_mm - 1)
        self._centre = centroid_of(loop)
        if not self._keeps_inside():
            self._centre, self._room_mm, steady = centre_of(loop)
            self._judged, self._unjudged = self._centre, 0
            if not steady and self._was_steady:
                return ByReturn(path, first, upto)
            self._was_steady = steady
        gone = (self._centre - before) / turns
        self._lean = gone if path.joined[first + 1 : upto + 1].all() else np.zeros(2)
        gone_mm = max(float(np.hypot(*gone)), 1e-9)
        self.turns_ahead = int(min(max(self._room_mm / 2 / gone_mm, 1), RECENTRE_TURNS))
        # where the ray through the seam stands now, seen from the new centre
        off = float(wrapped(np.array(_angle(path.start[:2, upto], self._centre) - self._seam)))
        whole = round((self._wound - off) / FULL_TURN) * FULL_TURN
        self._travel_wound += whole + off - self._wound
        self._wound = whole + off
        self._furthest = max(abs(self._wound), abs(whole))
        return self

    def _keeps_inside(self) -> bool:
        """Whether the centre is near where it was judged to lie well inside, not long ago."""
        self._unjudged += 1
        gone = self._centre - self._judged
        return self._unjudged <= JUDGE_AGAIN and float(gone @ gone) <= (self._room_mm / 4) ** 2


def _lean_of(loop: Loop, path: Path) -> Floats:
    """How far the centre goes in a turn: from the first loop to the one after it, if there is one."""
    rest = path.cut(loop.end)
    if len(rest) < loop.end or not path.joined[1:].all():
        return np.zeros(2)
    points, z, _ = rest.points()
    following = first_loop(points, z, whole=True, spiral=loop.spiral)
    return np.zeros(2) if following is None else np.asarray(following.centre - loop.centre)


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
            back = self._back(path, along, ends=ends)
            if back is not None:
                turn[back:] += 1
        return Look(turn, self.turn + float(along[-1]), self._before + float(along[-1]))

    def _back(self, path: Path, along: Floats, *, ends: bool) -> int | None:
        """The move that begins the next turn; None if the path does not come back, or just where it ends."""
        way = path.end[:2] - path.start[:2]
        size = np.maximum(np.hypot(*way), 1e-9)
        near = np.flatnonzero((along[:-1] > EARLIEST) & (along[:-1] < LATEST)) + 1
        same = near[(way[:, near] * way[:, :1]).sum(axis=0) > SAME_WAY * size[near] * size[0]]
        if not len(same):
            return None
        off = np.hypot(*(path.start[:2, same] - path.start[:2, :1]))
        best = int(np.argmin(off))
        early = ends and along[-1] < LATEST
        return None if early and off[best] > SAME_SEAM * self._turn_mm else int(same[best])

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
        found = Loop(upto - first, *centre_of(loop))
        return ByAngle(found, path.cut(upto)) if found.steady and found.end > FEW_MOVES else self


Rounds = ByAngle | ByReturn


def rounds_of(loop: Loop, path: Path) -> Rounds:
    """What counts the turns of a path that begins with a loop: with few corners, its seam goes with them."""
    if loop.spiral or (loop.steady and loop.end > FEW_MOVES):
        return ByAngle(loop, path)
    found = ByReturn(path, 0, loop.end)
    found.begin(path)
    return found


def _angle(place: Floats, centre: Floats) -> float:
    return float(angle_of(place[:, None], centre)[0])
