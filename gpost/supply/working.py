"""How old clay is when it is laid, and how long a pause may last before it is too stiff, or the rim too dry.

Three clocks. Clay that has left its cartridge ages in hose and auger, where it moves as a plug; what is in
the hose at the start counts from the start. In a closed cartridge it keeps, and ages by a clock of its own
if the config gives one. And while the machine waits the rim of the wall dries in the air. Machine time alone
is known, and what the potter says that a stopped print has stood; each other wait for the potter makes the
clay that waits older by as much.
"""

from __future__ import annotations

import math
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.plan.intentions import Pause, Restart
from gpost.plan.plan import Plan
from gpost.spot import Spot
from gpost.supply.cartridges import CartridgeUse, cartridges
from gpost.supply.loads import since_ml

Floats = NDArray[np.float64]
SAME_ML = 1e-9
"""Clay that differs by less is the same."""
LEAST_TURN = 1e-4
"""Less of a turn is none: amounts of clay in a file are rounded."""
FEW_MIN = 5
"""Of less half minutes are told."""
AT_ONCE = 50_000
"""Places of which the age is found at once, so that of many layers little is held."""


class Load(NamedTuple):
    """The clay of one cartridge, and how long it is in it."""

    spot: Spot
    """Where it is loaded."""
    loaded_s: float
    """When it is loaded, machine time from the start; by what stopped prints have stood with it earlier."""
    end_ml: float
    """Net clay at which its last has left it."""
    done_s: float
    """When that is."""

    @property
    def age_s(self) -> float:
        """How long its last clay is in it."""
        return self.done_s - self.loaded_s


class ClayClock(NamedTuple):
    """Time by net clay: straight between points, upright where no clay runs."""

    clay_ml: Floats
    time_s: Floats

    @staticmethod
    def of(clay_ml: Floats, time_s: Floats) -> ClayClock:
        """From points in any order."""
        order = np.lexsort((clay_ml, time_s))
        return ClayClock(np.maximum.accumulate(clay_ml[order]), time_s[order])

    def oldest(self, low_ml: float, high_ml: float, hose_ml: float) -> tuple[float, float]:
        """(age, when it left its cartridge) of the oldest clay that is laid between two amounts, s."""
        places_ml = np.concatenate([self.clay_ml, self.clay_ml + hose_ml, [low_ml, high_ml]])
        found = [(0.0, -math.inf)]
        for when, by_ml in ((self.after, SAME_ML), (self.before, -SAME_ML)):
            at_ml = places_ml[(places_ml + by_ml > low_ml) & (places_ml + by_ml < high_ml)]
            age_s, entered_s = when(at_ml) - when(at_ml - hose_ml), when(at_ml - hose_ml)
            if len(at_ml):
                found.append((float(age_s.max()), float(entered_s[age_s.argmax()])))
        return max(found)

    def standing(self, clay_ml: float, at_s: float, seconds: float) -> ClayClock:
        """The same with so long a wait after so much clay, at that time."""
        time_s = self.time_s + np.where(self.time_s > at_s, seconds, 0.0)
        return ClayClock.of(np.append(self.clay_ml, clay_ml), np.append(time_s, at_s + seconds))

    def after(self, clay_ml: Floats) -> Floats:
        """The last moment at which so much has been metered."""
        return self._between(clay_ml, np.searchsorted(self.clay_ml, clay_ml + SAME_ML, side="right") - 1)

    def before(self, clay_ml: Floats) -> Floats:
        """The first one."""
        return self._between(clay_ml, np.searchsorted(self.clay_ml, clay_ml - SAME_ML, side="left") - 1)

    def _between(self, clay_ml: Floats, place: NDArray[np.int64]) -> Floats:
        low = np.clip(place, 0, len(self.clay_ml) - 1)
        high = np.minimum(low + 1, len(self.clay_ml) - 1)
        width_ml = self.clay_ml[high] - self.clay_ml[low]
        share = (clay_ml - self.clay_ml[low]) / np.where(width_ml > 0, width_ml, 1.0)
        return self.time_s[low] + np.clip(share, 0.0, 1.0) * (self.time_s[high] - self.time_s[low])


def loads(plan: Plan) -> list[Load]:
    """Each cartridge's clay, in the order of loading. The last one's ends with the job.

    With one that stays on a stopped print goes on, and its clay is as old as it was.
    """
    uses = cartridges(plan)
    stood_s = (stop.intention.waited_s for stop in plan.stops if isinstance(stop.intention, Restart))
    found, end_ml = list[Load](), 0.0
    for at, (use, following) in enumerate(zip(uses, [*uses[1:], None], strict=True)):
        end_ml += use.clay_ml
        loaded_s = plan.clock_at(use.from_spot)
        if use.stays_on:
            loaded_s = (found[-1].loaded_s if _is_same(uses[at - 1], use) else loaded_s) - next(stood_s)
        done_s = plan.total_s if following is None else plan.clock_at(following.from_spot)
        found.append(Load(use.from_spot, loaded_s, end_ml, max(done_s, loaded_s)))
    return found


