"""Which clay is where: cartridge by cartridge, and colour by colour as it reaches the nozzle.

What leaves the cartridge pushes everything in the line forward: as a plug, so that clay reaches the nozzle
when one hose volume more has been metered, or mixed in stages, as the config's line is
(`gpost.clay.mixing`).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gpost.clay.mixing import BEGINS, FULL, HALF
from gpost.plan.intentions import Pause
from gpost.plan.plan import Plan
from gpost.spot import START, Spot


class CartridgeUse(NamedTuple):
    """What the job takes out of one cartridge."""

    number: int
    """Counted from 1, in the order of loading."""
    colour: str
    from_spot: Spot
    clay_ml: float
    """Net clay that leaves it; those of all cartridges add up to the job's."""
    wet_g: float
    need_ml: float
    """The highest that the sum of E gets while it is in use: so much must be there to be pushed.

    It is more than `clay_ml` where clay is drawn back at the end, or was drawn back at the pause before the
    cartridge was loaded, and is given again out of it.
    """
    usable_ml: float
    """Clay in it that may be counted on."""
    over_ml: float
    """What `need_ml` is beyond that; 0 when it is enough."""


def clay_at(plan: Plan, pause: Pause) -> float:
    """Net clay in ml metered when the machine stops for the pause, before its own prime.

    Raises ValueError when the pause is not in the plan.
    """
    for item in plan.insertions:
        if item.intention is pause:
            return item.start_ml
    raise ValueError("the pause is not in the plan")


def front_spot(plan: Plan, pause: Pause) -> Spot:
    """Where the clay of the cartridge loaded in this pause reaches the nozzle.

    The pause's own spot when its prime and lay empty the line; the end of the file when the new clay
    never shows. Raises ValueError when the pause is not in the plan.
    """
    return _share_spot(plan, pause, pause.shows_share)


def change_spots(plan: Plan, pause: Pause) -> tuple[Spot, Spot, Spot]:
    """Where the clay of the cartridge loaded in this pause starts to show, is half, is full.

    Raises ValueError when the pause is not in the plan.
    """
    begins, half, full = (_share_spot(plan, pause, share) for share in (BEGINS, HALF, FULL))
    return begins, half, full


def air_spot(plan: Plan, pause: Pause) -> Spot | None:
    """Where air that came in with the cartridge loaded in this pause reaches the nozzle: a hose volume later.

    None where no cartridge is loaded, where it comes out beside the piece with what is run out there, and
    where it never does. Raises ValueError when the pause is not in the plan.
    """
    if not pause.new_cartridge:
        return None
    found = change_spots(plan, pause)[1]
    beside = found == pause.spot and pause.clay_ml > 0
    return None if beside or found.line >= plan.survey.lines else found


def _share_spot(plan: Plan, pause: Pause, share: float) -> Spot:
    pushed_ml = plan.config.cartridge.hose.pushed_ml(share)
    return plan.find_clay(clay_at(plan, pause) + pushed_ml, pause.spot)


def shares(plan: Plan, clay_ml: ArrayLike) -> dict[str, NDArray[np.float64]]:
    """Share of each colour at the nozzle at those net clays (ml, as `plan.clay_before`), in loading order.

    The hose holds the first colour at the start. The shares are of the shape of `clay_ml`; they add up to 1.
    """
    line, at_ml = plan.config.cartridge.hose, np.asarray(clay_ml, dtype=np.float64)
    loads = list(_loads(plan))
    arrived = [line.new_share(at_ml - load.start_ml) for load in loads[1:]]
    arrived = [np.ones_like(at_ml), *arrived, np.zeros_like(at_ml)]
    found: dict[str, NDArray[np.float64]] = {}
    for load, own, following in zip(loads, arrived[:-1], arrived[1:], strict=True):
        found[load.colour] = found.get(load.colour, np.zeros_like(at_ml)) + (own - following)
    return found


def cartridges(plan: Plan) -> list[CartridgeUse]:
    """Use of each cartridge, in the order of loading: what it must hold is said here, and nowhere else."""
    density = plan.config.clay.wet_density_g_ml
    loads, items = list(_loads(plan)), plan.insertions
    found = []
    for number, (load, following) in enumerate(itertools.zip_longest(loads, loads[1:]), 1):
        clay_ml = (plan.total_ml if following is None else following.start_ml) - load.start_ml
        end, last = (
            (Spot(plan.survey.lines), None) if following is None else (following.spot, following.place)
        )
        pushed_ml = [item.start_ml + item.clay_ml for item in items[load.place : last]]
        if end > load.spot:
            pushed_ml.append(plan.most_clay(load.spot, end))
        need_ml = max(pushed_ml, default=load.start_ml) - load.start_ml + load.owed_ml
        over_ml = max(need_ml - load.usable_ml, 0.0)
        found.append(
            CartridgeUse(
                number, load.colour, load.spot, clay_ml, clay_ml * density, need_ml, load.usable_ml, over_ml
            )
        )
    return found


