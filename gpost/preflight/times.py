"""Layers that are printed too fast to set, and clay that grows too old before it is printed."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from gpost.common.duration import lasting
from gpost.config.model import Config
from gpost.plan.intentions import LeastLayerTime, Restart
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.supply.loads import on_from
from gpost.supply.working import ages_s, loads

SLACK_S = 0.05


class Times:
    """Asks the plan, so that slower feeds, purges and new cartridges count."""

    def __init__(self, config: Config) -> None:
        self._config = config

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """What to tell of the whole file."""
        yield from self._short(plan)
        yield from self._old(plan)
        yield from self._kept(plan)

    def least_layer_s(self, plan: Plan) -> float | None:
        """The clay's least layer time, or else the largest that a step says."""
        if self._config.clay.least_layer_s is not None:
            return self._config.clay.least_layer_s
        return max((said.seconds for said in plan.of(LeastLayerTime)), default=None)

    def _short(self, plan: Plan) -> Iterator[Finding]:
        least_s, times_s = self.least_layer_s(plan), plan.layer_times_s + plan.layer_waits_s
        if least_s is None:
            return
        short = _to_come(plan, times_s < least_s - SLACK_S)
        if len(short):
            line = int(plan.survey.layers["first_line"][short[0]])
            yield Finding("short-layer", "warning", line, (
                f"layer {short[0] + 1} is the first that takes less than {least_s:g} s, the shortest takes "
                f"{times_s[short].min():.1f} s, and the wall has no time to set; slow it by the step `taper`"
            ), len(short))  # fmt: skip

    def _old(self, plan: Plan) -> Iterator[Finding]:
        """Clay that stays too long in the hose. Of waits only what a stopped print has stood is known."""
        limit_min = self._config.clay.working_min
        ages_min = ages_s(plan) / 60
        old = _to_come(plan, ages_min > limit_min + SLACK_S / 60)
        if len(old):
            line = int(plan.survey.layers["first_line"][old[0]])
            counted, do = _counted(plan), "lay faster, or use a shorter or narrower hose"
            settle_s = plan.config.machine.pause.settle_s
            if settle_s and ages_min[old].max() - settle_s / 60 <= limit_min:
                do = f"stand for less than {lasting(settle_s)} after a prime (`settle_s`), or {do}"
            if _stood_s(plan):
                do = f"run the hose out first (--run-out {plan.config.cartridge.line_ml:g}), or {do}"
            yield Finding("old-clay", "warning", line, (
                f"clay stays in the hose for up to {ages_min[old].max():.0f} min before it is laid, {counted}"
                f", and can be worked for {limit_min:g} (`working_min`); {do}"
            ), len(old))  # fmt: skip

    def _kept(self, plan: Plan) -> Iterator[Finding]:
        """Clay that stays longer in a cartridge than the config says that it keeps there."""
        keeps_min = self._config.cartridge.keeps_min
        if keeps_min is None:
            return
        found = [load for load in loads(plan)[on_from(plan) :] if load.age_s > keeps_min * 60 + SLACK_S]
        if found:
            lines = range(plan.survey.lines)
            line = bisect_left(lines, found[0].loaded_s + keeps_min * 60, key=plan.clock_before)
            worst_min = max(load.age_s for load in found) / 60
            yield Finding("old-cartridge", "warning", min(max(line, plan.since), len(lines) - 1), (
                f"clay stays up to {worst_min:.0f} min in its cartridge, {_counted(plan)}, and "
                f"keeps for {keeps_min:g} there (`keeps_min`); load smaller cartridges"
            ), len(found))  # fmt: skip


def _stood_s(plan: Plan) -> float:
    """How long a print has stood where it has stopped, as far as that was said, s."""
    return sum(restart.waited_s for restart in plan.of(Restart))


def _counted(plan: Plan) -> str:
    """What of waits is in an age, in words."""
    stood_s = _stood_s(plan)
    return (
        f"the {stood_s / 60:.0f} min that it has stood counted in"
        if stood_s
        else "waiting for you not counted"
    )


def _to_come(plan: Plan, which: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Indexes of those layers that are still to be laid, in part or as a whole; `which`: shape (n,)."""
    found = np.flatnonzero(which)
    return found[found >= plan.survey.index_at(plan.since)]
