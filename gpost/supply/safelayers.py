"""How far a cartridge goes in whole layers, when it gives less than the plan takes for granted."""

from __future__ import annotations

from typing import NamedTuple

from gpost.plan.plan import Plan
from gpost.supply.cartridges import CartridgeUse


class SafeLayer(NamedTuple):
    """The last layer that can be counted on."""

    layer: int
    """Counted from 1; 0: not even the first."""
    height_mm: float
    """Nozzle height when it is done."""
    clock_s: float
    """Machine time when it is done; waiting not counted."""


def safe_layer(plan: Plan, use: CartridgeUse, start_ml: float, reach_ml: float) -> SafeLayer | None:
    """The last whole layer for which so much of a cartridge's clay does; None: it does to its end.

    `reach_ml` is counted in what the plan meters from the cartridge's start on, which is at `start_ml` of net
    clay, with what it gives again that was drawn back.
    """
    layers = plan.survey.layers
    if reach_ml >= use.need_ml - 1e-6 or not len(layers):
        return None
    spot = plan.find_clay(start_ml + reach_ml - use.owed_ml, use.from_spot)
    if spot.line >= plan.survey.lines:
        return None
    done = max(plan.survey.index_at(spot.line), 0) if spot.line < plan.survey.laid_until else len(layers)
    return SafeLayer(
        done,
        float(layers["height_mm"][done - 1]) if done else float(layers["low_mm"][0]),
        float(plan.layer_clock_s[done]),
    )
