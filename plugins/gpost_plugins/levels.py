"""Layers as a potter names them, and their places in the source."""

from __future__ import annotations

import bisect
from typing import NamedTuple

from gpost.api import LayClay, Note, OddLayersError, Pause, Plan, PlanError, Spot, Survey

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


class Reached(NamedTuple):
    """A place that was asked for by layer or by height."""

    first: int
    """Index of the first layer that begins there or above it; the number of layers if none does."""
    spot: Spot
    """The layer's start; or the height itself, where a layer's start would be far from it."""


def reached(plan: Plan, layer: int | None, height_mm: float | None, *, exact: bool = False) -> Reached | None:
    """Where a layer counted from 1 starts, or the first one that lies at or above a height; None above all.

    With `exact`, and where the height lies inside a layer that is odd or tall, it is the height itself.
    Raises OddLayersError for a layer where it can't be told what the layers are, unless that is allowed.
    """
    survey = plan.survey
    if layer is not None:
        if layer > len(survey.layers):
            return None
        _refuse_odd(plan, layer)
        return Reached(layer - 1, survey.start_of(layer - 1))
    index = survey.first_above(height_mm or 0.0)
    if exact or (index > 0 and survey.loose[index - 1]):
        found = survey.spot_at(height_mm or 0.0)
        return None if found is None else Reached(index, found)
    return Reached(index, survey.start_of(index)) if index < len(survey.layers) else None


def _refuse_odd(plan: Plan, layer: int) -> None:
    if bool(plan.survey.layers["odd"][layer - 1]) and OddLayersError.finding not in plan.allowed:
        odd = next(odd for odd in plan.survey.odd if odd.first_layer <= layer <= odd.last_layer)
        raise OddLayersError(f"layer {layer} is asked for, but {odd.text}")


def too_high(survey: Survey, layer: int | None, height_mm: float | None) -> str:
    """Words for what lies above the top: `60 mm is above the piece, which ends with layer 20 at 40.0 mm`."""
    asked = f"layer {layer}" if layer is not None else f"{height_mm:g} mm"
    top = f"layer {len(survey.layers)} at {survey.height_mm:.1f} mm"
    return f"{asked} is above the piece, which ends with {top}"


def above_top(survey: Survey, what: str, layer: int | None, height_mm: float | None) -> Note:
    """A note for what is left out: one recipe serves pieces of several heights."""
    return Note(f"{what}: {too_high(survey, layer, height_mm)}; it is left out")


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
    return plan.clay_before(spot) + sum(wish.clay_ml for wish in wishes if wish.spot == spot)


def first_from(plan: Plan, clay_ml: float) -> int:
    """Index of the first layer that starts with at least that much net clay before it."""
    layers = range(len(plan.survey.layers))
    return bisect.bisect_left(layers, clay_ml - SAME_ML, key=lambda index: clay_to(plan, index))
