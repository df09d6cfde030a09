"""The clock inside a layer, from the times of its own moves: the table knows none but where layers begin."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.config.machine import Machine
from gpost.motion.follow import Follower
from gpost.motion.profile import TimeProfile
from gpost.spot import Spot

Floats = NDArray[np.float64]
MOST_PLACES = 10_000
"""Places in one layer whose time is kept; what lies between two of them goes by lines."""


class Within(NamedTuple):
    """Lines of a layer, ascending, and the seconds from its start to before each; shape (k,) both."""

    line: Floats
    seconds: Floats

    def share(self, spot: Spot) -> float:
        """Part of the layer's time that has passed at a spot, 0 to 1."""
        at_s = float(np.interp(spot.line + spot.fraction, self.line, self.seconds))
        total_s = float(self.seconds[-1])
        if not total_s:  # nothing says how long anything takes
            return float(np.interp(spot.line + spot.fraction, self.line[[0, -1]], [0.0, 1.0]))
        return at_s / total_s


def clock_within(ways: Iterable[Follower], first_line: int, end_line: int, machine: Machine) -> Within:
    """The clock on these lines, by the ways through the blocks that hold them.

    As the survey reckons times, but that the machine stands still before and after.
    """
    profile = TimeProfile(
        acceleration_mm_s2=machine.acceleration_mm_s2, corner_deviation_mm=machine.corner_deviation_mm
    )
    gathered = _Gathered(first_line, 1 + (end_line - first_line) // MOST_PLACES)
    wait_s, stopped = 0.0, False
    for follower in ways:
        moves = follower.moves
        line = moves.line + follower.block.chunk.first_line
        pick = (line >= first_line) & (line < end_line)
        some = moves.length_mm[pick], moves.feed_mm_min[pick] / 60, moves.entry[:, pick], moves.exit[:, pick]
        waits, stops = moves.wait_s[pick], moves.stop[pick]
        if len(waits):  # what comes after a block's last move belongs before the next
            waits[0], stops[0] = waits[0] + wait_s, stops[0] or stopped
            wait_s, stopped = 0.0, False
        wait_s, stopped = wait_s + moves.tail_wait_s, stopped or moves.tail_stop
        gathered.expect(line[pick], waits)
        gathered.take(profile.add(*some, stops, moves.radius_mm[pick]))
    gathered.take(profile.finish())
    return gathered.done(end_line)


class _Gathered:
    """Times of moves as they become known, thinned out."""

    def __init__(self, first_line: int, every: int) -> None:
        self._every = every
        self._line, self._wait_s = np.zeros(0, np.int64), np.zeros(0)
        """Of moves without a time as yet."""
        self._places = [np.array([[float(first_line)], [0.0]])]
        self._now_s, self._stretch = 0.0, -1

    def expect(self, line: NDArray[np.int64], wait_s: Floats) -> None:
        """Moves whose times come later, and how long the machine waits before each."""
        self._line, self._wait_s = np.append(self._line, line), np.append(self._wait_s, wait_s)

    def take(self, times_s: Floats) -> None:
        """The times of the oldest of them."""
        count = len(times_s)
        if not count:
            return
        line, wait_s = self._line[:count], self._wait_s[:count]
        self._line, self._wait_s = self._line[count:], self._wait_s[count:]
        # one after the other, so that where the file is cut makes no difference
        steps = np.cumsum(np.append(self._now_s, np.column_stack([wait_s, times_s]).ravel()))
        begins, ends = steps[1::2], steps[2::2]
        self._now_s = float(steps[-1])
        stretch = line // self._every
        kept = np.diff(stretch, prepend=self._stretch) > 0
        self._stretch = int(stretch[-1])
        pairs = np.stack([[line[kept], line[kept] + 1.0], [begins[kept], ends[kept]]])
        self._places.append(pairs.swapaxes(1, 2).reshape(2, -1))

    def done(self, end_line: int) -> Within:
        """All of it."""
        end = np.array([[float(end_line)], [self._now_s]])
        return Within(*np.concatenate([*self._places, end], axis=1))