def running_out(plan: Plan, more_than_ml: float) -> Iterator[tuple[CartridgeUse, Spot]]:
    """The cartridges that are asked for that much more than they have, and where each runs out."""
    for use, load in zip(cartridges(plan), _loads(plan), strict=True):
        if use.over_ml > more_than_ml:
            yield use, plan.find_clay(load.start_ml + load.usable_ml - load.owed_ml, load.spot)


def line_at_end(plan: Plan) -> dict[str, float]:
    """Clay in ml of each colour that the hose holds after the job, the last loaded first; as a plug."""
    left_ml = plan.config.cartridge.line_ml
    found: dict[str, float] = {}
    before = (plan.config.clay.colour, left_ml)
    for colour, clay_ml in [*((use.colour, use.clay_ml) for use in reversed(cartridges(plan))), before]:
        if left_ml > 1e-9:
            found[colour] = found.get(colour, 0.0) + min(clay_ml, left_ml)
            left_ml -= clay_ml
    return found


def reach_ml(plan: Plan, pause: Pause | None) -> float:
    """Net clay, from the pause on, for which the cartridge loaded in it does; None: the first cartridge.

    What is in it, less the reserve, and less what it gives again that was drawn back before the pause.
    """
    cartridge = plan.config.cartridge
    if pause is None:
        return cartridge.usable_of_ml(cartridge.first_ml)
    return cartridge.usable_of_ml(pause.load_ml) - owed_ml(plan)


def owed_ml(plan: Plan) -> float:
    """Clay in ml that is drawn back before every pause and given again after it; none where there is no E."""
    has_e = plan.config.clay.metering.unit != "path"
    return plan.config.machine.pause.relieve_ml if has_e else 0.0


def colours(
    plan: Plan, start: Spot | None = None, end: Spot | None = None, *, purges: bool = False
) -> dict[str, float]:
    """Clay in ml of each colour that leaves the nozzle in the piece, in the order of showing.

    `start` (layer 1 when None) and `end` (the end of the file) narrow it to a stretch. `purges` counts
    what is run out beside the piece in pauses and purges as well.
    """
    layers = plan.survey.layers
    if start is None:
        start = Spot(int(layers["first_line"][0])) if len(layers) else Spot(0)
    low_ml = plan.clay_before(start)
    high_ml = plan.total_ml if end is None else plan.clay_before(end)
    found: dict[str, float] = {}
    for from_ml, to_ml in _stretches(plan, low_ml, high_ml, purges=purges):
        for colour, colour_ml in _left_ml(plan, from_ml, to_ml):
            if colour_ml > 1e-9:
                found[colour] = found.get(colour, 0.0) + colour_ml
    return found


class _Load(NamedTuple):
    """A cartridge that is loaded."""

    spot: Spot
    start_ml: float
    """Net clay before."""
    colour: str
    usable_ml: float
    owed_ml: float
    """What it gives again that was drawn back before."""
    place: int
    """Of its pause among the insertions."""


def _loads(plan: Plan) -> Iterator[_Load]:
    """The cartridges in the order of loading."""
    cartridge, colour = plan.config.cartridge, plan.config.clay.colour
    yield _Load(START, 0.0, colour, cartridge.usable_of_ml(cartridge.first_ml), 0.0, 0)
    for index, item in enumerate(plan.insertions):
        if isinstance(item.intention, Pause) and item.intention.new_cartridge:
            colour = item.intention.colour if item.intention.colour is not None else colour
            usable_ml = cartridge.usable_of_ml(item.intention.load_ml)
            yield _Load(item.spot, item.start_ml, colour, usable_ml, owed_ml(plan), index)


def _left_ml(plan: Plan, from_ml: float, to_ml: float) -> Iterator[tuple[str, float]]:
    """(colour, ml of it that leave the nozzle between the two), cartridge by cartridge."""
    line, loads = plan.config.cartridge.hose, list(_loads(plan))
    edges = np.array([from_ml, to_ml])
    past = [float(np.diff(line.new_ml(edges - load.start_ml))[0]) for load in loads[1:]]
    past = [to_ml - from_ml, *past, 0.0]
    for load, own, following in zip(loads, past[:-1], past[1:], strict=True):
        yield load.colour, own - following


def _stretches(plan: Plan, low_ml: float, high_ml: float, *, purges: bool) -> Iterator[tuple[float, float]]:
    """Pieces of the net clay between the two that count: all of it, or what is not inserted."""
    at_ml = low_ml
    for item in [] if purges else plan.insertions:
        if item.start_ml + item.clay_ml <= low_ml or item.start_ml >= high_ml:
            continue
        if item.start_ml > at_ml:
            yield at_ml, item.start_ml
        at_ml = max(at_ml, item.start_ml + item.clay_ml)
    if at_ml < high_ml:
        yield at_ml, high_ml
