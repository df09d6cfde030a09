"""Layers as a potter names them, and their places in the source."""

from __future__ import annotations

import bisect
from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from gpost.errors import OddLayersError, PlanError
from gpost.plan.intentions import LayClay, Note, Pause
from gpost.spot import Spot
from gpost.survey.layerrows import HEIGHT_STEP_MM, MUCH_BESIDE_MM
from gpost.survey.model import Survey

if TYPE_CHECKING:
    from gpost.plan.plan import Plan

SAME_ML = 1e-6
"""Clay that differs by less is the same: sums of many lines are not exact."""
SAME_MM = 1e-6
"""So is path."""


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


class FoundLayer(NamedTuple):
    """A place that was asked for by layer or by height."""

    first: int
    """Index of the first layer that begins there or above it; the number of layers if none does."""
    spot: Spot
    """The layer's start; or the height itself, where a layer's start would be far from it."""


def find_layer(
    plan: Plan, layer: int | None, height_mm: float | None, *, exact: bool = False
) -> FoundLayer | None:
    """Where a layer counted from 1 starts, or the first one that counts from a height on; None above all.

    For which heights a layer counts says `Survey.counted`. With `exact`, and where the height lies inside a
    layer that is odd or tall, or inside the last one, it is the height itself. Raises OddLayersError for a
    layer where it can't be told what the layers are, unless that is allowed.
    """
    survey, count = plan.survey, len(plan.survey.layers)
    if layer is not None:
        if layer > count:
            return None
        _refuse_odd(plan, layer)
        return FoundLayer(layer - 1, survey.start_of(layer - 1))
    index = survey.first_above(height_mm or 0.0)
    is_last = index == count and _is_inside(survey, count - 1, height_mm or 0.0)
    if exact or is_last or (index > 0 and survey.loose[index - 1]):
        found = survey.spot_at(height_mm or 0.0)
        return None if found is None else FoundLayer(index, found)
    return FoundLayer(index, survey.start_of(index)) if index < count else None


def _is_inside(survey: Survey, index: int, height_mm: float) -> bool:
    """Whether something of the layer lies above the height, and something below it."""
    low_mm, high_mm = (float(survey.layers[name][index]) for name in ("low_mm", "height_mm"))
    return low_mm + HEIGHT_STEP_MM < height_mm < high_mm - HEIGHT_STEP_MM


def _refuse_odd(plan: Plan, layer: int) -> None:
    if bool(plan.survey.layers["odd"][layer - 1]) and OddLayersError.finding not in plan.allowed:
        odd = next(odd for odd in plan.survey.odd if odd.first_layer <= layer <= odd.last_layer)
        raise OddLayersError(f"layer {layer} is asked for, but {odd.text}")


def above_top_words(survey: Survey, layer: int | None, height_mm: float | None) -> str:
    """Words for what lies above the top: `60 mm is above the piece, which ends with layer 20 at 40.0 mm`."""
    asked = f"layer {layer}" if layer is not None else f"{height_mm:g} mm"
    is_top = height_mm is not None and height_mm <= survey.height_mm + HEIGHT_STEP_MM
    top = f"layer {len(survey.layers)} at {survey.height_mm:.1f} mm"
    return f"{asked} is {'the top of' if is_top else 'above'} the piece, which ends with {top}"


def above_top_note(survey: Survey, what: str, layer: int | None, height_mm: float | None) -> Note:
    """A note for what is left out: one recipe serves pieces of several heights."""
    return Note(f"{what}: {above_top_words(survey, layer, height_mm)}; it is left out")


