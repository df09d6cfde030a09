"""Where cartridges change in a stretch of print: each to its end, or equal shares."""

from __future__ import annotations

from typing import NamedTuple

from gpost.errors import PlanError
from gpost.plan.layers import (
    SAME_ML,
    clay_from_layer,
    clay_past,
    first_layer_from,
    nearest_layer,
    spot_words,
)
from gpost.plan.plan import Plan
from gpost.spot import Spot

MOST_REFILLS = 200
"""More in one stretch are a mistake in the numbers, and would take for ever."""


class Stretch(NamedTuple):
    """Print between two fixed changes of cartridge, in net clay of a plan without the refills."""

    spot: Spot
    """Where its first cartridge is loaded."""
    start_ml: float
    end: Spot
    """Where the next is loaded that is no refill, or the end of the file."""
    end_ml: float
    first_ml: float
    """Clay for which its first cartridge does, from `start_ml` on."""
    refill_ml: float
    """The same for a refilled one, less its prime."""
    prime_ml: float
    """Clay of a refilled one that does not go on: its prime, and what was drawn back before it."""

    def most_ml(self, plan: Plan, since: Spot) -> float:
        """The highest that net clay gets between a spot and its end."""
        return max(self.end_ml, plan.most_clay(since, self.end))


def full_places(plan: Plan, stretch: Stretch, *, within_layer: bool) -> list[Spot]:
    """As few refills as do, each as late as can be.

    Raises PlanError when the clay runs out before a layer's start and `within_layer` is off.
    """
    places: list[Spot] = []
    if stretch.end == stretch.spot:  # a stopped print goes on with the change that was due there
        return places
    after, limit_ml = stretch.spot, stretch.start_ml + stretch.first_ml
    while stretch.most_ml(plan, after) > limit_ml + SAME_ML:
        after = _last_place(plan, limit_ml, after, within_layer=within_layer)
        places.append(after)
        if len(places) > MOST_REFILLS:
            raise PlanError(
                f"more than {MOST_REFILLS} refills would be needed; look whether `clay: metering` and the "
                "cartridge's volume_ml are right"
            )
        limit_ml = plan.clay_before(after) + stretch.refill_ml
    return places


def even_places(plan: Plan, stretch: Stretch, full: list[Spot]) -> list[Spot]:
    """As many refills as `full`, at the layers' starts nearest to equal use of every cartridge.

    `full` itself if any of it lies inside a layer: there is no room for choice then.
    """
    if not full or any(plan.survey.start_of(plan.survey.index_at(spot.line)) != spot for spot in full):
        return full
    places: list[Spot] = []
    limit_ml, after = stretch.start_ml + stretch.first_ml, stretch.spot
    ideals = _ideals_ml(plan, stretch, len(full))
    for ideal_ml, earliest in zip(ideals, _earliest(plan, stretch, len(full)), strict=True):
        latest = plan.survey.index_at(_last_place(plan, limit_ml, after, within_layer=False).line)
        earliest = max(earliest, plan.survey.index_at(after.line) + 1, 1)
        index = min(max(nearest_layer(plan, ideal_ml), earliest), latest)
        after = plan.survey.start_of(index)
        places.append(after)
        limit_ml = plan.clay_before(after) + stretch.refill_ml
    return places


def _ideals_ml(plan: Plan, stretch: Stretch, refills: int) -> list[float]:
    """Net clay at which to change so that all give alike, primes counted; the first at most what it has."""
    prime_ml = stretch.prime_ml
    total_ml = stretch.most_ml(plan, stretch.spot) - stretch.start_ml + refills * prime_ml
    first_ml = min(stretch.first_ml, total_ml / (refills + 1))
    each_ml = (total_ml - first_ml) / refills - prime_ml
    return [stretch.start_ml + first_ml + number * each_ml for number in range(refills)]


def _earliest(plan: Plan, stretch: Stretch, refills: int) -> list[int]:
    """Earliest layer for each refill such that those after it still reach the stretch's end."""
    need_ml, found = stretch.most_ml(plan, stretch.spot), []
    for _ in range(refills):
        index = first_layer_from(plan, need_ml - stretch.refill_ml)
        found.append(index)
        need_ml = max(clay_from_layer(plan, index), plan.most_clay(stretch.spot, plan.survey.start_of(index)))
    return found[::-1]


def _last_place(plan: Plan, limit_ml: float, after: Spot, *, within_layer: bool) -> Spot:
    """The last layer's start beyond `after`, not the first layer's, with at most `limit_ml` before it."""
    index = plan.survey.index_at(plan.find_clay(limit_ml + SAME_ML, after).line)
    if index >= 0 and clay_from_layer(plan, index) > limit_ml + SAME_ML:
        index -= 1  # what is laid at the layer's start is too much already
    if index >= 1 and plan.survey.start_of(index) > after:
        return plan.survey.start_of(index)
    spot = plan.survey.stands_at(plan.find_clay(limit_ml, after))
    inside = index >= 0 and spot > after and clay_past(plan, spot) <= limit_ml + SAME_ML
    if within_layer and inside:
        return spot
    raise PlanError(_too_short(plan, limit_ml, after, index, within_layer=within_layer))


def _too_short(plan: Plan, limit_ml: float, after: Spot, index: int, *, within_layer: bool) -> str:
    """The sentence for clay that runs out where no pause may be."""
    survey = plan.survey
    if index < 0:
        return (
            f"{clay_from_layer(plan, 0):.1f} ml are run out before layer 1 is begun, but only "
            f"{limit_ml:.1f} ml of the first cartridge can be counted on; load a fuller one "
            f"(cartridge: first_ml), or purge less"
        )
    loaded = (
        "the first cartridge" if after == Spot(0) else f"the cartridge loaded at {spot_words(survey, after)}"
    )
    spot = plan.find_clay(limit_ml, after)
    if within_layer and survey.stands_at(spot) != spot:
        return (
            f"{loaded} runs out on line {spot.line + 1}, in {spot_words(survey, spot)}, whose move can't be "
            "split for a pause and takes more than is left for it; load more, use a larger cartridge, or "
            "export the piece without arcs"
        )
    return (
        f"{loaded} runs out in {spot_words(survey, spot)}, before the next layer "
        f"starts; load more, use a larger cartridge, or allow a pause inside a layer (within_layer: true)"
    )
