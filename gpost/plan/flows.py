"""What changed flows make of net clay: between the source's amounts and the plan's, both ways."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from gpost.common.among import distinct
from gpost.plan.intentions import ScaleFlow
from gpost.spot import Spot
from gpost.survey.model import Survey

Floats = NDArray[np.float64]
FAR_ML = 1e6
"""Beyond any job's clay."""


class Flows:
    """Only clay that is laid is scaled; within a layer it is taken to be an even share of all.

    Its table has rising breakpoints: net clay of the source, and what flow changes have added by then, in ml.
    """

    def __init__(
        self, survey: Survey, scales: Sequence[ScaleFlow], source_ml: Callable[[Spot], float]
    ) -> None:
        """`source_ml`: net clay of the source before a spot."""
        self._table = _table(survey, scales, source_ml) if scales else None

    def scaled_ml(self, source_ml: float) -> float:
        """Net clay of the source, with what flow changes have added by then."""
        return source_ml if self._table is None else source_ml + float(np.interp(source_ml, *self._table))

    def scaled_all_ml(self, source_ml: Floats) -> Floats:
        """The same for many amounts, in an array of their own."""
        return source_ml + (0.0 if self._table is None else np.interp(source_ml, *self._table))

    def source_ml(self, scaled_ml: float) -> float:
        """Net clay of the source where it comes to so much with the flow changes; undoes `scaled_ml`."""
        if self._table is None:
            return scaled_ml
        own, added = self._table
        return float(np.interp(scaled_ml, own + added, own))


def _table(
    survey: Survey, scales: Sequence[ScaleFlow], source_ml: Callable[[Spot], float]
) -> tuple[Floats, Floats]:
    first = survey.layers["first_line"]
    edges = {line for scale in scales for line in (scale.first_line, scale.end_line)}
    lines = distinct(np.array([*edges, *first.tolist(), survey.lines], np.int64))
    own = np.array([source_ml(Spot(int(line))) for line in lines])
    factor = np.ones(len(lines))
    for scale in scales:
        factor[(lines >= scale.first_line) & (lines < scale.end_line)] *= scale.factor
    laid = np.array(
        [_laid_ml(survey, *at, source_ml) for at in zip(lines.tolist(), own.tolist(), strict=True)]
    )
    added = np.concatenate([[0.0], np.cumsum((factor - 1)[:-1] * np.diff(laid))])
    own = np.maximum.accumulate(own)
    return np.array([own[0] - FAR_ML, *own, own[-1] + FAR_ML]), np.array([0.0, *added, added[-1]])


def _laid_ml(survey: Survey, line: int, before_ml: float, source_ml: Callable[[Spot], float]) -> float:
    """Clay laid by the source before a line, given its net clay there."""
    layers, index = survey.layers, survey.index_at(line)
    if index < 0:
        return 0.0
    clay_ml = float(layers["clay_ml"][index])
    share = (before_ml - source_ml(survey.start_of(index))) / clay_ml if clay_ml > 0 else 0.0
    whole = float(layers["laid_ml"][:index].sum())
    return whole + float(layers["laid_ml"][index]) * min(max(share, 0.0), 1.0)
