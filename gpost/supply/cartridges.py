"""Which clay is where: cartridge by cartridge, and colour by colour as it reaches the nozzle."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gpost.clay.mixing import BEGINS, FULL, HALF
from gpost.plan.intentions import Pause
from gpost.plan.intime import wanted
from gpost.plan.layers import clay_past
from gpost.plan.once import once
from gpost.plan.plan import Plan
from gpost.plan.starts import starts
from gpost.spot import Spot
from gpost.supply.bands import Mix
from gpost.supply.contents import Contents, Cut
from gpost.supply.edges import edges_of
from gpost.supply.loads import Load, clay_at, loads, needs, on_from, owed_ml, what_is_in
from gpost.supply.rest import due, rest_contents
from gpost.supply.weights import weigh

__all__ = [
    "CartridgeUse",
    "air_spot",
    "cartridges",
    "change_spots",
    "clay_at",
    "colours",
    "contents",
    "front_ml",
    "front_spot",
    "lag_ml",
    "line_at_end",
    "misfit_of_colours",
    "mixes_of",
    "owed_ml",
    "running_out",
    "shares",
    "what_is_in",
]

LEAST_TOLD_ML = 0.05
"""A colour that is less early or late than this is in time."""

MOST_NAMED = 3
"""Clays of one cartridge that are named in a row."""


class CartridgeUse(NamedTuple):
    """What the job takes out of one cartridge."""

    number: int
    """Counted in the order of loading, from `cartridge: first_number` on."""
    colour: str
    """Its clay; of several all that leave it, in that order."""
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
    held_ml: float
    """Clay in it, its reserve included."""
    weighed: bool
    """Whether it is less than full, and so weighed in."""
    owed_ml: float
    """What it gives again that was drawn back before it was loaded."""
    amounts_ml: dict[str, float]
    """`clay_ml` by clay, in the order in which each first leaves."""
    said_ml: float | None = None
    """What is said to be in it: by the config, a pause, or where it goes on; None: nobody says."""
    stays_on: bool = False
    """Whether it was on already, and the stopped print goes on with it."""

    def parts_of(self, ml: float) -> dict[str, float]:
        """So many ml of this cartridge, by clay."""
        whole_ml = sum(self.amounts_ml.values())
        if not whole_ml:
            return {clay: ml / len(self.amounts_ml) for clay in self.amounts_ml}
        return {clay: ml * part / whole_ml for clay, part in self.amounts_ml.items()}


def front_spot(plan: Plan, pause: Pause) -> Spot:
    """Where the clay of the cartridge loaded in this pause reaches the nozzle.

    The pause's own spot when its prime and lay empty the line; the end of the file when the new clay
    never shows; where it is wanted if it misses that by less than is told. Raises ValueError when the pause
    is not in the plan.
    """
    if pause.shows_at is not None and abs(lag_ml(plan, pause)) < LEAST_TOLD_ML:
        return pause.shows_at
    return plan.find_clay(front_ml(plan, pause, pause.shows_share), pause.spot)


def lag_ml(plan: Plan, pause: Pause) -> float:
    """Net clay by which the new clay is late at `shows_at` (early: below 0).

    It is in time anywhere in what is inserted there, such as its own prime and purge: all of that runs out
    before printing goes on.
    """
    shows_ml, spot = front_ml(plan, pause, pause.shows_share), wanted(pause)
    return min(shows_ml - plan.clay_before(spot), 0.0) + max(shows_ml - clay_past(plan, spot), 0.0)


def change_spots(plan: Plan, pause: Pause) -> tuple[Spot, Spot, Spot]:
    """Where the clay of the cartridge loaded in this pause starts to show, is half, is full.

    Raises ValueError when the pause is not in the plan.
    """
    begins, half, full = (
        plan.find_clay(front_ml(plan, pause, share), pause.spot) for share in (BEGINS, HALF, FULL)
    )
    return begins, half, full


def front_ml(plan: Plan, pause: Pause, share: float) -> float:
    """Net clay at which the clay of the cartridge loaded in this pause is that share of what comes, ml.

    Raises ValueError when the pause is not in the plan.
    """
    return starts(plan).after(clay_at(plan, pause), plan.config.cartridge.hose.pushed_ml(share))


@once
def contents(plan: Plan) -> Contents:
    """What leaves the cartridges: the config's bands, or the clays that the pauses change to.

    Bands that can't be (`misfit_of_colours`) are left out of account.
    """
    bands, restart = plan.config.colours, plan.restart
    if bands is not None and not misfit_of_colours(plan):
        return edges_of(plan, bands).contents
    if restart is not None and restart.inside:
        return rest_contents(plan, restart, [Cut(load.start_ml, {load.colour: 1.0}) for load in due(plan)])
    found = loads(plan)
    cuts = tuple(Cut(load.start_ml, {load.colour: 1.0}) for load in found[1:])
    return Contents({found[0].colour: 1.0}, cuts, plan.config.cartridge.hose, starts(plan))


def misfit_of_colours(plan: Plan) -> str:
    """Why the config's bands can't be on this piece, or beside these steps; "" if they can."""
    if plan.config.colours is None:
        return ""
    if plan.survey.pieces != 1 or not len(plan.survey.layers):
        return "colours by height need one piece with layers; slice one piece a file"
    coloured = [pause.colour for pause in plan.pauses if pause.colour is not None]
    if coloured:
        return (
            f"the steps change to {coloured[0]} in a pause, which the bands would do without; leave swap out "
            f"of the config, or `colours`"
        )
    return ""


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


def shares(plan: Plan, clay_ml: ArrayLike) -> dict[str, NDArray[np.float64]]:
    """Share of each clay at the nozzle at those net clays (ml, as `plan.clay_before`), in loading order.

    The shares are of the shape of `clay_ml`; they add up to 1.
    """
    return contents(plan).shares(clay_ml)


def cartridges(plan: Plan) -> list[CartridgeUse]:
    """Use of each cartridge, in the order of loading: what it must hold is said here, and nowhere else."""
    inside = contents(plan)
    return [
        _use(plan, load, clay_ml, need_ml, mixes_of(inside, load, need_ml))
        for load, clay_ml, need_ml in needs(plan)
    ]


def mixes_of(inside: Contents, load: Load, need_ml: float) -> list[tuple[Mix, float]]:
    """(mixture, ml) of a cartridge in the order in which they leave it, its reserve left out."""
    low_ml = load.start_ml - load.owed_ml
    return list(inside.between(low_ml, low_ml + need_ml)) or [(inside.at(load.start_ml), 0.0)]


def _use(
    plan: Plan, load: Load, clay_ml: float, need_ml: float, mixes: list[tuple[Mix, float]]
) -> CartridgeUse:
    if plan.config.colours is None:
        mixes = [({load.colour: 1.0}, clay_ml)]  # what is drawn back before it is of the clay before
    amounts_ml = _amounts_ml(mixes, clay_ml)
    clays = list(amounts_ml)
    more = [f"{len(clays) - MOST_NAMED} more"] if len(clays) > MOST_NAMED else []
    return CartridgeUse(
        number=load.number,
        colour=", ".join([*clays[:MOST_NAMED], *more]),
        from_spot=load.spot,
        clay_ml=clay_ml,
        wet_g=weigh(plan.config, amounts_ml).wet_g,
        amounts_ml=amounts_ml,
        need_ml=need_ml,
        usable_ml=load.usable_ml,
        over_ml=max(need_ml - load.usable_ml, 0.0),
        held_ml=load.held_ml,
        weighed=load.weighed,
        owed_ml=load.owed_ml,
        said_ml=load.said_ml,
        stays_on=load.stays_on,
    )


def _amounts_ml(mixes: list[tuple[Mix, float]], clay_ml: float) -> dict[str, float]:
    """ml of each clay in so much, as they are mixed in all that is asked for."""
    whole_ml, found = sum(ml for _, ml in mixes), dict[str, float]()
    for mix, ml in mixes:
        for clay, share in mix.items():
            part = ml / whole_ml if whole_ml else 1 / len(mixes)
            found[clay] = found.get(clay, 0.0) + share * part * clay_ml
    return found


def running_out(plan: Plan, more_than_ml: float) -> Iterator[tuple[CartridgeUse, Spot]]:
    """The cartridges that are asked for that much more than they have, and where each runs out."""
    for use, load in list(zip(cartridges(plan), loads(plan), strict=True))[on_from(plan) :]:
        if use.over_ml > more_than_ml:
            yield use, plan.find_clay(load.start_ml + load.usable_ml - load.owed_ml, load.spot)


def line_at_end(plan: Plan) -> dict[str, float]:
    """Clay in ml of each colour that the hose holds after the job, the last loaded first; as a plug."""
    end_ml, found = plan.total_ml, dict[str, float]()
    held = list(contents(plan).between(end_ml - plan.config.cartridge.line_ml, end_ml))
    for mix, amount_ml in reversed(held):
        for clay, share in mix.items():
            found[clay] = found.get(clay, 0.0) + share * amount_ml
    return found


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
    restart = plan.restart
    # what was inserted there before it stopped has been
    low_ml = plan.clay_before(start) if restart is None or start != restart.spot else clay_at(plan, restart)
    high_ml = plan.total_ml if end is None else plan.clay_before(end)
    found: dict[str, float] = {}
    inside = contents(plan)
    for from_ml, to_ml in _stretches(plan, low_ml, high_ml, purges=purges):
        for colour, colour_ml in inside.left_ml(from_ml, to_ml).items():
            if colour_ml > 1e-9:
                found[colour] = found.get(colour, 0.0) + colour_ml
    return found


def _stretches(plan: Plan, low_ml: float, high_ml: float, *, purges: bool) -> Iterator[tuple[float, float]]:
    """Pieces of the net clay between the two that count: all of it, or what is laid in the piece."""
    at_ml = low_ml
    for start_ml, end_ml in () if purges else _beside(plan):
        if end_ml <= low_ml or start_ml >= high_ml:
            continue
        if start_ml > at_ml:
            yield at_ml, start_ml
        at_ml = max(at_ml, end_ml)
    if at_ml < high_ml:
        yield at_ml, high_ml


@once
def _beside(plan: Plan) -> tuple[tuple[float, float], ...]:
    """Net clay from and to which it goes beside the piece, by what is inserted and by the file itself."""
    inserted = [(item.start_ml, item.start_ml + item.clay_ml) for item in plan.insertions]
    edges = ((Spot(part.first_line), Spot(part.end_line)) for part in plan.survey.beside)
    own = [(plan.clay_before(start), plan.clay_before(end)) for start, end in edges]
    return tuple(sorted([*inserted, *own]) if own else inserted)
