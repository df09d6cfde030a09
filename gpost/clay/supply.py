"""Which clay is where: cartridge by cartridge, and colour by colour as it reaches the nozzle.

What leaves the cartridge pushes everything in the line forward: as a plug, so that clay reaches the nozzle
when one line volume more has been metered, or mixed in stages, as the config's line is
(`gpost.clay.mixing`).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gpost.clay.mixing import BEGINS, FULL, HALF, Line
from gpost.plan.intentions import LayClay, Pause
from gpost.plan.plan import Plan
from gpost.spot import Spot


class Insertion(NamedTuple):
    """Clay that the plan adds at one spot: a pause's prime and lay, or a purge."""

    spot: Spot
    start_ml: float
    """Net clay metered before it."""
    clay_ml: float
    wish: Pause | LayClay


class CartridgeUse(NamedTuple):
    """What the job takes out of one cartridge."""

    number: int
    """Counted from 1, in the order of loading."""
    colour: str
    from_spot: Spot
    clay_ml: float
    wet_g: float
    usable_ml: float
    """Clay in it that may be counted on."""
    over_ml: float
    """Clay asked of it beyond that; 0 when it is enough."""


def insertions(plan: Plan) -> list[Insertion]:
    """Everything that adds clay, in printing order; at one spot in the order in which it was wished."""
    wishes = [entry.intention for entry in plan.entries if isinstance(entry.intention, Pause | LayClay)]
    found: list[Insertion] = []
    for wish in sorted(wishes, key=lambda wish: wish.spot):
        start_ml = plan.clay_before(wish.spot)
        if found and found[-1].spot == wish.spot:
            start_ml = found[-1].start_ml + found[-1].clay_ml
        found.append(Insertion(wish.spot, start_ml, inserted_ml(wish), wish))
    return found


def inserted_ml(wish: Pause | LayClay) -> float:
    """Clay in ml that runs where the wish is carried out."""
    if isinstance(wish, LayClay):
        return wish.clay_ml
    return wish.prime_ml + (wish.lay.clay_ml if wish.lay is not None else 0.0)


def clay_at(plan: Plan, pause: Pause) -> float:
    """Net clay in ml metered when the machine stops for the pause, before its own prime.

    Raises ValueError when the pause is not in the plan.
    """
    for item in insertions(plan):
        if item.wish is pause:
            return item.start_ml
    raise ValueError("the pause is not in the plan")


def front_spot(plan: Plan, pause: Pause) -> Spot:
    """Where the clay of the cartridge loaded in this pause reaches the nozzle.

    The pause's own spot when its prime and lay empty the line; the end of the file when the new clay
    never shows. Raises ValueError when the pause is not in the plan.
    """
    return _share_spot(plan, pause, pause.shows_share)


def delay_ml(plan: Plan, pause: Pause) -> float:
    """Clay to push from the pause's new cartridge until it counts as showing at the nozzle, ml."""
    return Line.of(plan.config.cartridge).pushed_ml(pause.shows_share)


def change_spots(plan: Plan, pause: Pause) -> tuple[Spot, Spot, Spot]:
    """Where the clay of the cartridge loaded in this pause starts to show, is half, is full.

    Raises ValueError when the pause is not in the plan.
    """
    begins, half, full = (_share_spot(plan, pause, share) for share in (BEGINS, HALF, FULL))
    return begins, half, full


def _share_spot(plan: Plan, pause: Pause, share: float) -> Spot:
    pushed_ml = Line.of(plan.config.cartridge).pushed_ml(share)
    return max(pause.spot, plan.find_clay(clay_at(plan, pause) + pushed_ml))


def shares(plan: Plan, clay_ml: ArrayLike) -> dict[str, NDArray[np.float64]]:
    """Share of each colour at the nozzle at those net clays (ml, as `plan.clay_before`), in loading order.

    The line holds the first colour at the start. The shares are of the shape of `clay_ml`; they add up to 1.
    """
    line, at_ml = Line.of(plan.config.cartridge), np.asarray(clay_ml, dtype=np.float64)
    loads = list(_loads(plan))
    arrived = [line.new_share(at_ml - start_ml) for _, start_ml, _, _ in loads[1:]]
    arrived = [np.ones_like(at_ml), *arrived, np.zeros_like(at_ml)]
    found: dict[str, NDArray[np.float64]] = {}
    for (_, _, colour, _), own, following in zip(loads, arrived[:-1], arrived[1:], strict=True):
        found[colour] = found.get(colour, np.zeros_like(at_ml)) + (own - following)
    return found


