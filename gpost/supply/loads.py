"""The cartridges of a plan as they are loaded, and what each must give, whatever clay is in them."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import NamedTuple

from gpost.config.cartridge import Cartridge
from gpost.plan.intentions import Pause, Restart
from gpost.plan.once import once
from gpost.plan.plan import Plan
from gpost.spot import START, Spot


class Load(NamedTuple):
    """A cartridge that is loaded."""

    spot: Spot
    start_ml: float
    """Net clay before."""
    colour: str
    """The clay that the config or a pause names."""
    usable_ml: float
    """Clay in it that may be counted on."""
    held_ml: float
    """Clay in it, its reserve included."""
    weighed: bool
    """Whether it is less than full, and so weighed in."""
    owed_ml: float
    """What it gives again that was drawn back before."""
    place: int
    """Of its pause among the insertions."""
    number: int
    """From the config's `first_number` on; a cartridge that stays on where a print goes on keeps its own."""
    stays_on: bool = False
    """Whether it was on already, and the stopped print goes on with it."""
    said_ml: float | None = None
    """What is said to be in it: by the config, a pause, or where it goes on; None: nobody says."""


class Need(NamedTuple):
    """What is asked of a cartridge."""

    load: Load
    clay_ml: float
    """Net clay that leaves it; those of all cartridges add up to the job's."""
    need_ml: float
    """The highest that the sum of E gets while it is in use: so much must be there to be pushed.

    It is more than `clay_ml` where clay is drawn back at the end, or was drawn back at the pause before the
    cartridge was loaded, and is given again out of it.
    """


def clay_at(plan: Plan, pause: Pause) -> float:
    """Net clay in ml metered when the machine stops for the pause, before its own prime.

    Raises ValueError when the pause is not in the plan.
    """
    for item in plan.insertions:
        if item.intention is pause:
            return item.start_ml
    raise ValueError("the pause is not in the plan")


def owed_ml(plan: Plan) -> float:
    """Clay in ml that is drawn back before every pause and given again after it; none where there is no E."""
    has_e = plan.config.clay.metering.unit != "path"
    return plan.config.machine.pause.relieve_ml if has_e else 0.0


@once
def loads(plan: Plan) -> tuple[Load, ...]:
    """The cartridges in the order of loading."""
    return tuple(_loads(plan))


def _loads(plan: Plan) -> Iterator[Load]:
    cartridge, colour = plan.config.cartridge, plan.config.clay.colour
    number, first_ml = cartridge.first_number, cartridge.first_ml
    yield Load(START, 0.0, colour, *what_is_in(cartridge, first_ml), 0.0, 0, number, said_ml=first_ml)
    for index, item in enumerate(plan.insertions):
        if isinstance(item.intention, Pause) and item.intention.new_cartridge:
            colour = item.intention.colour if item.intention.colour is not None else colour
            held, said_ml = what_is_in(cartridge, item.intention.load_ml), item.intention.load_ml
            stays_on = isinstance(item.intention, Restart)
            if isinstance(item.intention, Restart) and item.intention.told_ml is not None:
                said_ml = item.intention.told_ml
            number += not stays_on
            owed = 0.0 if stays_on else owed_ml(plan)
            yield Load(item.spot, item.start_ml, colour, *held, owed, index, number, stays_on, said_ml)


def on_from(plan: Plan) -> int:
    """Place, in the order of loading, of the cartridge with which the job begins; a rest's is on already."""
    return max((at for at, load in enumerate(loads(plan)) if load.stays_on), default=0)


def since_ml(plan: Plan) -> float:
    """Net clay at which the job begins: 0, or where a stopped print goes on."""
    return 0.0 if plan.restart is None else clay_at(plan, plan.restart)


def what_is_in(cartridge: Cartridge, held_ml: float | None) -> tuple[float, float, bool]:
    """(ml to count on, ml held, whether they are weighed in) of so much clay in a cartridge; None: full."""
    full = held_ml is None or held_ml >= cartridge.volume_ml
    return cartridge.usable_of_ml(held_ml), cartridge.volume_ml if held_ml is None else held_ml, not full


@once
def needs(plan: Plan) -> tuple[Need, ...]:
    """What is asked of each cartridge, in the order of loading."""
    return tuple(_needs(plan))


def _needs(plan: Plan) -> Iterator[Need]:
    found, items = loads(plan), plan.insertions
    for load, following in itertools.zip_longest(found, found[1:]):
        clay_ml = (plan.total_ml if following is None else following.start_ml) - load.start_ml
        end, last = (
            (Spot(plan.survey.lines), None) if following is None else (following.spot, following.place)
        )
        pushed_ml = [item.start_ml + item.clay_ml for item in items[load.place : last]]
        if end > load.spot:
            pushed_ml.append(plan.most_clay(load.spot, end))
        yield Need(load, clay_ml, max(pushed_ml, default=load.start_ml) - load.start_ml + load.owed_ml)


def spans(plan: Plan) -> Iterator[tuple[float, float]]:
    """Net clay from which and up to which each cartridge is asked for clay.

    What is drawn back has passed before, so a cartridge's clay is asked for beyond where the next one starts.
    """
    for load, _, need_ml in needs(plan):
        low_ml = load.start_ml - load.owed_ml
        yield low_ml, low_ml + need_ml
