"""What a knob turned by hand does to the plan: where clay ends, where colours show, when to be there."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.clay.byhand import planned_ml
from gpost.clay.chances import Load, sure_ml
from gpost.clay.mixing import BEGINS, HALF
from gpost.plan.feeds import times_s
from gpost.plan.intentions import Pause
from gpost.plan.plan import Plan
from gpost.spot import START, Spot
from gpost.supply.bands import name_of
from gpost.supply.cartridges import CartridgeUse, cartridges, front_ml, misfit_of_colours
from gpost.supply.edges import edges_of
from gpost.supply.heights import Heights
from gpost.supply.loads import loads, on_from
from gpost.supply.safelayers import SafeLayer, safe_layer
from gpost.supply.sure import taken_chance, told_ml

FACTORS = (0.9, 1.1, 1.2)
"""Of flow or of speed."""
MOST_VISITS = 2
"""Beyond a cartridge's start, from so many visits on it is said what a knob does that is turned there."""


class Shown(NamedTuple):
    """Where a clay begins to count as showing."""

    colour: str
    height_mm: float | None
    """Nozzle height; None: not from this cartridge, or not in this piece."""
    turn_mm: tuple[float, float] | None = None
    """The lowest and the highest place of its turn, if that tilts or waves."""


class Turned(NamedTuple):
    """The flow at a factor from a place on, and left so."""

    factor: float
    safe: SafeLayer | None
    """None: the cartridge does to its end."""
    visit_s: float
    """When to be there next: at the next wait as planned, or when the last safe layer is done."""
    shows: tuple[Shown, ...]


class Knob(NamedTuple):
    """What turning does from one place on."""

    cartridge: int
    from_layer: int
    """Counted from 1; 0: before the first."""
    from_mm: float
    from_s: float
    visit_s: float
    """When to be there next as planned: the next wait, or the end of the job."""
    flows: tuple[Turned, ...]
    """None where clay is metered by path: there is no flow to turn."""
    speeds_s: tuple[tuple[float, float], ...]
    """(factor of the speed, when to be there next)."""


def knobs(plan: Plan) -> list[Knob]:
    """From each cartridge's start on, and from the first other waits while it is on; none without layers."""
    if not len(plan.survey.layers):
        return []
    waits = sorted([pause.spot for pause in plan.pauses] + [Spot(own.line) for own in plan.own_pauses])
    asked, found, first = _Asked(plan), list[Knob](), on_from(plan)
    uses, starts_ml = cartridges(plan)[first:], [load.start_ml for load in loads(plan)][first:]
    ends = [*(use.from_spot for use in uses[1:]), Spot(plan.survey.lines)]
    for use, start_ml, end in zip(uses, starts_ml, ends, strict=True):
        inside = list(dict.fromkeys(waits[bisect_right(waits, use.from_spot) : bisect_left(waits, end)]))
        places = [use.from_spot, *inside, end][: MOST_VISITS + 2]
        found += [asked.knob(use, start_ml, *part) for part in pairwise(places)]
    return found


class _Asked:
    """What is asked of one plan for each knob."""

    def __init__(self, plan: Plan) -> None:
        self._plan, self._fronts, self._speed = plan, list(_fronts(plan)), _Speed(plan)
        self._chance, self._heights = taken_chance(plan), Heights(plan)

    def knob(self, use: CartridgeUse, start_ml: float, place: Spot, following: Spot) -> Knob:
        """Turned at a place, with the next visit at another."""
        survey = self._plan.survey
        from_s, until_s = (self._speed.clock_s(spot) for spot in (place, following))
        has_flow = self._plan.config.clay.metering.unit != "path"
        return Knob(
            use.number,
            survey.index_at(place.line) + 1 if place > START else 0,
            survey.height_at(place) if place > START else float(survey.layers["low_mm"][0]),
            from_s,
            until_s,
            tuple(self._flow(use, start_ml, place, factor, until_s) for factor in FACTORS if has_flow),
            tuple((factor, self._speed.visit_s(from_s, until_s, factor)) for factor in FACTORS),
        )

    def _flow(self, use: CartridgeUse, start_ml: float, place: Spot, factor: float, visit_s: float) -> Turned:
        plan = self._plan
        low_ml, end_ml = start_ml - use.owed_ml, start_ml + use.clay_ml
        from_ml = low_ml if place == use.from_spot else plan.clay_before(place)
        config, held_ml = plan.config, told_ml(plan, use)
        load = Load(0.0, held_ml, config.cartridge.reserve_ml, held_ml < config.cartridge.volume_ml)
        reach_ml = planned_ml(sure_ml(load, config.spreads, self._chance), from_ml - low_ml, factor)
        safe = safe_layer(plan, use, start_ml, reach_ml)
        shows = tuple(
            front.turned(from_ml, factor, end_ml, self._heights)
            for front in self._fronts
            if front.later(from_ml, end_ml)
        )
        return Turned(factor, safe, visit_s if safe is None else min(visit_s, safe.clock_s), shows)