def cartridges(plan: Plan) -> list[CartridgeUse]:
    """Use of each cartridge, in the order of loading; together they give the whole job's clay."""
    cartridge, density = plan.config.cartridge, plan.config.clay.wet_density_g_ml
    loads = list(_loads(plan))
    ends = [*(start_ml for _, start_ml, _, _ in loads[1:]), plan.total_ml]
    found = []
    for number, ((spot, start_ml, colour, load_ml), end_ml) in enumerate(zip(loads, ends, strict=True), 1):
        usable_ml = cartridge.usable_ml if load_ml is None else load_ml
        clay_ml = end_ml - start_ml
        over_ml = max(clay_ml - usable_ml, 0.0)
        found.append(CartridgeUse(number, colour, spot, clay_ml, clay_ml * density, usable_ml, over_ml))
    return found


def running_out(plan: Plan, more_than_ml: float) -> Iterator[tuple[CartridgeUse, Spot]]:
    """The cartridges that are asked for that much more than they have, and where each runs out."""
    at_ml = 0.0
    for use in cartridges(plan):
        if use.over_ml > more_than_ml:
            yield use, plan.find_clay(at_ml + use.usable_ml)
        at_ml += use.clay_ml


def line_at_end(plan: Plan) -> dict[str, float]:
    """Clay in ml of each colour that the line holds after the job, the last loaded first; as a plug."""
    left_ml = plan.config.cartridge.line_ml
    found: dict[str, float] = {}
    before = (plan.config.clay.colour, left_ml)
    for colour, clay_ml in [*((use.colour, use.clay_ml) for use in reversed(cartridges(plan))), before]:
        if left_ml > 1e-9:
            found[colour] = found.get(colour, 0.0) + min(clay_ml, left_ml)
            left_ml -= clay_ml
    return found


def first_usable_ml(plan: Plan) -> float:
    """Clay of the first cartridge that may be counted on, in ml; it may be part-used."""
    cartridge = plan.config.cartridge
    if cartridge.first_ml is None:
        return cartridge.usable_ml
    return max(cartridge.first_ml - cartridge.reserve_ml, 0.0)


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


def _loads(plan: Plan) -> Iterator[tuple[Spot, float, str, float | None]]:
    """(spot, net clay before, colour, usable clay or None for a full one) of each cartridge."""
    colour = plan.config.clay.colour
    yield Spot(0), 0.0, colour, first_usable_ml(plan)
    for item in insertions(plan):
        if isinstance(item.wish, Pause) and item.wish.new_cartridge:
            colour = item.wish.colour if item.wish.colour is not None else colour
            yield item.spot, item.start_ml, colour, item.wish.load_ml


def _left_ml(plan: Plan, from_ml: float, to_ml: float) -> Iterator[tuple[str, float]]:
    """(colour, ml of it that leave the nozzle between the two), cartridge by cartridge."""
    line, loads = Line.of(plan.config.cartridge), list(_loads(plan))
    edges = np.array([from_ml, to_ml])
    past = [float(np.diff(line.new_ml(edges - start_ml))[0]) for _, start_ml, _, _ in loads[1:]]
    past = [to_ml - from_ml, *past, 0.0]
    for (_, _, colour, _), own, following in zip(loads, past[:-1], past[1:], strict=True):
        yield colour, own - following


def _stretches(plan: Plan, low_ml: float, high_ml: float, *, purges: bool) -> Iterator[tuple[float, float]]:
    """Pieces of the net clay between the two that count: all of it, or what isn't inserted."""
    at_ml = low_ml
    for item in [] if purges else insertions(plan):
        if item.start_ml + item.clay_ml <= low_ml or item.start_ml >= high_ml:
            continue
        if item.start_ml > at_ml:
            yield at_ml, item.start_ml
        at_ml = max(at_ml, item.start_ml + item.clay_ml)
    if at_ml < high_ml:
        yield at_ml, high_ml
