"""Feeds, flows and pressure reliefs that the machine can't follow."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from gpost.config.model import Config
from gpost.motion.follow import Follower
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.preflight.tally import BlockTally

Flags = NDArray[np.bool_]
Floats = NDArray[np.float64]

FEED_SLACK = 1e-6
FLOW_SLACK = 0.01
"""The decimals of a short move's E round away as much of its clay."""

RELIEF_SLACK_ML = 0.005
"""Amounts are told to 0.01 ml: what is told as the limit is not beyond it."""


class Flow:
    """Compares every move with the machine's limits, as far as the config gives them."""

    def __init__(self, config: Config) -> None:
        self._machine = config.machine
        self._fast, self._much = BlockTally(self._fast_moves), BlockTally(self._too_much_laid)
        self._pushes, self._reliefs = BlockTally(self._fast_pushes), BlockTally(self._long_reliefs)

    def observe(self, follower: Follower, clay_ml: Floats) -> None:
        """Look at one block."""
        for tally in (self._pushes, self._reliefs, self._fast, self._much):
            tally.observe(follower, clay_ml)

    def _fast_moves(self, follower: Follower, _clay_ml: Floats) -> tuple[Flags, Floats]:
        """Moves that ask for too much feed, and for how much, mm/min; both (m,)."""
        moves, limit_mm_min = follower.moves, self._machine.max_feed_mm_min
        if limit_mm_min is None:
            return np.zeros(len(moves), np.bool_), moves.feed_mm_min
        fast = moves.feed_mm_min > limit_mm_min * (1 + FEED_SLACK)
        if fast.any():
            fast &= moves.entry.any(axis=0)  # F of a move of E alone is no feed of the nozzle
        return fast, moves.feed_mm_min

    def _too_much(self, follower: Follower, clay_ml: Floats, *, in_place: bool) -> tuple[Flags, Floats]:
        """Moves that push too fast, in one place or on their way, and how fast, ml/min; both (m,).

        Clay of a move over its time at the effective feed; speeding up is left out.
        """
        moves, limit_ml_min = follower.moves, self._machine.max_flow_ml_min
        if limit_ml_min is None:
            return np.zeros(len(moves), np.bool_), clay_ml
        flow = clay_ml * moves.feed_mm_min / np.maximum(moves.length_mm, 1e-300)
        return (flow > limit_ml_min * (1 + FLOW_SLACK)) & ((moves.path_mm == 0) == in_place), flow

    def _too_much_laid(self, follower: Follower, clay_ml: Floats) -> tuple[Flags, Floats]:
        return self._too_much(follower, clay_ml, in_place=False)

    def _fast_pushes(self, follower: Follower, clay_ml: Floats) -> tuple[Flags, Floats]:
        return self._too_much(follower, clay_ml, in_place=True)

    def _long_reliefs(self, _follower: Follower, clay_ml: Floats) -> tuple[Flags, Floats]:
        return clay_ml < -self._machine.max_relieve_ml - RELIEF_SLACK_ML, -clay_ml

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """What to tell of the whole file."""
        machine, fast, much = self._machine, self._fast.left(plan), self._much.left(plan)
        if fast.line is not None:
            yield Finding("too-fast", "error", fast.line, (
                f"the feed goes up to {fast.worst:.0f} mm/min, and the machine does "
                f"{machine.max_feed_mm_min:g} (`max_feed_mm_min`); slice it slower"
            ), fast.count)  # fmt: skip
        if much.line is not None:
            yield Finding("too-much-clay", "error", much.line, (
                f"the clay runs at up to {much.worst:.1f} ml a minute, and the machine pushes "
                f"{machine.max_flow_ml_min:g} (`max_flow_ml_min`); slice it slower or with a thinner bead"
            ), much.count)  # fmt: skip
        pushes, reliefs = self._pushes.left(plan), self._reliefs.left(plan)
        if pushes.line is not None:
            yield Finding("fast-push", "warning", pushes.line, (
                f"clay is pushed in one place at up to {pushes.worst:.1f} ml a minute, and the machine "
                f"pushes {machine.max_flow_ml_min:g} (`max_flow_ml_min`); {_slower(plan, pushes.line)}"
            ), pushes.count)  # fmt: skip
        if reliefs.line is not None and not plan.survey.wrong_mode:  # then E falls, and nothing is drawn back
            yield Finding("long-relief", "warning", reliefs.line, (
                f"the file draws back up to {reliefs.worst:.2f} ml of clay at once, more than "
                f"{machine.max_relieve_ml:g} (`max_relieve_ml`): a slow ram can't follow; relieve less in "
                "the slicer"
            ), reliefs.count)  # fmt: skip


def _slower(plan: Plan, line: int) -> str:
    """What to do about a push that is too fast: before the first layer it is the file's own prime."""
    layers = plan.survey.layers
    if len(layers) and line < int(layers["first_line"][0]):
        return (
            "give its line a slower F, or, if the recipe primes by itself, silence it "
            "(`silence_own_prime: true` under `purge`)"
        )
    return "let the slicer give back slower what it draws back"
