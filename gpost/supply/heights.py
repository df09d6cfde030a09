"""Between net clay and nozzle height on the planned piece."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gpost.plan.layers import find_layer
from gpost.plan.plan import Plan

LEAST_ML = 1e-6
"""Less clay is none: sums of many lines are not exact."""
Floats = NDArray[np.float64]


class Heights:
    """Net clay and heights of the layers; clay that is inserted at a layer's start is no part of a layer."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        layers = plan.survey.layers
        before_ml = plan.layer_clay_ml
        inserted_ml = np.zeros(len(layers))
        for item in plan.insertions:
            if not item.spot.fraction:
                inserted_ml[layers["first_line"] == item.spot.line] += item.clay_ml
        self._start_ml = before_ml + inserted_ml
        self._end_ml = np.append(before_ml[1:], plan.total_ml)
        self._low_mm, self._high_mm = layers["low_mm"].astype(float), layers["height_mm"].astype(float)

    @property
    def top_mm(self) -> float:
        """Nozzle height of the highest layer."""
        return float(self._high_mm.max())

    @property
    def end_ml(self) -> float:
        """Net clay at the end of the last layer."""
        return float(self._end_ml[-1])

    def start_ml(self, height_mm: float) -> float:
        """Net clay where the first layer at or above the height starts, after what is inserted there.

        Inside a layer that is odd or tall, where the wall reaches the height.
        """
        found = find_layer(self._plan, None, height_mm)
        if found is None:
            return float(self._start_ml[-1])
        if found.spot != self._plan.survey.start_of(found.first):
            return self._plan.clay_before(found.spot)
        return float(self._start_ml[min(found.first, len(self._start_ml) - 1)])

    def rise_mm(self, height_mm: float) -> float:
        """How much higher than the one before it the first layer at or above the height is."""
        index = min(self._plan.survey.first_above(height_mm), len(self._low_mm) - 1)
        return float(self._high_mm[index] - (self._high_mm[index - 1] if index else 0.0))

    def of(self, clay_ml: float) -> float:
        """Nozzle height at that net clay, mm; on a rising wall by the share of the turn's clay.

        Within what is inserted at a layer's start, where that layer starts.
        """
        index = max(int(np.searchsorted(self._start_ml, clay_ml + LEAST_ML, side="right")) - 1, 0)
        if clay_ml > self._end_ml[index] + LEAST_ML and index + 1 < len(self._low_mm):
            return float(self._low_mm[index + 1])
        own_ml = self._end_ml[index] - self._start_ml[index]
        share = (clay_ml - self._start_ml[index]) / own_ml if own_ml > 0 else 0.0
        low_mm, high_mm = self._low_mm[index], self._high_mm[index]
        return float(low_mm + (high_mm - low_mm) * min(max(share, 0.0), 1.0))

    def laid(self, clay_ml: ArrayLike) -> Floats:
        """Those of the amounts of net clay at which a layer is laid, and nothing inserted runs out."""
        at_ml = np.asarray(clay_ml, dtype=np.float64)
        index = np.searchsorted(self._start_ml, at_ml + LEAST_ML, side="right") - 1
        return at_ml[(index >= 0) & (at_ml <= self._end_ml[index] + LEAST_ML)]

    def middles(self) -> tuple[Floats, Floats]:
        """(nozzle height, net clay) on the middle of each layer's clay; shape (layers,) each."""
        return (self._low_mm + self._high_mm) / 2, (self._start_ml + self._end_ml) / 2
