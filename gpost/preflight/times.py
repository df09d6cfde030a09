"""Layers that are printed too fast to set, and clay that grows too old before it is printed."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator

import numpy as np

from gpost.config.model import Config
from gpost.plan.intentions import LeastLayerTime
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.supply.working import loads

SLACK_S = 0.05


class Times:
    """Asks the plan, so that slower feeds, purges and new cartridges count."""

    def __init__(self, config: Config) -> None:
        self._config = config

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """What to tell of the whole file."""
        yield from self._short(plan)
        yield from self._old(plan)

    def least_layer_s(self, plan: Plan) -> float | None:
        """The clay's least layer time, or else the largest that a step says."""
        if self._config.clay.least_layer_s is not None:
            return self._config.clay.least_layer_s
        return max((said.seconds for said in plan.of(LeastLayerTime)), default=None)

    def _short(self, plan: Plan) -> Iterator[Finding]:
        least_s, times_s = self.least_layer_s(plan), plan.layer_times_s + plan.layer_waits_s
        if least_s is None:
            return
        short = np.flatnonzero(times_s < least_s - SLACK_S)
        if len(short):
            line = int(plan.survey.layers["first_line"][short[0]])
            yield Finding("short-layer", "warning", line, (
                f"layer {short[0] + 1} is the first that takes less than {least_s:g} s, the shortest takes "
                f"{times_s[short].min():.1f} s, and the wall has no time to set; slow it by the step `taper`"
            ), len(short))  # fmt: skip

    def _old(self, plan: Plan) -> Iterator[Finding]:
        """Age of the last clay of each cartridge. Machine time alone, so that the real age is more."""
        limit_s = self._config.clay.working_min * 60
        found = [load for load in loads(plan) if load.age_s > limit_s + SLACK_S]
        if not found:
            return
        lines = range(plan.survey.lines)
        line = bisect_left(lines, found[0].loaded_s + limit_s, key=plan.clock_before)
        worst_min = max(load.age_s for load in found) / 60
        yield Finding("old-clay", "warning", min(line, len(lines) - 1), (
            f"clay waits up to {worst_min:.0f} min in cartridge and hose, waiting for you not counted, and "
            f"can be worked for {limit_s / 60:g} (`working_min`); load smaller cartridges, or softer clay"
        ), len(found))  # fmt: skip
