"""How sure it is that each cartridge does, and where each clay shows: what a plan's spreads come to."""

from __future__ import annotations

import math
from typing import NamedTuple

from gpost.clay.chances import (
    CHANCE,
    Load,
    any_dry_chance,
    dry_chance,
    front_sd_ml,
    reach_sds,
    sure_load_ml,
    sure_ml,
)
from gpost.config.model import Config
from gpost.plan.intentions import DryChance, Pause, Restart
from gpost.plan.layers import SAME_ML
from gpost.plan.plan import Plan
from gpost.spot import Spot
from gpost.supply.cartridges import CartridgeUse, cartridges, front_ml, owed_ml, what_is_in
from gpost.supply.loads import Need, on_from

WORTH_A_DIGIT_ML = 0.5
HARDLY = 0.001
"""A chance below which no more is said of it."""
ROUNDING_ML = 1e-6
LACKS_ML = 0.05
"""A cartridge that is on lacks nothing if it lacks no more than that."""


class DryRisk(NamedTuple):
    """How sure it is that a cartridge does."""

    use: CartridgeUse
    dry_chance: float
    """Chance that it runs dry before its end, loaded as the plan has it."""
    sure_load_ml: float
    """What must be in it, its reserve included, for no more than the chance that is taken."""
    dry_from: Spot
    """Where the chance that it has run dry passes that; its end if it doesn't."""
    early_layers: int
    """How many layers before its end that is."""


def taken_chance(plan: Plan) -> float:
    """The chance of running dry that is taken for each cartridge."""
    return min((said.chance for said in plan.of(DryChance)), default=CHANCE)


def reach_ml(plan: Plan, pause: Pause | None, chance: float | None = None) -> float:
    """Net clay, from the pause on, for which the cartridge loaded in it does, but for that chance, ml.

    What is in it, less the reserve, and less what it gives again that was drawn back before the pause.
    `pause` None: the first cartridge. `chance` None: the one that is taken in the plan.
    """
    load_ml = plan.config.cartridge.first_ml if pause is None else pause.load_ml
    reach = counted_on_ml(plan.config, load_ml, taken_chance(plan) if chance is None else chance)
    stays_on = pause is None or isinstance(pause, Restart)  # nothing was drawn back before it was loaded
    return reach - (0.0 if stays_on else owed_ml(plan))


def counted_on_ml(config: Config, load_ml: float | None, chance: float = CHANCE) -> float:
    """Clay that a cartridge with so much in it gives, but for that chance, ml; None: a full one."""
    _, held_ml, weighed = what_is_in(config.cartridge, load_ml)
    return sure_ml(Load(0.0, held_ml, config.cartridge.reserve_ml, weighed), config.spreads, chance)


def ml_text(config: Config, ml: float) -> str:
    """An amount of clay in ml, to the digits that it deserves: whole ones where E may be off by half a ml."""
    off_ml = abs(ml) * (config.spreads.metered or 0.0)
    return f"{ml:.0f}" if off_ml >= WORTH_A_DIGIT_ML else f"{ml:.1f}"


def chance_words(chance: float) -> str:
    """A chance in percent, to the digits that it deserves."""
    if chance < HARDLY:
        return "less than 0.1 %"
    return f"{chance:.1%}".replace("%", " %") if chance < 0.02 else f"{chance:.0%}".replace("%", " %")


def loaded_ml(config: Config, need_ml: float, chance: float = CHANCE) -> float:
    """What must be in a cartridge, its reserve included, to run dry with no more than that chance, ml.

    Weighed in, or else full to the brim if that does too. Without spreads it is the need and the reserve.
    """
    weighed_ml = sure_load_ml(need_ml, config.cartridge.reserve_ml, config.spreads, chance)
    full_does = counted_on_ml(config, None, chance) >= need_ml - SAME_ML
    return min(weighed_ml, config.cartridge.volume_ml) if full_does else weighed_ml


def to_load_ml(config: Config, need_ml: float, chance: float = CHANCE) -> float:
    """What a cartridge is to be loaded with: `loaded_ml` in whole ml, rounded up, as scales and jugs show it.

    Never more than a full one, where that does.
    """
    exact_ml = loaded_ml(config, need_ml, chance)
    whole_ml = float(math.ceil(exact_ml - ROUNDING_ML)) if math.isfinite(exact_ml) else exact_ml
    return whole_ml if exact_ml > config.cartridge.volume_ml else min(whole_ml, config.cartridge.volume_ml)