def _is_same(before: CartridgeUse, use: CartridgeUse) -> bool:
    """Whether a stopped print goes on with the cartridge before; one that holds more was put on or filled."""
    return use.held_ml <= before.held_ml - before.clay_ml + SAME_ML


def ages_s(plan: Plan) -> Floats:
    """Age of the oldest clay laid in each layer since it left its cartridge, s; shape (layers,).

    Clay that is run out beside the piece at a layer's start is none of the layer. Where a stopped print goes
    on, what has been laid by then is none of it either: layers that are done have 0.
    """
    hose_ml = plan.config.cartridge.line_ml
    if not len(plan.survey.layers) or not hose_ml:
        return np.zeros(len(plan.survey.layers))
    clock, begins_ml = _clock(plan), -math.inf if plan.restart is None else since_ml(plan)
    first_ml = np.maximum.accumulate(plan.layer_clay_ml)
    end_ml = np.maximum.accumulate(np.append(plan.layer_clay_ml[1:], plan.total_ml))
    places_ml = np.concatenate([clock.clay_ml, clock.clay_ml + hose_ml, first_ml, end_ml])
    found = np.zeros(len(first_ml))
    # just after each place, and just before it
    for when, by_ml in ((clock.after, SAME_ML), (clock.before, -SAME_ML)):
        layer = np.searchsorted(first_ml, places_ml + by_ml) - 1
        there = (layer >= 0) & (places_ml <= end_ml[-1]) & ~_beside(plan, places_ml + by_ml)
        there &= places_ml + by_ml > begins_ml
        at_ml = places_ml[there]
        np.maximum.at(found, layer[there], when(at_ml) - when(at_ml - hose_ml))
    return found


def first_stale(plan: Plan) -> int | None:
    """Index of the first layer whose clay is older than the config's `working_min`; None if none is."""
    stale = np.flatnonzero(ages_s(plan) > plan.config.clay.working_min * 60)
    return int(stale[0]) if len(stale) else None


def longest_wait_s(plan: Plan, pause: Pause, known: Waits | None = None) -> float:
    """How long the pause may last if no other waits, so that no clay gets too old for the config, s.

    That is `working_min` for what waits in the hose, and `keeps_min`, if it is given, for what waits in the
    cartridge. 0 when what waits gets too old anyway; infinite when nothing waits that is laid after the
    pause. `known`: the plan's, for whoever asks of many pauses. Raises ValueError when the pause is not in
    the plan.
    """
    return (Waits(plan) if known is None else known).longest_s(pause)


def told_min(minutes: float) -> float:
    """How long something may wait as it is told: whole minutes that are not more, of a few half ones."""
    return math.floor(minutes * 2) / 2 if minutes < FEW_MIN else math.floor(minutes)


