"""The time that moves take when the machine speeds up and brakes at one acceleration and looks ahead.

Speeds are kept as stopping lengths, b = v^2 / 2a: the path in mm that it takes to brake from v to rest.
In these the whole matter is additive. Braking over a path L lowers b by L, so the speed that may be
had at one junction of moves is the least of (limit of a junction + path to that junction) over all
junctions, before it and after it: two running minima over the path, with no loop in Python. And a
limit by sideways acceleration, v^2 = a R, is b = R / 2.

A junction's speed is final as soon as nothing that may still come can lower it: a machine that
came to rest at the very end of the moves known so far would still pass the junction as fast. Only
the few moves after the last such junction are held back; of a crowd of tiny ones no more than MOST_HELD,
and what comes later is then taken not to slow the older ones down.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

try:
    from gpost.motion.pace import limits, settled
except ImportError:  # installed without a compiler
    from gpost.motion.pacecolumns import limits, settled

Floats = NDArray[np.float64]

MOST_HELD = 100_000


class TimeProfile:
    """Turns a stream of moves into times; how the stream is cut into calls of `add` makes no difference.

    The machine starts at rest, and stands at rest after `finish`; it may then be used again.
    """

    def __init__(self, *, acceleration_mm_s2: float, corner_deviation_mm: float) -> None:
        """Raise ValueError unless both are above 0."""
        if not (acceleration_mm_s2 > 0 and corner_deviation_mm > 0):
            raise ValueError("the acceleration and the corner deviation must be above 0")
        self._acceleration = acceleration_mm_s2
        self._deviation_mm = corner_deviation_mm
        self._rest()

    def _rest(self) -> None:
        # Moves not yet final: path, stopping length at full feed, and that allowed where each starts.
        self._path, self._cruise, self._limit = np.empty(0), np.empty(0), np.empty(0)
        # The last move of all: a stand-still has no direction, and no speed.
        self._last_exit, self._last_cruise = np.zeros((3, 1)), 0.0

    def add(
        self,
        length_mm: Floats,
        feed_mm_s: Floats,
        entry: Floats,
        exit: Floats,
        stop_before: NDArray[np.bool_],
        radius_mm: Floats | None = None,
    ) -> Floats:
        """Take n more moves; return the times in s of all moves that became final, oldest first.

        length_mm    shape (n,): path. A move of length 0 is no move, whatever else is said of it: it takes no
                     time and nothing slows down for it, unless a stop comes before it
        feed_mm_s    shape (n,): wanted speed. NaN, 0 or less: the move counts as a stand-still of no time
        entry, exit  shape (3, n): unit direction where the move starts and ends (of arcs: the tangents).
                     All 0 for a move of E alone: the machine stands still before and after it
        stop_before  shape (n,): the machine certainly stands still before the move (a dwell, a pause)
        radius_mm    shape (n,): radius of an arc, NaN for a straight move; the speed stays below sqrt(a R).
                     None: all are straight

        Nothing given is changed.
        """
        if not len(length_mm):
            return np.empty(0)
        path, cruise = self._paced(length_mm, feed_mm_s, radius_mm)
        if not length_mm.all():
            nowhere = length_mm == 0
            cruise[nowhere] = np.inf
            entry, exit = self._straight_through(nowhere, entry, exit)
        limit = limits(entry, exit, cruise, self._last_exit, self._last_cruise, self._deviation_mm)
        if stop_before.any():
            limit[stop_before] = 0.0

        self._last_exit, self._last_cruise = exit[:, -1:].copy(), float(cruise[-1])
        self._path = np.concatenate((self._path, path))
        self._cruise = np.concatenate((self._cruise, cruise))
        self._limit = np.concatenate((self._limit, limit))
        return self._settle(end_limit_mm=np.inf)

    def finish(self) -> Floats:
        """Return the times in s of the moves still held back; the last of them ends at rest."""
        times = self._settle(end_limit_mm=0.0)
        self._rest()
        return times

    def _paced(self, length_mm: Floats, feed_mm_s: Floats, radius_mm: Floats | None) -> tuple[Floats, Floats]:
        """Path and stopping length at cruising speed, of each move."""
        with np.errstate(over="ignore"):
            cruise = feed_mm_s * feed_mm_s
        cruise *= 0.5 / self._acceleration
        if radius_mm is not None:
            np.fmin(cruise, radius_mm * 0.5, out=cruise)  # fmin passes over the NaN of straight moves
        usable = feed_mm_s > 0
        if usable.all():
            return length_mm, cruise
        return np.where(usable, length_mm, 0.0), np.where(usable, cruise, 0.0)

    def _straight_through(
        self, nowhere: NDArray[np.bool_], entry: Floats, exit: Floats
    ) -> tuple[Floats, Floats]:
        """Let moves that go nowhere take over the direction in which the last real move ended."""
        real = np.where(nowhere, 0, np.arange(1, len(nowhere) + 1))
        np.maximum.accumulate(real, out=real)
        exit = np.concatenate((self._last_exit, exit), axis=1).take(real, axis=1)
        return np.where(nowhere, exit, entry), exit

    def _settle(self, *, end_limit_mm: float) -> Floats:
        """Plan what is pending, let go of what is final and return its times.

        `end_limit_mm` is the stopping length allowed at the end of the last move; infinite while unknown.
        """
        pending = self._path, self._cruise, self._limit
        times, stop = settled(*pending, end_limit_mm, MOST_HELD, self._acceleration)
        held = slice(len(times), None)
        self._path, self._cruise = self._path[held].copy(), self._cruise[held].copy()
        self._limit = self._limit[held].copy()
        if self._limit.size:
            self._limit[0] = stop
        return times
