"""Where the file itself stands still over the wall for longer than its rim may wait."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.common.duration import lasting
from gpost.config.model import Config
from gpost.motion.follow import Follower
from gpost.plan.intentions import Air
from gpost.plan.plan import Plan
from gpost.preflight.blowing import blowing_at
from gpost.preflight.model import Finding
from gpost.spot import Spot
from gpost.supply.working import rim_wait_s


class _Stand(NamedTuple):
    """What stands between two moves, by one line or by several."""

    line: int
    """The first line of it."""
    gone: int
    """How many moves come before."""
    seconds: float


class Standing:
    """Adds up what stands between two moves, however it is written and wherever blocks are cut."""

    def __init__(self, config: Config) -> None:
        rim_min = config.clay.rim_min
        self._longest_s = math.inf if rim_min is None else rim_min * 60
        self._found: list[_Stand] = []
        self._last = _Stand(0, -1, 0.0)
        self._moves = 0

    def observe(self, follower: Follower, _clay_ml: NDArray[np.float64]) -> None:
        """Look at one block."""
        if self._longest_s == math.inf:
            return
        real = follower.moves.length_mm > 0
        line, before, seconds = follower.standstills
        if len(line):
            gone = self._moves + np.append(0, np.cumsum(real))[before]
            starts = np.flatnonzero(np.diff(gone, prepend=-1))
            sums = np.add.reduceat(seconds, starts)
            first_line = line[starts] + follower.block.chunk.first_line
            long = sums > self._longest_s
            long[[0, -1]] = True  # they may go on from the block before, and into the next one
            for each in zip(first_line[long], gone[starts][long], sums[long], strict=True):
                self._add(_Stand(int(each[0]), int(each[1]), float(each[2])))
        self._moves += int(np.count_nonzero(real))

    def _add(self, stand: _Stand) -> None:
        if stand.gone == self._last.gone:
            self._last = self._last._replace(seconds=self._last.seconds + stand.seconds)
            return
        self._found += [self._last] if self._last.seconds > self._longest_s else []
        self._last = stand

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """One warning for all of them."""
        found = [stand for stand in (*self._found, self._last) if self._is_cold(plan, stand)]
        if not found:
            return
        longest = max(found, key=lambda stand: stand.seconds)
        told = lasting(longest.seconds) if len(found) == 1 else f"up to {lasting(longest.seconds)}"
        blown = ", with the blower on, which dries it sooner" if _is_blown(plan, longest.line) else ""
        yield Finding("cold-rim", "warning", found[0].line, (
            f"the file stands still for {told} in the middle of the wall, and goes on by itself; the rim may "
            f"wait for {self._longest_s / 60:g} min (`rim_min`){blown}: make it shorter, or let the machine "
            "wait for you there instead, to score and mist the rim"
        ), len(found))  # fmt: skip

    def _is_cold(self, plan: Plan, stand: _Stand) -> bool:
        if stand.seconds <= self._longest_s or stand.line < plan.since:
            return False
        stays = plan.stays(np.array([stand.line]))[0]
        return bool(stays) and rim_wait_s(plan, Spot(stand.line)) != math.inf


def _is_blown(plan: Plan, line: int) -> bool:
    """Whether a blower is on there, by a step or by the file."""
    airs = sorted((air.spot, at, air.level) for at, air in enumerate(plan.of(Air)))
    before = [level for spot, _, level in airs if spot <= Spot(line)]
    if airs:
        return bool(before) and before[-1] > 0
    return any(any(found) for found in blowing_at(plan, np.array([line])).values())