class _Front(NamedTuple):
    """A change of clay on its way."""

    colour: str
    outlet_ml: float
    """Net clay at which it begins to leave its cartridge."""
    shows_ml: float
    """Net clay at which it counts as showing."""

    def later(self, from_ml: float, end_ml: float) -> bool:
        """Whether it is on its way after one net clay, or lies in the cartridge that is on till the other."""
        return self.shows_ml > from_ml and self.outlet_ml < end_ml - 1e-6

    def turned(self, from_ml: float, factor: float, end_ml: float, heights: Heights) -> Shown:
        """Where it shows with the flow turned; what has not left the cartridge by its end never does."""
        leaves_ml, at_ml = (planned_ml(ml, from_ml, factor) for ml in (self.outlet_ml, self.shows_ml))
        lost = leaves_ml >= end_ml or at_ml >= heights.end_ml
        return (
            Shown(self.colour, None)
            if lost
            else Shown(self.colour, heights.of(at_ml), heights.waves_at(at_ml))
        )


def _fronts(plan: Plan) -> Iterator[_Front]:
    """The changes of clay: those of the config's bands, or of the pauses."""
    bands = plan.config.colours
    if bands is not None and not misfit_of_colours(plan):
        edges, delay = edges_of(plan, bands), HALF if bands.show == "half" else BEGINS
        pushed_ml = plan.config.cartridge.hose.pushed_ml(delay)
        for edge in edges.edges:
            yield _Front(
                name_of(edge.wish.mix),
                edge.outlet_ml,
                edges.contents.starts.after(edge.outlet_ml, pushed_ml),
            )
        return
    for item in plan.insertions:
        pause = item.intention
        if isinstance(pause, Pause) and pause.new_cartridge and pause.colour is not None:
            yield _Front(pause.colour, item.start_ml, front_ml(plan, pause, pause.shows_share))


class _Speed:
    """The plan's clock, and what it becomes with the speed turned."""

    def __init__(self, plan: Plan) -> None:
        self._plan, self._done_s = plan, plan.layer_clock_s
        self._more_s = {
            factor: np.append(0.0, np.cumsum(self._turned_s(factor) - plan.layer_times_s))
            for factor in FACTORS
        }

    def clock_s(self, spot: Spot) -> float:
        """When the machine is there as planned."""
        plan = self._plan
        if spot.line >= plan.survey.lines:
            return plan.total_s
        return plan.clock_at(spot) if spot > START else 0.0

    def visit_s(self, from_s: float, until_s: float, factor: float) -> float:
        """When it gets to a place if the speed is turned at another; waits and what is laid beside stay."""
        there = np.interp([from_s, until_s], self._done_s, self._more_s[factor])
        return float(until_s + there[1] - there[0])

    def _turned_s(self, factor: float) -> NDArray[np.float64]:
        """Time of each layer: laying as for any changed feed, travel in proportion."""
        plan, layers = self._plan, self._plan.survey.layers
        travel_s = layers["time_s"] - layers["laying_s"]
        return np.asarray(times_s(layers, plan.layer_factors * factor) + travel_s * (1 / factor - 1))
