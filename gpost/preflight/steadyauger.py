"""Feeds that steps change while the file's auger keeps its speed, so that beads get thicker or thinner."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from gpost.config.model import Config
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding

SEEN = 0.05
"""A share by which a bead may differ, unseen (common practice, no source)."""


class SteadyAuger:
    """Of a file that pushes clay by its auger alone; where E moves it, E slows down with the feed."""

    def __init__(self, config: Config) -> None:
        self._auger = config.machine.auger if config.clay.metering.unit == "path" else None

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """One for all of the piece, by the layer that differs most."""
        if self._auger is None or not len(plan.layer_factors):
            return
        factors = plan.layer_factors
        off = np.abs(1 / factors - 1)
        changed, most = np.flatnonzero(off > SEEN), int(off.argmax())
        if not len(changed):
            return
        factor, count = float(factors[most]), len(changed)
        layers = "1 layer is" if count == 1 else f"{count} layers are"
        thick = "thick" if factor < 1 else "thin"
        times = 1 / factor if factor < 1 else factor
        yield Finding("steady-auger", "warning", int(plan.survey.layers["first_line"][changed[0]]), (
            f"{layers} laid at another feed (layer {most + 1} at {100 * factor:.0f} %), and the auger that "
            f"{self._auger.on} starts keeps its speed: beads there get up to {times:.2g} times as {thick} as "
            "sliced, and take another amount of clay than is counted; turn the auger with the feed, by hand "
            "or in the file, or leave such feeds out"
        ), count)  # fmt: skip
