"""Turns of a wall that rises or waves: where the path has gone once round since it left the seam."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Turns = NDArray[np.int64]

FULL_TURN = 2 * np.pi
RECENTRE_TURNS = 8
"""The centre follows a leaning wall; fixed turn numbers make it independent of how blocks are cut."""

TRIAL_PATHS = (8.0, 16.0, 32.0, 64.0, 128.0)
"""Path, in diagonals of its own bounding box, after which a first turn is looked for. A turn of a plain ring
has 2.2, of a wall laid in small loops many times that."""

SAME_PLACE = 0.1
"""Part of the diagonal by which the middles of both halves of that path may lie apart."""

NO_TURN_PATH = 160.0
"""Path to a turn, in diagonals, at which a wall counts as one that does not go round."""

PART_OF_TURN = 3.0
"""Path, in diagonals, up to which a section may well be the last part of a turn."""

MANY_POINTS = 8192
"""As many as are worth looking at together."""

NOTHING: Turns = np.zeros(0, np.int64)
EPSILON = 1e-6


class TurnFinder:
    """Gives each laying move of one section the number of its turn, counted from 0.

    The seam is the ray from the wall's centre through the point where the section starts. A turn ends
    with the move whose middle is the last before that ray. Whatever the cross-section's lobes and twist,
    the angle round a point inside it grows by one full turn a round. How the moves are cut into calls of
    `add` makes no difference.
    """

    def __init__(self) -> None:
        self._held: list[Floats] = []
        """Points not yet numbered, from the section's start on."""
        self._held_count = 0
        self._look_at = 64
        """Number of held points at which to look for the first turn again; it doubles."""
        self._extent = _Extent()
        self._settled = False
        """Whether the centre is known, or the search for it given up."""
        self._round: _Round | None = None

    @property
    def lost(self) -> bool:
        """Whether the wall has turned out not to go round; certain once all is settled."""
        if self._settled and self._round is None and self._extent.path > PART_OF_TURN * self._extent.diagonal:
            return True
        turns = 1.0 if self._round is None else self._round.turns + 1
        return self._extent.path > NO_TURN_PATH * turns * self._extent.diagonal > 0

    def add(self, start: Floats, points: Floats) -> Turns:
        """Turn numbers for the moves that are settled by now, oldest first.

        start: (2,) where the first of these moves starts; points: (2, n) where each ends, in mm.
        """
        if not self._held and not self._settled:
            self._held.append(start[:, None])
        self._extent.add(start, points)
        if self._round is not None:
            return self._round.number(points)
        self._held.append(points)
        self._held_count += points.shape[1]
        if not self._settled and self._held_count < self._look_at and not self.lost:
            return NOTHING
        self._look_at = 2 * self._held_count
        return self._number_held(TRIAL_PATHS, last=self.lost)

    def finish(self) -> Turns:
        """Turn numbers of all moves not yet settled."""
        if not self._held_count:
            return NOTHING
        return self._number_held(TRIAL_PATHS if self.lost else (*TRIAL_PATHS, np.inf), last=True)

    def _number_held(self, trials: tuple[float, ...], *, last: bool) -> Turns:
        """Turn numbers of all held points once a first turn is found. `last`: without one, all are turn 0."""
        if not self._settled:
            path = np.concatenate(self._held, axis=1)
            self._round = _first_round(path, trials)
        if self._round is None and not (last or self._settled):
            return NOTHING
        self._settled = True
        count, self._held, self._held_count = self._held_count, [], 0
        return np.zeros(count, np.int64) if self._round is None else self._round.number(path[:, 1:])


class _Extent:
    """Path and bounding box of all points so far."""

    def __init__(self) -> None:
        self.path = 0.0
        self._low, self._high = np.full(2, np.inf), np.full(2, -np.inf)

    def add(self, start: Floats, points: Floats) -> None:
        self.path += float(np.hypot(*np.diff(points, prepend=start[:, None], axis=1)).sum())
        self._low = np.minimum(self._low, np.minimum(start, points.min(axis=1)))
        self._high = np.maximum(self._high, np.maximum(start, points.max(axis=1)))

    @property
    def diagonal(self) -> float:
        return float(np.hypot(*(self._high - self._low)))


