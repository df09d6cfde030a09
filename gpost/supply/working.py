"""How old clay is when it is laid, and how long a pause may last before what is in the hose is too stiff.

Clay ages from when its cartridge is loaded: in the cartridge first, then in the hose, where it moves as a
plug. What is in the hose at the start counts from the start. Machine time alone is known, so each wait for
the potter makes the clay that waits with it older by as much.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.plan.intentions import Pause
from gpost.plan.plan import Plan
from gpost.spot import Spot
from gpost.supply.cartridges import cartridges, clay_at


class Load(NamedTuple):
    """The clay of one cartridge, and how long it takes to be laid."""

    spot: Spot
    """Where it is loaded."""
    loaded_s: float
    """When it is loaded, machine time from the start."""
    end_ml: float
    """Net clay at which its last has passed the nozzle."""
    done_s: float
    """When that is."""

    @property
    def age_s(self) -> float:
        """Age of its last clay."""
        return self.done_s - self.loaded_s


def loads(plan: Plan) -> list[Load]:
    """Each cartridge's clay, in the order of loading. The last one's ends with the job."""
    uses, line_ml = cartridges(plan), plan.config.cartridge.line_ml
    found, end_ml = [], 0.0
    for use in uses:
        end_ml += use.clay_ml
        last = use is uses[-1]
        leaves_ml = plan.total_ml if last else min(end_ml + line_ml, plan.total_ml)
        spot = Spot(plan.survey.lines) if leaves_ml >= plan.total_ml else plan.find_clay(leaves_ml)
        loaded_s = plan.clock_before(use.from_spot.line)
        found.append(Load(use.from_spot, loaded_s, leaves_ml, max(plan.clock_before(spot.line), loaded_s)))
    return found


def ages_s(plan: Plan) -> NDArray[np.float64]:
    """Age of the oldest clay laid in each layer, when the layer ends, s; shape (layers,)."""
    found = loads(plan)
    number = np.searchsorted([load.end_ml for load in found[:-1]], plan.layer_clay_ml, side="right")
    return np.asarray(plan.layer_clock_s[1:] - np.array([load.loaded_s for load in found])[number])


def first_stale(plan: Plan) -> int | None:
    """Index of the first layer whose clay is older than the config's `working_min`; None if none is."""
    stale = np.flatnonzero(ages_s(plan) > plan.config.clay.working_min * 60)
    return int(stale[0]) if len(stale) else None


def longest_wait_s(plan: Plan, pause: Pause, known: Sequence[Load] | None = None) -> float:
    """How long the pause may last if no other waits, so that no clay gets older than `working_min`, s.

    0 when what waits there gets too old anyway; infinite when nothing older than the pause is laid after it.
    `known`: the plan's `loads`, for whoever asks of many pauses. Raises ValueError when the pause is not in
    the plan.
    """
    at_ml, at_s = clay_at(plan, pause), plan.clock_before(pause.spot.line)
    waiting = [
        load for load in _before(plan, pause, known) if load.end_ml > at_ml + 1e-9 and load.loaded_s <= at_s
    ]
    oldest_s = max((load.age_s for load in waiting), default=-math.inf)
    return max(plan.config.clay.working_min * 60 - oldest_s, 0.0)


def _before(plan: Plan, pause: Pause, known: Sequence[Load] | None) -> Sequence[Load]:
    """The cartridges that were loaded before this pause."""
    changes = [found for found in plan.pauses if found.new_cartridge]
    earlier = sum(found.spot <= pause.spot and found is not pause for found in changes)
    return (loads(plan) if known is None else known)[: earlier + 1]
