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
    """Net clay and heights of the layers; clay that is inserted is no part of a layer."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        layers = plan.survey.layers
        before_ml = plan.layer_clay_ml
        inserted_ml = np.zeros(len(layers))
        inside = []
        for item in plan.insertions:
            at_start = layers["first_line"] == item.spot.line
            if not item.spot.fraction and at_start.any():
                inserted_ml[at_start] += item.clay_ml
            elif item.clay_ml and item.spot > plan.survey.start_of(0):
                inside.append((item.start_ml, item.clay_ml))
        self._inside = np.array(inside).reshape(-1, 2)
        self._start_ml = before_ml + inserted_ml
        self._end_ml = np.append(before_ml[1:], plan.total_ml)
        self._low_mm, self._high_mm = layers["low_mm"].astype(float), layers["height_mm"].astype(float)
        self._from_mm, self._to_mm, self._beside_mm = plan.survey.counted

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
        """Nozzle height at that net clay, mm: of the bead at that very place.

        Within what is inserted, where that is; at a layer's start, where that layer starts.
        """
        survey, index = self._plan.survey, self._layer_at(clay_ml)
        if clay_ml > self._end_ml[index] + LEAST_ML and index + 1 < len(self._low_mm):
            return survey.height_at(survey.start_of(index + 1))
        start, now_ml = survey.start_of(index), min(clay_ml, float(self._end_ml[index]))
        begins = now_ml <= self._start_ml[index] + LEAST_ML or self._high_mm[index] == self._low_mm[index]
        return survey.height_at(start if begins else self._plan.find_clay(now_ml, start))

    def between(self, low_ml: float, high_ml: float) -> tuple[float, float]:
        """The lowest and the highest at which something may be laid from one net clay to another, mm."""
        waves_mm = self._plan.survey.waves_between(self._layer_at(low_ml), self._layer_at(high_ml))
        low_mm, high_mm = sorted(map(self.of, (low_ml, high_ml)))
        return (low_mm, high_mm) if waves_mm is None else waves_mm

    def waves_at(self, clay_ml: float) -> tuple[float, float] | None:
        """(lowest, highest place) of the turn laid at that net clay; None: it climbs evenly, or is level."""
        index = self._layer_at(clay_ml)
        if clay_ml > self._end_ml[index] + LEAST_ML and index + 1 < len(self._low_mm):
            index += 1
        return (float(self._low_mm[index]), float(self._high_mm[index])) if self._beside_mm[index] else None

    def _layer_at(self, clay_ml: float) -> int:
        """Index of the last layer that has started at that net clay; else of the first."""
        return max(int(np.searchsorted(self._start_ml, clay_ml + LEAST_ML, side="right")) - 1, 0)

    def risen_mm(self, clay_ml: float) -> float:
        """How high the wall has risen at that net clay, mm: by the share of the turn's clay, without waves.

        Widths and distances go by that; where a bead lies says `of`.
        """
        index = self._layer_at(clay_ml)
        if clay_ml > self._end_ml[index] + LEAST_ML and index + 1 < len(self._low_mm):
            return float(self._from_mm[index + 1])
        start_ml, now_ml, end_ml = self._laid_ml([self._start_ml[index], clay_ml, self._end_ml[index]])
        share = (now_ml - start_ml) / (end_ml - start_ml) if end_ml > start_ml else 0.0
        from_mm, to_mm = self._from_mm[index], self._to_mm[index]
        return float(from_mm + (to_mm - from_mm) * min(max(share, 0.0), 1.0))

    def laid(self, clay_ml: ArrayLike) -> Floats:
        """Those of the amounts of net clay at which a layer is laid, and nothing inserted runs out."""
        at_ml = np.asarray(clay_ml, dtype=np.float64)
        index = np.searchsorted(self._start_ml, at_ml + LEAST_ML, side="right") - 1
        return at_ml[(index >= 0) & (at_ml <= self._end_ml[index] + LEAST_ML)]

    def middles(self) -> tuple[Floats, Floats]:
        """(nozzle height, net clay) on the middle of each layer's clay; shape (layers,) each."""
        ends_ml = self._start_ml, self._end_ml
        middle_ml = sum(map(self._laid_ml, ends_ml)) / 2
        return (self._low_mm + self._high_mm) / 2, self._net_ml(np.asarray(middle_ml))

    def begun_ml(self, index: int) -> float | None:
        """Net clay where a layer starts, after what is inserted there; None: there is none of that index."""
        return float(self._start_ml[index]) if 0 <= index < len(self._start_ml) else None

    def reached_ml(self, height_mm: float) -> float | None:
        """Net clay where the wall has come so high, inside a layer in proportion; None: it never does."""
        highs_mm = np.maximum.accumulate(self._to_mm)
        if height_mm > self.top_mm:
            return None
        height_mm = min(height_mm, float(highs_mm[-1]))
        index = int(np.searchsorted(highs_mm, height_mm))
        below_mm = highs_mm[index - 1] if index else self._to_mm[0] - self.rise_mm(self.top_mm)
        share = (height_mm - below_mm) / (highs_mm[index] - below_mm) if highs_mm[index] > below_mm else 0.0
        start_ml, end_ml = self._laid_ml([self._start_ml[index], self._end_ml[index]])
        return float(self._net_ml(np.array([start_ml + max(share, 0.0) * (end_ml - start_ml)]))[0])

    def _laid_ml(self, clay_ml: ArrayLike) -> Floats:
        """Net clay less what is inserted inside layers by then, shape of `clay_ml`."""
        at_ml = np.asarray(clay_ml, dtype=np.float64)
        past_ml = np.clip(at_ml[..., None] - self._inside[:, 0], 0.0, self._inside[:, 1])
        return np.asarray(at_ml - past_ml.sum(axis=-1))

    def _net_ml(self, laid_ml: Floats) -> Floats:
        """The least net clay at which so much is laid, of `_laid_ml`; undoes it."""
        for start_ml, more_ml in self._inside:
            laid_ml = np.where(laid_ml > start_ml, laid_ml + more_ml, laid_ml)
        return laid_ml