def told_ml(plan: Plan, asked: CartridgeUse | Need) -> float:
    """What everyone is told to have in a cartridge of a plan, its reserve included, ml.

    As much as the config, a pause, or who goes on with a stopped print says; where nobody does, what is to be
    loaded, which is never more than it holds.
    """
    load = asked.load if isinstance(asked, Need) else asked
    if load.said_ml is not None:
        return load.said_ml
    return min(to_load_ml(plan.config, asked.need_ml, taken_chance(plan)), plan.config.cartridge.volume_ml)


class Short(NamedTuple):
    """Whether a cartridge that is on holds what it must, in whole ml as scales and jugs show them."""

    lacks: bool
    has_ml: int
    must_ml: int
    """What must be in it, its reserve and margin included."""
    fits: bool
    """Whether a cartridge holds that."""

    @property
    def words(self) -> str:
        """What the potter does."""
        if not self.fits:
            return f"no cartridge holds the {self.must_ml} ml that it would take; run out less"
        return (
            f"weigh {self.must_ml - self.has_ml} ml more into it, or put another one on, and write the rest "
            f"with what is in it then (--left-ml {self.must_ml})"
        )


def short_of(plan: Plan, use: CartridgeUse, need_ml: float) -> Short:
    """What a cartridge that is on lacks to give so much clay."""
    told, must = told_ml(plan, use), loaded_ml(plan.config, need_ml, taken_chance(plan))
    lacks, has_ml = must > told + LACKS_ML, in_it(told)
    whole_ml = math.ceil(must - ROUNDING_ML) if math.isfinite(must) else math.ceil(need_ml)
    must_ml = max(whole_ml, has_ml + 1) if lacks else min(whole_ml, has_ml)
    return Short(lacks, has_ml, must_ml, must <= plan.config.cartridge.volume_ml)


def in_it(ml: float) -> int:
    """What is in a cartridge that is on, in whole ml: the nearest, everywhere."""
    return round(ml)


def dry_risks(plan: Plan) -> list[DryRisk]:
    """Those of each cartridge, in the order of loading; none where no spread of it is known."""
    if not plan.config.spreads.of_cartridges:
        return []
    uses = cartridges(plan)
    ends = [*(use.from_spot for use in uses[1:]), Spot(plan.survey.lines)]
    starts_ml = [0.0]
    for use in uses[:-1]:
        starts_ml.append(starts_ml[-1] + use.clay_ml)
    return [_risk(plan, use, start_ml, end) for use, start_ml, end in zip(uses, starts_ml, ends, strict=True)]


def _risk(plan: Plan, use: CartridgeUse, start_ml: float, end: Spot) -> DryRisk:
    spreads, chance, load = plan.config.spreads, taken_chance(plan), load_of(plan, use)
    likely = dry_chance(load, spreads)
    dry_from = end
    if likely > chance:
        sure = sure_ml(load, spreads, chance)
        dry_from = min(plan.find_clay(start_ml + sure - use.owed_ml, use.from_spot), end)
    survey = plan.survey
    early = _last_layer(plan, end) - max(survey.index_at(dry_from.line), 0) if dry_from < end else 0
    sure_load = loaded_ml(plan.config, use.need_ml, chance)
    return DryRisk(use, likely, sure_load, dry_from, max(early, 0))


def _last_layer(plan: Plan, end: Spot) -> int:
    """Index of the layer that is begun or laid last before a spot, one more if it is done there."""
    index = plan.survey.index_at(end.line)
    return min(max(index, 0) + (end.line >= plan.survey.lines), len(plan.survey.layers))


def load_of(plan: Plan, use: CartridgeUse) -> Load:
    """A cartridge of the plan, and what is asked of it."""
    return Load(use.need_ml, use.held_ml, plan.config.cartridge.reserve_ml, use.weighed)


def print_chance(plan: Plan) -> float | None:
    """Chance that any cartridge of the print runs dry, of a rest that is on or still to come.

    None where no spread of it is known.
    """
    spreads = plan.config.spreads
    if not spreads.of_cartridges:
        return None
    return any_dry_chance([load_of(plan, use) for use in cartridges(plan)[on_from(plan) :]], spreads)


def front_span(plan: Plan, pause: Pause) -> tuple[Spot, Spot] | None:
    """Between which two spots the clay of that pause begins to count as showing, in 95 % of all prints.

    None where no spread of it is known. Raises ValueError when the pause is not in the plan.
    """
    spreads = plan.config.spreads
    if not spreads.of_fronts:
        return None
    hose = plan.config.cartridge.hose
    pushed_ml = hose.pushed_ml(pause.shows_share)
    off_ml = reach_sds() * front_sd_ml(0.0, pushed_ml, hose.holdup_ml, spreads)
    middle_ml = front_ml(plan, pause, pause.shows_share)
    early, late = (plan.find_clay(middle_ml + off, pause.spot) for off in (-off_ml, off_ml))
    return early, late
