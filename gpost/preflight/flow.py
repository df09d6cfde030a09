"""Feeds, flows and pressure reliefs that the machine can't follow."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from gpost.config.model import Config
from gpost.motion.follow import Follower
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.preflight.tally import Tally

FEED_SLACK = 1e-6
FLOW_SLACK = 0.01
"""The decimals of a short move's E round away as much of its clay."""


class Flow:
    """Compares every move with the machine's limits, as far as the config gives them."""

    def __init__(self, config: Config) -> None:
        self._machine = config.machine
        self._fast, self._much, self._relief = Tally(), Tally(), Tally()

    def observe(self, follower: Follower, clay_ml: NDArray[np.float64]) -> None:
        """Look at one block."""
        if not len(clay_ml):
            return
        if self._machine.max_feed_mm_min is not None:
            self._look_at_feed(follower, self._machine.max_feed_mm_min)
        if self._machine.max_flow_ml_min is not None:
            self._look_at_flow(follower, clay_ml, self._machine.max_flow_ml_min)
        long = clay_ml < -self._machine.max_relieve_ml - 1e-9
        self._relief.add(follower, long, -clay_ml)

    def _look_at_feed(self, follower: Follower, limit_mm_min: float) -> None:
        moves = follower.moves
        fast = moves.feed_mm_min > limit_mm_min * (1 + FEED_SLACK)
        if fast.any():
            fast &= moves.entry.any(axis=0)  # F of a move of E alone is no feed of the nozzle
            self._fast.add(follower, fast, moves.feed_mm_min)

    def _look_at_flow(self, follower: Follower, clay_ml: NDArray[np.float64], limit_ml_min: float) -> None:
        """Clay of a move over its time at the effective feed; speeding up is left out."""
        moves = follower.moves
        flow = clay_ml * moves.feed_mm_min / np.maximum(moves.length_mm, 1e-300)
        self._much.add(follower, flow > limit_ml_min * (1 + FLOW_SLACK), flow)

    def findings(self, _plan: Plan) -> Iterator[Finding]:
        """What to tell of the whole file."""
        machine = self._machine
        if self._fast.line is not None:
            yield Finding("too-fast", "error", self._fast.line, (
                f"the feed goes up to {self._fast.worst:.0f} mm/min, and the machine does "
                f"{machine.max_feed_mm_min:g} (`max_feed_mm_min`); slice it slower"
            ), self._fast.count)  # fmt: skip
        if self._much.line is not None:
            yield Finding("too-much-clay", "error", self._much.line, (
                f"the clay runs at up to {self._much.worst:.1f} ml a minute, and the machine pushes "
                f"{machine.max_flow_ml_min:g} (`max_flow_ml_min`); slice it slower or with a thinner bead"
            ), self._much.count)  # fmt: skip
        if self._relief.line is not None:
            yield Finding("long-relief", "warning", self._relief.line, (
                f"the file draws back up to {self._relief.worst:.2f} ml of clay at once, more than "
                f"{machine.max_relieve_ml:g} (`max_relieve_ml`): a slow ram can't follow; relieve less in "
                "the slicer"
            ), self._relief.count)  # fmt: skip
