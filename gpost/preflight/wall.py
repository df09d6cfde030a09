"""Layers that stand in the air, and a first layer that doesn't fit the nozzle."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from gpost.config.model import Config
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.survey.model import Survey
from gpost.survey.path import LEVEL

HIGHEST_START = 2.0
HIGHEST_RISE = 1.2
"""In nozzle diameters; a bead that falls further than that doesn't lie where it was laid: common practice,
no source."""

LEAST_FIRST, MOST_FIRST = 0.25, 0.9
"""First layer in nozzle diameters: common practice, no source."""

SLACK_MM = 0.005


class WallCheck:
    """Looks at the survey's layers alone."""

    def __init__(self, config: Config) -> None:
        self._nozzle_mm = config.machine.nozzle_mm

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """What to tell of the whole file."""
        survey = plan.survey
        yield from wall_findings(survey, self._nozzle_mm, max(survey.index_at(plan.since), 0))


def wall_findings(survey: Survey, nozzle_mm: float, begin: int = 0) -> Iterator[Finding]:
    """What is wrong with the layers, from that index on, for a nozzle of this inner diameter."""
    if len(survey.layers):
        yield from _in_air(survey.layers, nozzle_mm, begin)
        yield from _first(survey.layers, nozzle_mm) if begin == 0 else ()


def _in_air(layers: NDArray[np.void], nozzle_mm: float, begin: int) -> Iterator[Finding]:
    """A layer has risen only if both its lowest and its highest clay have: a waved wall has not."""
    start_mm = float(layers["low_mm"][0])
    first_line = int(layers["first_line"][0])
    if begin == 0 and start_mm > HIGHEST_START * nozzle_mm + SLACK_MM:
        yield Finding("wall-in-air", "error", first_line, (
            f"the first clay is laid {start_mm:.2f} mm above zero, with nothing below it; slice the "
            "piece standing on the bed, or fix `nozzle_mm` under `machine:`"
        ))  # fmt: skip
        return
    rise = np.minimum(np.diff(layers["height_mm"]), np.diff(layers["low_mm"]))
    high = np.flatnonzero(rise > HIGHEST_RISE * nozzle_mm + SLACK_MM)
    high = high[high + 1 >= begin]
    if len(high):
        line = int(layers["first_line"][high[0] + 1])
        yield Finding("wall-in-air", "error", line, (
            f"layer {high[0] + 2} lies {rise[high[0]]:.2f} mm above the one before, and the nozzle is "
            f"{nozzle_mm:g} mm wide: the bead falls; slice thinner layers, or fix `nozzle_mm`"
        ), len(high))  # fmt: skip


def _first(layers: NDArray[np.void], nozzle_mm: float) -> Iterator[Finding]:
    # of a turn that rises, on the average; of what is no turn, where it is lowest: a floor may be with it
    low_mm, top_mm = float(layers["low_mm"][0]), float(layers["height_mm"][0])
    turn = layers["kind"][0] != LEVEL and not layers["odd"][0]
    height_mm = (low_mm + top_mm) / 2 if turn else low_mm
    least_mm, most_mm = LEAST_FIRST * nozzle_mm, MOST_FIRST * nozzle_mm
    if least_mm - SLACK_MM <= height_mm <= most_mm + SLACK_MM:
        return
    wrong = "too low: it scrapes" if height_mm < least_mm else "too high: it hardly grips the bed"
    yield Finding("first-layer", "warning", int(layers["first_line"][0]), (
        f"the first layer is {height_mm:.2f} mm high, which is {wrong}; with this nozzle {least_mm:.2g} "
        f"to {most_mm:.2g} mm are usual"
    ))  # fmt: skip
