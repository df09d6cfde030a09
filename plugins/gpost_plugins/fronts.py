"""Where a swap must stop so that its colour arrives in time, whatever else is planned on the way."""

from __future__ import annotations

import dataclasses
from collections.abc import Collection, Iterator

from gpost.api import Pause, Plan, Spot
from gpost.supply.cartridges import change_spots, clay_at, delay_ml, front_spot
from gpost_plugins.levels import SAME_ML, clay_past, clay_to, first_from, nearest_start, place, start

ROUNDS = 10
"""How often places that hang on one another are worked out anew before giving up."""
LEAST_TOLD_MM = 0.05
LEAST_TOLD_ML = 0.05
"""A colour that is less early or late than this is in time."""


def clears_early(pause: Pause) -> bool:
    """Whether the pause comes ahead of its colour, and so hangs on all the clay in between."""
    return pause.new_cartridge and pause.shows_at is not None and pause.lay is None


def wanted(pause: Pause) -> Spot:
    """Where the pause's new clay is to show. Raises ValueError when it is for no new clay."""
    if pause.shows_at is None:
        raise ValueError("the pause brings no new colour")
    return pause.shows_at


def start_ml(plan: Plan, pause: Pause) -> float:
    """Net clay at which to stop so that the new clay shows at `shows_at`.

    `plan` is without the pause. The pause's own prime pushes the new clay on, so that much less of the
    print is needed.
    """
    ahead_ml = max(delay_ml(plan, pause) - pause.prime_ml, 0.0)
    return plan.clay_before(wanted(pause)) - ahead_ml


def early_spot(plan: Plan, pause: Pause) -> Spot:
    """The spot for a pause that is not in `plan`: exact (but before an arc), or the nearest layer's start."""
    clay_ml = start_ml(plan, pause)
    if pause.prime_ml >= delay_ml(plan, pause):
        return wanted(pause)
    there = plan.survey.index_at(plan.find_clay(clay_ml).line)
    if not pause.within_layer and not (there >= 0 and plan.survey.loose[there]):
        return start(plan.survey, nearest_start(plan, clay_ml))
    return min(plan.survey.stands_at(_whole(plan, clay_ml)), wanted(pause))


def settled(plan: Plan, leave: Collection[int] = ()) -> Plan:
    """The plan with every early swap where its colour arrives in time.

    Entries whose index is in `leave` stay where they are. Swaps that push one another are worked out
    again until nothing moves, `ROUNDS` times at most.
    """
    for _ in range(ROUNDS):
        before = plan
        for index, entry in enumerate(plan.entries):
            pause = entry.intention
            if index not in leave and isinstance(pause, Pause) and clears_early(pause):
                spot = early_spot(_without(plan, index), pause)
                if spot != pause.spot:
                    plan = with_pause(plan, index, dataclasses.replace(pause, spot=spot))
        if plan is before:
            break
    return plan


def with_pause(plan: Plan, index: int, pause: Pause) -> Plan:
    """The plan with another pause as the entry of that index."""
    entries = list(plan.entries)
    entries[index] = dataclasses.replace(entries[index], intention=pause)
    return dataclasses.replace(plan, entries=tuple(entries))


def moved(plan: Plan, trial: Plan) -> Iterator[tuple[int, Pause, Pause]]:
    """(index, before, after) of the pauses that stand elsewhere in `trial`, which begins as `plan` does."""
    for index, (old, new) in enumerate(zip(plan.entries, trial.entries, strict=False)):
        before, after = old.intention, new.intention
        if isinstance(before, Pause) and isinstance(after, Pause) and before != after:
            yield index, before, after


def lag_ml(plan: Plan, pause: Pause) -> float:
    """Net clay by which the new clay is late at `shows_at` (early: below 0).

    It is in time anywhere in what is inserted there, such as its own prime and purge: all of that runs out
    before printing goes on.
    """
    front_ml, spot = clay_at(plan, pause) + delay_ml(plan, pause), wanted(pause)
    return min(front_ml - plan.clay_before(spot), 0.0) + max(front_ml - clay_past(plan, spot), 0.0)


def asked_text(plan: Plan, pause: Pause) -> str:
    """How the place where the new clay is expected stands to the one that was asked for."""
    late_ml, survey = lag_ml(plan, pause), plan.survey
    if pause.asked_mm is None:
        if abs(late_ml) < LEAST_TOLD_ML:
            return "as asked"
        late = f"{abs(late_ml):.1f} ml {'later' if late_ml > 0 else 'earlier'}"
        return f"{late} than asked for, which was from {place(survey, wanted(pause))} on"
    spot = wanted(pause) if abs(late_ml) < LEAST_TOLD_ML else front_spot(plan, pause)
    off_mm = round(survey.height_at(spot), 1) - round(pause.asked_mm, 1)
    if abs(off_mm) < LEAST_TOLD_MM:
        return "as asked"
    return f"{abs(off_mm):.1f} mm {'above' if off_mm > 0 else 'below'} the {pause.asked_mm:g} mm asked for"


def change_text(plan: Plan, pause: Pause) -> str:
    """Where a change that the line spreads out begins, is half and is full; nothing for a plug."""
    if not plan.config.cartridge.hose.mixes:
        return ""
    begins, half, full = (place(plan.survey, spot) for spot in change_spots(plan, pause))
    return f"; it starts to show (5 %) at {begins}, is half at {half}, is full (95 %) at {full}"


def _without(plan: Plan, index: int) -> Plan:
    return dataclasses.replace(plan, entries=plan.entries[:index] + plan.entries[index + 1 :])


def _whole(plan: Plan, clay_ml: float) -> Spot:
    """The spot of that much clay, at a layer's start if it is one but for rounding."""
    index = first_from(plan, clay_ml)
    if index < len(plan.survey.layers) and abs(clay_to(plan, index) - clay_ml) < SAME_ML:
        return start(plan.survey, index)
    return plan.find_clay(clay_ml)
