"""What changed flows make of net clay: between the source's amounts and the plan's, both ways."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.common.among import among, distinct
from gpost.plan.intentions import ScaleFlow
from gpost.spot import Spot
from gpost.survey.beside import aside_at
from gpost.survey.model import Survey

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
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
    laid = _laid(survey)
    edges = distinct(np.array([line for s in scales for line in (s.first_line, s.end_line)], np.int64))
    edges = edges[~among(edges, laid.line)]
    line, own, laid_ml = _with_edges(laid, edges, np.array([source_ml(Spot(int(edge))) for edge in edges]))
    factor = np.ones(len(line))
    for scale in scales:
        factor[(line >= scale.first_line) & (line < scale.end_line)] *= scale.factor
    added = np.concatenate([[0.0], np.cumsum((factor - 1)[:-1] * np.diff(laid_ml))])
    own = np.maximum.accumulate(own)
    return np.array([own[0] - FAR_ML, *own, own[-1] + FAR_ML]), np.array([0.0, *added, added[-1]])


class _Laid(NamedTuple):
    """The source's net clay before some lines, ascending, and what of it is laid; shape (k,)."""

    line: Ints
    own_ml: Floats
    laid_ml: Floats


def _laid(survey: Survey) -> _Laid:
    """Where layers begin, and where beads that are none of a layer begin and end."""
    layers, aside = survey.layers, survey.aside
    starts_ml = survey.lead_in_ml + np.cumsum(layers["clay_ml"]) - layers["clay_ml"]
    lines = (layers["first_line"], [survey.lines], aside["first_line"], aside["end_line"])
    owns = (starts_ml, [survey.clay_ml], aside["before_ml"], aside["before_ml"] + aside["clay_ml"])
    every = np.concatenate([np.asarray(part, np.int64) for part in lines])
    line, first = distinct(every), np.argsort(every, kind="stable")
    own = np.concatenate([np.asarray(part, np.float64) for part in owns])[first]
    own = own[np.searchsorted(every[first], line)]
    # each stretch between two of them is one of these beads, or a part of a layer, or lays nothing
    bead = aside_at(aside, line[:-1])
    is_bead = bead >= 0
    layer = np.where(is_bead, -1, np.searchsorted(layers["first_line"], line[:-1], side="right") - 1)
    gain = np.maximum(np.diff(own), 0.0)
    laid = np.zeros(len(gain))
    laid[is_bead] = aside["laid_ml"][bead[is_bead]]
    of_layer = layer >= 0
    whole = np.bincount(layer[of_layer], gain[of_layer], len(layers))
    parts = np.bincount(layer[of_layer], minlength=len(layers))
    which = layer[of_layer]
    evenly = 1 / np.maximum(parts[which], 1)
    share = np.where(whole[which] > 0, gain[of_layer] / np.maximum(whole[which], 1e-300), evenly)
    laid[of_layer] = layers["laid_ml"][which] * share
    return _Laid(line, own, np.append(0.0, np.cumsum(laid)))


def _with_edges(laid: _Laid, edges: Ints, own_ml: Floats) -> _Laid:
    """The same with more lines, whose net clay is given: stretches are laid evenly."""
    after = np.searchsorted(laid.line, edges)
    low, high = (np.clip(place, 0, len(laid.line) - 1) for place in (after - 1, after))
    gain = laid.own_ml[high] - laid.own_ml[low]
    share = np.clip((own_ml - laid.own_ml[low]) / np.where(gain > 0, gain, np.inf), 0.0, 1.0)
    laid_ml = laid.laid_ml[low] + share * (laid.laid_ml[high] - laid.laid_ml[low])
    new = (edges, own_ml, laid_ml)
    return _Laid(*(np.insert(column, after, more) for column, more in zip(laid, new, strict=True)))
