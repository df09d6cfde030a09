"""Where a pause must stand so that its clay shows in time, whatever else is planned on the way."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from gpost.plan.intentions import Intention, LayClay, MovePause, Pause, ScaleFlow, SilencePush
from gpost.plan.layers import SAME_ML, clay_to_layer, first_layer_from, nearest_layer
from gpost.plan.starts import starts
from gpost.spot import Spot

if TYPE_CHECKING:
    from gpost.plan.plan import Plan

ROUNDS = 10
"""How often places that hang on one another are worked out anew before giving up."""


def wanted(pause: Pause) -> Spot:
    """Where the pause's new clay is to show. Raises ValueError when it is for no new clay."""
    if pause.shows_at is None:
        raise ValueError("the pause brings no new colour")
    return pause.shows_at


def delay_ml(plan: Plan, pause: Pause) -> float:
    """Net clay from the pause on until its new clay counts as showing at the nozzle, ml.

    What has to be pushed through the hose, and what the start after the pause loses.
    """
    cartridge = plan.config.cartridge
    return cartridge.hose.pushed_ml(pause.shows_share) + cartridge.start_loss_ml


def start_ml(plan: Plan, pause: Pause) -> float:
    """Net clay at which to stop so that the new clay shows at `shows_at`.

    `plan` is without the pause. What runs out in the pause itself pushes the new clay on, so that much
    less of the print is needed.
    """
    ahead_ml = max(delay_ml(plan, pause) - pause.clay_ml, 0.0)
    return starts(plan).before(plan.clay_before(wanted(pause)), ahead_ml)


def early_spot(plan: Plan, pause: Pause) -> Spot:
    """The spot for a pause that is not in `plan`: exact (but before an arc), or the nearest layer's start."""
    clay_ml = start_ml(plan, pause)
    if pause.clay_ml >= delay_ml(plan, pause):
        return wanted(pause)
    there = plan.survey.index_at(plan.find_clay(clay_ml).line)
    if not pause.within_layer and not (there >= 0 and plan.survey.loose[there]):
        return plan.survey.start_of(nearest_layer(plan, clay_ml))
    return min(plan.survey.stands_at(_whole(plan, clay_ml)), wanted(pause))


def pushes_on(added: Iterable[Intention], *, losing: bool) -> str:
    """How what is added makes clay come sooner or later, in words; "" if it doesn't.

    `losing`: each start loses clay.
    """
    added = list(added)
    pushes = [
        intention
        for intention in added
        if isinstance(intention, LayClay | ScaleFlow | SilencePush | MovePause)
    ]
    pauses = [
        intention
        for intention in added
        if isinstance(intention, Pause) and (intention.new_cartridge or intention.clay_ml)
    ]
    coloured = next((pause for pause in pauses if pause.colour is not None), None)
    if coloured is not None:
        return f"the {coloured.kind} to {coloured.colour} pushes its clay on"
    if pauses:
        return f"the primes of {pauses[0].kind}s on the way push its clay on"
    if losing and any(isinstance(intention, Pause) for intention in added):
        return "the starts after pauses on the way lose clay"
    return "more or less clay runs on the way" if pushes else ""


def in_time(plan: Plan) -> Plan:
    """The plan with every pause that is to be in time where its clay shows as it is asked for.

    Pauses that push one another are worked out again until nothing moves, `ROUNDS` times at most.
    """
    if not len(plan.survey.layers):
        return plan
    for _ in range(ROUNDS):
        before = plan
        for index, entry in enumerate(plan.entries):
            pause = entry.intention
            if isinstance(pause, Pause) and pause.in_time:
                spot = plan.survey.stands_at(early_spot(_without(plan, index), pause))
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


def moved(plan: Plan, later: Plan) -> Iterator[tuple[int, Pause, Pause]]:
    """(index, before, after) of the pauses that stand elsewhere in `later`, which begins as `plan` does."""
    for index, (old, new) in enumerate(zip(plan.entries, later.entries, strict=False)):
        before, after = old.intention, new.intention
        if isinstance(before, Pause) and isinstance(after, Pause) and before != after:
            yield index, before, after


def _without(plan: Plan, index: int) -> Plan:
    return dataclasses.replace(plan, entries=plan.entries[:index] + plan.entries[index + 1 :])


def _whole(plan: Plan, clay_ml: float) -> Spot:
    """The spot of that much clay, at a layer's start if it is one but for rounding."""
    index = first_layer_from(plan, clay_ml)
    if index < len(plan.survey.layers) and abs(clay_to_layer(plan, index) - clay_ml) < SAME_ML:
        return plan.survey.start_of(index)
    return plan.find_clay(clay_ml)
