"""Turns of a wall that rises or waves: where the path has gone once round since it left the seam."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

FULL_TURN = 2 * np.pi
RECENTRE_TURNS = 8
"""The centre follows a leaning wall; fixed turn numbers make it independent of how blocks are cut."""

FIRST_LOOP = 1.15 * FULL_TURN
"""Change of direction after which the first loop has certainly closed."""

NO_LOOP_PATH = 40.0
"""Path, in diagonals of its bounding box, after which a wall counts as one that does not go round."""

EPSILON = 1e-6


class TurnFinder:
    """Gives each laying move of one section the number of its turn, counted from 0.

    The seam is the ray from the wall's centre through the point where the section starts. A turn ends
    with the move that reaches that ray again. Whatever the cross-section's lobes and twist, the angle
    round a point inside it grows by one full turn a round.
    """

    def __init__(self) -> None:
        self._held: list[Floats] = []
        self._held_count = 0
        self._centre: Floats | None = None
        self._seam = 0.0
        self._angle = 0.0
        self._wound = 0.0
        self._furthest = 0.0
        self._sense = 1.0
        self._turn_points: list[Floats] = []
        self._next_centre = RECENTRE_TURNS
        self._start: Floats | None = None
        self.lost = False
        """True once the wall has turned out not to go round."""

    @property
    def turns(self) -> float:
        """Turns wound so far."""
        return self._furthest / FULL_TURN

    def add(self, start: Floats, points: Floats) -> NDArray[np.int64]:
        """Turn numbers for the moves that are settled by now, oldest first.

        start: (2,) where the first of these moves starts; points: (2, n) where each ends, in mm.
        """
        if self._start is None:
            self._start = start
        if self._centre is None:
            self._held.append(points)
            self._held_count += points.shape[1]
            points = np.concatenate(self._held, axis=1)
            if not self._find_centre(points):
                return np.zeros(0, np.int64)
            self._held = []
        return self._number(points)

    def finish(self) -> NDArray[np.int64]:
        """Turn numbers of all moves not yet settled: a section without one full turn is turn 0."""
        left = self._held_count if self._centre is None else 0
        self._held = []
        return np.zeros(left, np.int64)

    def _find_centre(self, points: Floats) -> bool:
        assert self._start is not None
        path = np.concatenate([self._start[:, None], points], axis=1)
        step = np.diff(path, axis=1)
        length = np.hypot(*step)
        moving = length > 1e-9
        heading = np.arctan2(step[1, moving], step[0, moving])
        turned = np.cumsum(_wrap(np.diff(heading)))
        beyond = np.flatnonzero(np.abs(turned) >= FIRST_LOOP)
        if len(beyond):
            upto = int(np.flatnonzero(moving)[beyond[0] + 1]) + 2
            self._set_centre(_centroid(path[:, :upto]), path[:, 0])
            self._sense = float(np.sign(turned[beyond[0]]))
            loop = self._first_turn(path)
            self._set_centre(_centroid(path[:, :loop]), path[:, 0])
            return True
        spread = float(np.hypot(np.ptp(path[0]), np.ptp(path[1])))
        self.lost = bool(length.sum() > NO_LOOP_PATH * max(spread, 1e-9))
        return False

    def _first_turn(self, path: Floats) -> int:
        """Number of points of the first full turn round the present centre."""
        assert self._centre is not None
        angle = np.arctan2(path[1] - self._centre[1], path[0] - self._centre[0])
        wound = np.cumsum(_wrap(np.diff(angle))) * self._sense
        done = np.flatnonzero(wound >= FULL_TURN - EPSILON)
        return int(done[0]) + 2 if len(done) else path.shape[1]

    def _set_centre(self, centre: Floats, seam_point: Floats) -> None:
        self._centre = centre
        self._angle = float(np.arctan2(seam_point[1] - centre[1], seam_point[0] - centre[0]))
        self._seam = self._angle

    def _number(self, points: Floats) -> NDArray[np.int64]:
        """Turn numbers, re-centring after every few turns."""
        found = []
        while points.shape[1]:
            assert self._centre is not None
            angle = np.arctan2(points[1] - self._centre[1], points[0] - self._centre[0])
            change = _wrap(np.diff(angle, prepend=self._angle))
            wound = self._wound + np.cumsum(change) * self._sense
            furthest = np.maximum.accumulate(np.maximum(wound, self._furthest))
            turn = np.ceil((furthest - EPSILON) / FULL_TURN).astype(np.int64) - 1
            np.maximum(turn, 0, out=turn)
            cut = int(np.searchsorted(turn, self._next_centre))
            if cut:
                self._angle, self._wound = float(angle[cut - 1]), float(wound[cut - 1])
                self._furthest = float(furthest[cut - 1])
                self._keep_last_turn(points[:, :cut], turn[:cut])
                found.append(turn[:cut])
            if cut == points.shape[1]:
                break
            self._recentre()
            points = points[:, cut:]
        return np.concatenate(found) if found else np.zeros(0, np.int64)

    def _keep_last_turn(self, points: Floats, turn: NDArray[np.int64]) -> None:
        """Remember the points of the turn before the next re-centring."""
        wanted = np.searchsorted(turn, self._next_centre - 1)
        if wanted < len(turn):
            self._turn_points.append(points[:, wanted:])

    def _recentre(self) -> None:
        """Move the centre to that of the turn just ended; the seam keeps its direction."""
        assert self._centre is not None
        loop = np.concatenate(self._turn_points, axis=1) if self._turn_points else np.zeros((2, 0))
        self._turn_points = []
        self._next_centre += RECENTRE_TURNS
        if loop.shape[1] < 3:
            return
        last = loop[:, -1]
        self._centre = _centroid(loop)
        angle = float(np.arctan2(last[1] - self._centre[1], last[0] - self._centre[0]))
        # where the ray through the seam stands now, seen from the new centre
        off = float(_wrap(np.array([angle - self._seam]))[0]) * self._sense
        whole = np.round((self._wound - off) / FULL_TURN) * FULL_TURN
        self._angle, self._wound = angle, float(whole + off)
        self._furthest = max(self._wound, float(whole))


def _wrap(angle: Floats) -> Floats:
    """Angles brought to -pi..pi."""
    return np.asarray(angle - FULL_TURN * np.rint(angle / FULL_TURN))


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