def spread_words(survey: Survey, height_mm: float, spot: Spot) -> str:
    """Where what is asked for at a height comes, if its turn goes up and down by much; "" if it doesn't."""
    index = max(survey.index_at(spot.line), 0)
    if survey.counted.beside_mm[index] <= MUCH_BESIDE_MM:
        return ""
    low_mm, high_mm = (float(survey.layers[name][index]) for name in ("low_mm", "height_mm"))
    off_mm = max(height_mm - low_mm, high_mm - height_mm)
    return (
        f"asked for at {height_mm:g} mm, it comes in layer {index + 1}, which goes from {low_mm:.1f} to "
        f"{high_mm:.1f} mm, for the wall tilts or waves there: a height counts as the middle of a turn, and "
        f"round the wall the bead lies up to {off_mm:.0f} mm lower or higher"
    )


def spread_notes(survey: Survey, what: str, height_mm: float | None, there: FoundLayer) -> Iterator[Note]:
    """A warning of what is asked for at a height, if the turn in which it comes goes up and down by much."""
    words = "" if height_mm is None else spread_words(survey, height_mm, there.spot)
    if words:
        yield Note(f"{what}: {words}", warning=True)


def layer_end(survey: Survey, index: int) -> Spot:
    """Where the layer of that index ends: the next one's start, or where the last clay is laid."""
    return survey.start_of(index + 1) if index + 1 < len(survey.layers) else Spot(survey.laid_until)


def spot_in_layer(survey: Survey, index: int, part: float) -> Spot:
    """The spot at that part, 0 to 1, of the path that lays the clay of the layer of that index.

    0 is where its first clay is laid, 1 where the next layer starts. It may lie inside a move; clay and
    pauses that are to stand inside an arc stand before it. The layer is read again in the file. Raises
    ValueError for a part that is none.
    """
    if not 0 <= part <= 1:
        raise ValueError(f"a part of a layer is 0 to 1, not {part:g}")
    start, end = survey.start_of(index), layer_end(survey, index)
    lines, path_mm = survey.laid_path(start.line, end.line)
    if part == 1 or not len(lines):
        return end if part == 1 else start
    after_mm = np.cumsum(path_mm)
    at_mm = part * float(after_mm[-1])
    move = min(int(np.searchsorted(after_mm, at_mm + SAME_MM, side="right")), len(lines) - 1)
    share = (at_mm - float(after_mm[move] - path_mm[move])) / float(path_mm[move])
    return Spot(int(lines[move]), max(share, 0.0) if share > SAME_MM else 0.0)


def spot_words(survey: Survey, spot: Spot) -> str:
    """The spot in a potter's words: `layer 12 (24.0 mm)`."""
    if spot.line >= survey.lines:
        return "the end of the file"
    index = survey.index_at(spot.line)
    return "before layer 1" if index < 0 else f"layer {index + 1} ({survey.height_at(spot):.1f} mm)"


def nearest_layer(plan: Plan, clay_ml: float) -> int:
    """Index of the layer that starts nearest to that much net clay, what is inserted there included."""
    after = first_layer_from(plan, clay_ml)
    near = range(max(after - 1, 0), min(after + 1, len(plan.survey.layers)))
    return max(near, key=lambda index: (-round(abs(clay_from_layer(plan, index) - clay_ml), 6), index))


def clay_to_layer(plan: Plan, index: int) -> float:
    """Net clay in ml metered when the layer is reached, before what is inserted at its start."""
    return plan.clay_before(plan.survey.start_of(index))


def clay_from_layer(plan: Plan, index: int) -> float:
    """Net clay in ml metered when the layer's own first line comes, after what is inserted there."""
    return clay_past(plan, plan.survey.start_of(index))


def clay_past(plan: Plan, spot: Spot) -> float:
    """Net clay in ml metered before the spot and by all that is inserted there."""
    intentions: list[Pause | LayClay] = [*plan.of(Pause), *plan.of(LayClay)]
    return plan.clay_before(spot) + sum(
        intention.clay_ml for intention in intentions if intention.spot == spot
    )


def first_layer_from(plan: Plan, clay_ml: float) -> int:
    """Index of the first layer that starts with at least that much net clay before it."""
    layers = range(len(plan.survey.layers))
    return bisect.bisect_left(layers, clay_ml - SAME_ML, key=lambda index: clay_to_layer(plan, index))