class _Round:
    """Counts turns round a centre that follows the wall."""

    def __init__(self, centre: Floats, start: Floats, sense: float) -> None:
        self._centre, self._sense = centre, sense
        self._angle = self._seam = _angle(start, centre).item()
        self._wound = self._furthest = 0.0
        self._points = 0
        """Points numbered so far."""
        self._turn_points: list[Floats] = []
        self._next_centre = RECENTRE_TURNS

    @property
    def turns(self) -> float:
        """Turns wound so far."""
        return self._furthest / FULL_TURN

    def number(self, points: Floats) -> Turns:
        """Turn of each move that ends at these points (2, n), re-centring after every few turns."""
        found = [NOTHING]
        while points.shape[1]:
            here = points[:, : self._to_next_centre()]
            angle = _angle(here, self._centre)
            wound = np.cumsum(_wrap(np.diff(angle, prepend=self._angle)))
            wound *= self._sense
            wound += self._wound
            furthest = np.append(self._furthest, wound)
            np.maximum.accumulate(furthest, out=furthest)
            # a move belongs to the turn in which its middle lies: rounded coordinates then don't matter
            turn = ((furthest[1:] + furthest[:-1]) / (2 * FULL_TURN)).astype(np.int64)
            cut = int(np.searchsorted(turn, self._next_centre))
            if cut:
                self._angle, self._wound = float(angle[cut - 1]), float(wound[cut - 1])
                self._furthest = float(furthest[cut])
                self._points += cut
                self._keep_last_turn(here[:, :cut], turn[:cut])
                found.append(turn[:cut])
            if cut < here.shape[1]:
                self._recentre()
            points = points[:, cut:]
        return np.concatenate(found)

    def _to_next_centre(self) -> int:
        """About how many points come before the centre moves: angles beyond would be taken in vain."""
        if not self._points:
            return MANY_POINTS
        left = self._next_centre + 0.5 - self.turns
        return max(int(left * self._points / max(self.turns, EPSILON)), MANY_POINTS // 16)

    def _keep_last_turn(self, points: Floats, turn: Turns) -> None:
        """Remember the points of the turn before the next re-centring."""
        wanted = np.searchsorted(turn, self._next_centre - 1)
        if wanted < len(turn):
            self._turn_points.append(points[:, wanted:])

    def _recentre(self) -> None:
        """Move the centre to that of the turn just ended; the seam keeps its direction."""
        loop = np.concatenate([np.zeros((2, 0)), *self._turn_points], axis=1)
        self._turn_points = []
        self._next_centre += RECENTRE_TURNS
        if loop.shape[1] < 3:
            return
        self._centre = _centroid(loop)
        self._angle = _angle(loop[:, -1], self._centre).item()
        # where the ray through the seam stands now, seen from the new centre
        off = _wrap(np.array(self._angle - self._seam)).item() * self._sense
        whole = round((self._wound - off) / FULL_TURN) * FULL_TURN
        self._wound = whole + off
        self._furthest = max(self._wound, whole)


def _first_round(path: Floats, trials: tuple[float, ...]) -> _Round | None:
    """Where the path (2, n) first goes round its own middle; None if it doesn't.

    Parts of the path are tried that measure so many diagonals of their own bounding box, infinity standing
    for all of it; so the answer depends on the path alone, not on how much of it is known.
    """
    length = np.append(0.0, np.cumsum(np.hypot(*np.diff(path, axis=1))))
    extent = np.maximum.accumulate(path, axis=1) - np.minimum.accumulate(path, axis=1)
    diagonals = length / np.maximum(np.hypot(*extent), 1e-9)
    for trial in trials:
        beyond = np.flatnonzero(diagonals >= trial)
        if np.isinf(trial):
            found = _round_its_middle(path)
        elif len(beyond) and _stays(path[:, : beyond[0] + 1], length[: beyond[0] + 1]):
            found = _round_its_middle(path[:, : beyond[0] + 1])
        else:
            continue
        if found is not None:
            return found
    return None


def _stays(path: Floats, length: Floats) -> bool:
    """Whether the second half of the path lies over the first: else it may be small loops along a wall."""
    half = int(np.searchsorted(length, length[-1] / 2)) + 1
    drift = np.hypot(*(_middle(path[:, :half]) - _middle(path[:, half - 1 :])))
    return bool(drift <= SAME_PLACE * np.hypot(*np.ptp(path, axis=1)))


def _round_its_middle(path: Floats) -> _Round | None:
    """The round about the centre of the path's first turn."""
    wound = _wound(path, _middle(path))
    done = np.flatnonzero(np.abs(wound) >= FULL_TURN - EPSILON)
    if not len(done):
        return None
    sense = float(np.sign(wound[done[0]]))
    centre = _centroid(path[:, : done[0] + 2])
    # once more: seen from there the turn ends at a somewhat other place
    done = np.flatnonzero(_wound(path, centre) * sense >= FULL_TURN - EPSILON)
    if len(done):
        centre = _centroid(path[:, : done[0] + 2])
    return _Round(centre, path[:, 0], sense)


def _middle(path: Floats) -> Floats:
    """Mean of all places along the path; a stray first stroke hardly moves it."""
    step = np.diff(path, axis=1)
    weight = np.hypot(*step)
    total = weight.sum()
    if total == 0:
        return path[:, 0]
    return np.asarray(((path[:, :-1] + step / 2) * weight).sum(axis=1) / total)


def _angle(points: Floats, centre: Floats) -> Floats:
    return np.asarray(np.arctan2(points[1] - centre[1], points[0] - centre[0]))


def _wound(path: Floats, centre: Floats) -> Floats:
    """Angle wound round the centre up to each point but the first."""
    return np.cumsum(_wrap(np.diff(_angle(path, centre))))


def _wrap(angle: Floats) -> Floats:
    """Angles brought to -pi..pi."""
    whole = np.rint(angle / FULL_TURN)
    whole *= FULL_TURN
    return np.asarray(angle - whole)


def _centroid(loop: Floats) -> Floats:
    """Centroid of the area inside a closed polygon (2, n); of its bounding box if there is no area."""
    x, y = loop[0] - loop[0, 0], loop[1] - loop[1, 0]
    x1, y1 = np.roll(x, -1), np.roll(y, -1)
    cross = x * y1 - x1 * y
    area = cross.sum() / 2
    box = np.array([np.ptp(x), np.ptp(y)])
    if abs(area) < 1e-3 * max(box[0] * box[1], 1e-12):
        return np.array([loop[0].min(), loop[1].min()]) + box / 2
    centre = np.array([((x + x1) * cross).sum(), ((y + y1) * cross).sum()]) / (6 * area)
    return np.asarray(centre + loop[:, 0])