class Waits:
    """How long the pauses of one plan may last."""

    def __init__(self, plan: Plan) -> None:
        self._plan, self._clock = plan, _clock(plan)
        self._hose_ml = plan.config.cartridge.line_ml
        self._loads = loads(plan) if plan.config.cartridge.keeps_min is not None else []
        self._own_s = {id(stop.intention): stop.seconds for stop in plan.stops}
        self._start_ml = {id(item.intention): item.start_ml for item in plan.insertions}

    @cached_property
    def _ages(self) -> tuple[Floats, Floats]:
        """(net clay, age of what is laid there) where the age has its corners, in order."""
        places_ml = np.sort(np.concatenate([self._clock.clay_ml, self._clock.clay_ml + self._hose_ml]))
        parts = np.array_split(places_ml, 1 + len(places_ml) // AT_ONCE)
        return places_ml, np.concatenate([self._age_s(part) for part in parts])

    def longest_s(self, pause: Pause) -> float:
        """For a pause of the plan's: see `longest_wait_s`."""
        if id(pause) not in self._start_ml:
            raise ValueError("the pause is not in the plan")
        at_ml = self._start_ml[id(pause)]
        found = [self.hose_s(at_ml)]
        keeps_min = self._plan.config.cartridge.keeps_min
        if keeps_min is not None and not pause.new_cartridge:
            at_s = self._plan.clock_at(pause.spot)
            on = [load for load in self._loads if load.loaded_s <= at_s]
            found += [max(keeps_min * 60 - load.age_s, 0.0) for load in on[-1:] if load.end_ml > at_ml + 1e-9]
        return min(found)

    def hose_s(self, at_ml: float, run_out_ml: float = 0.0) -> float:
        """How long a wait at that net clay may last by `working_min` of what is in the hose, s.

        `run_out_ml`: what of it is run out after the wait, and may be of any age. Infinite where nothing of
        the hose's stays, and where nothing more is laid.
        """
        low_ml, end_ml = at_ml + run_out_ml, min(at_ml + self._hose_ml, self._plan.total_ml)
        if end_ml <= low_ml + 1e-9:
            return math.inf
        places_ml, ages_s = self._ages
        inside = slice(*np.searchsorted(places_ml, [low_ml, end_ml]).tolist())
        oldest_s = float(self._age_s(np.array([low_ml, end_ml])).max())
        oldest_s = max(oldest_s, float(ages_s[inside].max(initial=0.0)))
        return max(self._plan.config.clay.working_min * 60 - oldest_s, 0.0)

    def rim_s(self, pause: Pause) -> float | None:
        """See `rim_wait_s`; prime and ways of the pause count."""
        return rim_wait_s(self._plan, pause.spot, self._own_s[id(pause)])

    def _age_s(self, laid_ml: Floats) -> Floats:
        """How long the clay that is laid at these amounts was in the hose."""
        return self._clock.after(laid_ml) - self._clock.before(laid_ml - self._hose_ml)


def rim_wait_s(plan: Plan, spot: Spot, own_s: float = 0.0) -> float | None:
    """How long the machine may wait at a spot before the wall's joint is cold (`rim_min`), s.

    The way to the park, the prime and the way back, `own_s`, take their part of that, and so does what a rim
    has stood by then that was there when a stopped print went on. None where it is not known; infinite where
    there is no wall yet, or none that goes on.
    """
    survey, rim_min = plan.survey, plan.config.clay.rim_min
    if not len(survey.layers) or not survey.start_of(0) < spot < Spot(survey.laid_until):
        return math.inf
    return None if rim_min is None else max(rim_min * 60 - own_s - _stood_s(plan, spot), 0.0)


def _stood_s(plan: Plan, spot: Spot) -> float:
    """How long some of the rim at a spot stood where a stopped print went on, by the potter's word, s.

    The rim is what the last turn has laid. The machine's own time is left out, as it is before any pause.
    """
    stood = [restart for restart in plan.of(Restart) if restart.waited_s and restart.spot <= spot]
    at_turn = _turns(plan, spot) if stood else 0.0
    return sum(one.waited_s for one in stood if at_turn - _turns(plan, one.spot) < 1 - LEAST_TURN)


def _turns(plan: Plan, spot: Spot) -> float:
    """How many layers are laid at a spot, the last one by the share of its clay."""
    survey = plan.survey
    index = survey.index_at(spot.line)
    row, begins = survey.layers[index], survey.start_of(index)
    if spot <= begins or row["clay_ml"] <= 0:
        return float(index)
    laid_ml = survey.clay_before(spot) - survey.clay_before(begins)
    return index + min(max(laid_ml / float(row["clay_ml"]), 0.0), 1.0)


def _clock(plan: Plan) -> ClayClock:
    """The plan's time by net clay: at layers' starts, and round all that is inserted.

    It is the machine's, and what a stopped print has stood by the potter's word.
    """
    clay_ml = [np.zeros(1), plan.layer_clay_ml, np.array([plan.total_ml])]
    time_s = [np.zeros(1), plan.layer_clock_s[:-1], np.array([plan.total_s])]
    for stop in plan.stops:
        clay_ml.append(np.array([stop.start_ml, stop.start_ml + stop.clay_ml]))
        time_s.append(np.array([stop.start_s, stop.end_s]))
    clock, stood_s = ClayClock.of(np.concatenate(clay_ml), np.concatenate(time_s)), 0.0
    for stop in plan.stops:
        if isinstance(stop.intention, Restart) and stop.intention.waited_s:
            clock = clock.standing(stop.start_ml, stop.start_s + stood_s, stop.intention.waited_s)
            stood_s += stop.intention.waited_s
    return clock


def _beside(plan: Plan, places_ml: Floats) -> NDArray[np.bool_]:
    """At which of these amounts clay runs out beside the piece."""
    found = np.zeros(len(places_ml), np.bool_)
    for item in plan.insertions:
        found |= (places_ml > item.start_ml) & (places_ml < item.start_ml + item.clay_ml)
    return found
