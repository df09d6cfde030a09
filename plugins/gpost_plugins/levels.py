"""Layers as a potter names them, and their places in the source."""

from __future__ import annotations

import bisect

from gpost.api import LayClay, Pause, Plan, PlanError, Spot, Survey
from gpost.clay.supply import inserted_ml

SAME_ML = 1e-6
"""Clay that differs by less is the same: sums of many lines are not exact."""


def need_layers(survey: Survey) -> None:
    """Raise PlanError unless there are layers."""
    if not len(survey.layers):
        raise PlanError("no clay is laid in this file, so it has no layers to go by")


def need_one_piece(survey: Survey) -> None:
    """Raise PlanError unless there is one piece, with layers."""
    need_layers(survey)
    if survey.pieces > 1:
        raise PlanError(
            f"{survey.pieces} pieces are printed one after the other, so a height is not one "
            f"place; slice one piece a file, or leave this step out"
        )


def layer_at(survey: Survey, layer: int | None, height_mm: float | None) -> int:
    """Index of the layer counted from 1, or of the first one that lies at or above the height.

    Raises PlanError when the piece has no such layer.
    """
    if layer is not None:
        if layer > len(survey.layers):
            raise PlanError(f"layer {layer} is asked for, but {_top(survey)}; choose a lower one")
        return layer - 1
    index = survey.first_above(height_mm or 0.0)
    if index == len(survey.layers):
        raise PlanError(f"{height_mm:g} mm is asked for, but {_top(survey)}; choose a lower height")
    return index


def spot_at(survey: Survey, layer: int | None, height_mm: float | None, *, exact: bool = False) -> Spot:
    """Where the layer counted from 1 starts, or the first one that lies at or above the height.

    With `exact`, and where the height lies inside a layer that is odd or tall, the height itself. Raises
    PlanError when the piece has no such layer.
    """
    if height_mm is not None:
        index = survey.first_above(height_mm)
        if exact or (index > 0 and survey.loose[index - 1]):
            found = survey.spot_at(height_mm)
            if found is not None:
                return found
    return survey.start_of(layer_at(survey, layer, height_mm))


def start(survey: Survey, index: int) -> Spot:
    """Where the layer starts."""
    return survey.start_of(index)


def index_of(survey: Survey, spot: Spot) -> int:
    """Index of the layer that holds the spot; -1 before the first."""
    return survey.index_at(spot.line)


def place(survey: Survey, spot: Spot) -> str:
    """The spot in a potter's words: `layer 12 (24.0 mm)`."""
    if spot.line >= survey.lines:
        return "the end of the file"
    index = index_of(survey, spot)
    return "before layer 1" if index < 0 else f"layer {index + 1} ({survey.height_at(spot):.1f} mm)"


def nearest_start(plan: Plan, clay_ml: float) -> int:
    """Index of the layer that starts nearest to that much net clay, what is inserted there included."""
    after = first_from(plan, clay_ml)
    near = range(max(after - 1, 0), min(after + 1, len(plan.survey.layers)))
    return max(near, key=lambda index: (-round(abs(clay_from(plan, index) - clay_ml), 6), index))


def clay_to(plan: Plan, index: int) -> float:
    """Net clay in ml metered when the layer is reached, before what is inserted at its start."""
    return plan.clay_before(start(plan.survey, index))


def clay_from(plan: Plan, index: int) -> float:
    """Net clay in ml metered when the layer's own first line comes, after what is inserted there."""
    return clay_past(plan, start(plan.survey, index))


def clay_past(plan: Plan, spot: Spot) -> float:
    """Net clay in ml metered before the spot and by all that is inserted there."""
    wishes: list[Pause | LayClay] = [*plan.of(Pause), *plan.of(LayClay)]
    return plan.clay_before(spot) + sum(inserted_ml(wish) for wish in wishes if wish.spot == spot)


def first_from(plan: Plan, clay_ml: float) -> int:
    """Index of the first layer that starts with at least that much net clay before it."""
    layers = range(len(plan.survey.layers))
    return bisect.bisect_left(layers, clay_ml - SAME_ML, key=lambda index: clay_to(plan, index))


def _top(survey: Survey) -> str:
    return f"the piece ends with layer {len(survey.layers)} at {survey.height_mm:.1f} mm"
