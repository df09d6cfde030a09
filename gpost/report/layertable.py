"""The table by layer: height, clock, age of the clay, and how well each layer bears what is on it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gpost.clay.walls import margins, wall_of
from gpost.plan.intentions import Bearing
from gpost.plan.plan import Plan
from gpost.report.model import LayerTable
from gpost.supply.working import ages_s

MOST_ROWS = 1000
WORST = 3
"""So many of the least margins are always kept."""
MOST_MARGIN = 1000.0
"""A layer that bears more bears enough; where hardly any clay is laid the figure has no end."""

Floats = NDArray[np.float64]


def layer_table(plan: Plan) -> LayerTable | None:
    """The rows of a plan, at most MOST_ROWS; None for a file that lays no clay.

    Margins are given if a step says what the clay bears (`Bearing`); of several, the last one counts.
    """
    layers = plan.survey.layers
    if not len(layers):
        return None
    clock_s, age_min, margin = plan.layer_clock_s[1:], ages_s(plan) / 60, _margins(plan)
    rows = _rows(age_min, margin)
    return LayerTable(
        layer=tuple((rows + 1).tolist()),
        height_mm=_rounded(layers["height_mm"][rows], 3),
        clock_s=_rounded(clock_s[rows], 1),
        age_min=_rounded(age_min[rows], 2),
        clay_ml=_rounded(_piece_ml(plan)[rows], 3),
        margin=None if margin is None else _rounded(margin[rows], 4),
        layers_left_out=len(layers) - len(rows),
    )


def _piece_ml(plan: Plan) -> Floats:
    """Net clay of the piece when each layer is done, shape (layers,), ml."""
    first = np.append(plan.survey.layers["first_line"], plan.survey.lines + 1)
    net_ml = np.append(plan.layer_clay_ml, plan.total_ml)
    for item in plan.insertions:
        net_ml[first > item.spot.line] -= item.clay_ml
    return np.asarray(net_ml[1:] - net_ml[0])


def _margins(plan: Plan) -> Floats | None:
    """Margin of every layer as the whole plan has it, shape (layers,)."""
    said = [bearing.clay for bearing in plan.of(Bearing) if bearing.clay is not None]
    if not said:
        return None
    layers = plan.survey.layers
    done_s = np.maximum.accumulate(plan.layer_clock_s[1:])
    found = margins(wall_of(layers["height_mm"], layers["laid_ml"]), done_s, said[-1])
    return np.minimum(found, MOST_MARGIN)


def _rows(age_min: Floats, margin: Floats | None) -> NDArray[np.int64]:
    """Indices of the layers to show: all, or evenly chosen ones with the worst among them."""
    count = len(age_min)
    if count <= MOST_ROWS:
        return np.arange(count)
    worst = [int(np.argmax(age_min))]
    if margin is not None:
        worst += np.argsort(margin, kind="stable")[:WORST].tolist()
    even = np.linspace(0, count - 1, MOST_ROWS - len(worst)).round().astype(np.int64)
    return np.union1d(even, worst)


def _rounded(values: Floats, decimals: int) -> tuple[float, ...]:
    return tuple(np.round(values, decimals).tolist())
