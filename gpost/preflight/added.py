"""What the plan itself asks beyond the machine's limits: beads it lays, flows and feeds it changes."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from gpost.common.among import distinct
from gpost.config.model import Config
from gpost.plan.feeds import LEAST_MM_MIN, scaled_mm_min
from gpost.plan.intentions import LayClay, Pause, ScaleFeed, ScaleFlow, Stroke
from gpost.plan.plan import Plan
from gpost.preflight.flow import FEED_SLACK, FLOW_SLACK
from gpost.preflight.model import Finding

Floats = NDArray[np.float64]
Excess = tuple[int, float]
"""(0-based line, how much is asked there)."""


class Added:
    """Asks the plan; what the file as sliced asks for is the business of Flow."""

    def __init__(self, config: Config) -> None:
        self._feed_mm_min = config.machine.max_feed_mm_min
        self._flow_ml_min = config.machine.max_flow_ml_min

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """One finding for beads and one for changed layers, of feed and of flow each."""
        if self._feed_mm_min is None and self._flow_ml_min is None:
            return
        laid = [(line, lay) for line, lay in beads(plan) if line >= plan.since]
        feeds, flows = _scaled(plan)
        if self._feed_mm_min is not None:
            fast = [(line, lay.feed_mm_min) for line, lay in laid]
            yield from _too_fast(fast, feeds, self._feed_mm_min)
        if self._flow_ml_min is not None:
            much = [(line, _flow_ml_min(stroke, lay)) for line, lay in laid for stroke in lay.strokes]
            yield from _too_much(much, flows, self._flow_ml_min)


def _too_fast(beads: list[Excess], layers: list[Excess], limit_mm_min: float) -> Iterator[Finding]:
    bead = "a bead beside the piece is laid at up to {:.0f} {}; give its step a slower feed"
    layer = "the steps bring a layer's mean feed to up to {:.0f} {}; let them speed it up less"
    said = f"mm/min, and the machine does {limit_mm_min:g} (`max_feed_mm_min`)"
    for asked, text in ((beads, bead), (layers, layer)):
        yield from _beyond("too-fast", asked, limit_mm_min * (1 + FEED_SLACK), text, said)


def _too_much(beads: list[Excess], layers: list[Excess], limit_ml_min: float) -> Iterator[Finding]:
    bead = (
        "a bead beside the piece is laid with up to {:.1f} {}; give its step a slower feed or a thinner bead"
    )
    layer = "the steps bring a layer's mean flow to up to {:.1f} {}; let them add less, or slice it slower"
    said = f"ml a minute, and the machine pushes {limit_ml_min:g} (`max_flow_ml_min`)"
    for asked, text in ((beads, bead), (layers, layer)):
        yield from _beyond("too-much-clay", asked, limit_ml_min * (1 + FLOW_SLACK), text, said)


def _beyond(name: str, asked: list[Excess], limit: float, text: str, said: str) -> Iterator[Finding]:
    """One finding for all that is over the limit: on the first line, with the most that is asked on any."""
    found = [excess for excess in asked if excess[1] > limit]
    if found:
        worst = max(amount for _, amount in found)
        line = min(line for line, _ in found)
        yield Finding(name, "error", line, text.format(worst, said), len(found))


def beads(plan: Plan) -> Iterator[tuple[int, LayClay]]:
    """(line of the insertion, clay laid there) of all that is laid beside the piece."""
    yield from ((lay.spot.line, lay) for lay in plan.of(LayClay))
    yield from ((pause.spot.line, pause.lay) for pause in plan.of(Pause) if pause.lay is not None)


def _flow_ml_min(stroke: Stroke, lay: LayClay) -> float:
    """Clay of the bead over the time that its path takes."""
    path_mm = sum(math.dist(a, b) for a, b in pairwise(stroke.points_mm))
    return stroke.clay_ml * lay.feed_mm_min / max(path_mm, 1e-9)


def _scaled(plan: Plan) -> tuple[list[Excess], list[Excess]]:
    """(mean feeds in mm/min, mean flows in ml/min) of stretches of layers where the plan raises them.

    The flow is the clay that the layer lays over path / feed; speeding up is left out. Within a layer it is
    taken to be even.
    """
    feeds, flows, layers = plan.of(ScaleFeed), plan.of(ScaleFlow), plan.survey.layers
    if not len(layers) or not (feeds or flows):
        return [], []
    first = np.ascontiguousarray(layers["first_line"])
    scales: list[ScaleFeed | ScaleFlow] = [*feeds, *flows]
    edges = {line for scale in scales for line in (scale.first_line, scale.end_line)}
    lines = distinct(np.array([*edges, *first.tolist()], np.int64))
    lines = lines[(lines >= first[0]) & (lines < plan.survey.laid_until)]
    lines = lines[np.searchsorted(lines, plan.since, side="right") - 1 if plan.since > first[0] else 0 :]
    layer = np.searchsorted(first, lines, side="right") - 1
    feed_mm_min, cruise_s = layers["feed_mm_min"][layer], layers["cruise_s"][layer]
    laid_ml = layers["laid_ml"][layer]
    flow_ml_min = np.divide(laid_ml * 60, cruise_s, out=np.zeros(len(lines)), where=cruise_s > 0)
    faster, richer = _feed_factors(lines, feeds, feed_mm_min), np.ones(len(lines))
    for scale in flows:
        richer[_stretch(lines, scale)] *= scale.factor
    return (
        _raised(lines, faster, feed_mm_min * faster),
        _raised(lines, faster * richer, flow_ml_min * faster * richer),
    )


def _feed_factors(lines: NDArray[np.int64], scales: list[ScaleFeed], feed_mm_min: Floats) -> Floats:
    """Feed factor from each line on."""
    factor = np.ones(len(lines))
    for scale in scales:
        part = _stretch(lines, scale)
        before_mm_min = np.maximum(feed_mm_min[part] * factor[part], LEAST_MM_MIN)
        factor[part] *= scaled_mm_min(before_mm_min, scale.factor, scale.floor_mm_min) / before_mm_min
    return factor


def _stretch(lines: NDArray[np.int64], scale: ScaleFeed | ScaleFlow) -> slice:
    low, high = np.searchsorted(lines, [scale.first_line, scale.end_line]).tolist()
    return slice(low, high)


def _raised(lines: NDArray[np.int64], factor: Floats, amount: Floats) -> list[Excess]:
    at = factor > 1 + 1e-9
    return list(zip(lines[at].tolist(), amount[at].tolist(), strict=True))
