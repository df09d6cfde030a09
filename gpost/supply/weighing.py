"""What the weight of a cartridge that is taken off says of the next one."""

from __future__ import annotations

import dataclasses
from itertools import pairwise
from typing import NamedTuple

from gpost.clay.byhand import Taken
from gpost.clay.chances import Load, sure_ml
from gpost.plan.plan import Plan
from gpost.supply.cartridges import CartridgeUse, cartridges, contents, mixes_of, owed_ml
from gpost.supply.loading import grams, slugs_of
from gpost.supply.loads import needs, on_from
from gpost.supply.safelayers import SafeLayer, safe_layer
from gpost.supply.sure import taken_chance, told_ml
from gpost.supply.weights import weigh

FLOWS = (0.9, 0.95, 1.05, 1.1)
"""Shares of the expected clay for which it is said what to do."""
MOST = 1.2
"""And no more than that where it runs dry."""

APART = 0.02
"""Shares that lie nearer than this to the one at which it runs dry are left out."""
LEAST_MORE = 0.005
"""One that runs dry with less more clay than this tells nothing by its weight."""


class Remedy(NamedTuple):
    """What to do if that share of the expected clay has come."""

    flow: float
    left_g: float
    """Wet mass of what is still in the cartridge that is taken off."""
    more_ml: float
    """To load into the next one beyond what was told; below 0: so much less will do."""
    more_g: float
    safe: SafeLayer | None
    """How far the next one goes, if even a full one doesn't do."""
    dry: bool
    """Whether it may have run dry by then, so that as much has come or more."""


class Weighing(NamedTuple):
    """A cartridge that is taken off, and what follows from its weight."""

    number: int
    held_ml: float
    held_g: float
    """Wet mass of that, when it is put on."""
    left_g: float
    """Wet mass of what is to be in it when it is taken off."""
    low_g: float | None
    """From here to `high_g` nothing is to do; None: no spread is known, and every difference counts."""
    high_g: float | None
    remedies: tuple[Remedy, ...]
    """From the heaviest to the lightest."""
    several: bool
    """Whether the next one is loaded with more clays than one, of which each is to be more or less."""


def weighings(plan: Plan) -> list[Weighing]:
    """One for each cartridge that is still taken off for another."""
    first, inside = on_from(plan), contents(plan)
    slugs = [] if plan.config.colours is None else list(slugs_of(plan, inside))
    uses, asked = cartridges(plan)[first:], needs(plan)[first:]
    found = []
    for (use, following), (own, next_own) in zip(pairwise(uses), pairwise(asked), strict=True):
        left = mixes_of(inside, own.load, own.need_ml)[-1][0]
        following_one = _Following(following, next_own.load.start_ml, told_ml(plan, following))
        held_g = grams(plan.config, use, slugs, told_ml(plan, use))
        found.append(_weighing(plan, use, following_one, held_g, weigh(plan.config, left).wet_g))
    return found


class _Following(NamedTuple):
    """The cartridge that is put on next."""

    use: CartridgeUse
    start_ml: float
    """Net clay before it."""
    told_ml: float


def _weighing(
    plan: Plan, use: CartridgeUse, following: _Following, held_g: float, g_per_ml: float
) -> Weighing:
    """`g_per_ml`: of the clay that is left in it."""
    cartridge, held_ml = plan.config.cartridge, told_ml(plan, use)
    # what is drawn back before the wait is in it again when it comes off
    out_ml = use.clay_ml + use.owed_ml - owed_ml(plan)
    taken = Taken(held_ml, out_ml, held_ml < cartridge.volume_ml)
    usual = taken.usual_share(plan.config.spreads)
    dry = (held_ml - cartridge.reserve_ml) / out_ml if out_ml > 0 else float("inf")
    spare = (following.told_ml - cartridge.reserve_ml) / max(following.use.need_ml, 1e-9)
    # more clay than usual is never "nothing to do" where it empties this cartridge or the next
    most = None if usual is None else max(min(1 + usual, dry, spare), 1.0)
    least = None if usual is None else 1 - usual
    outside = [flow for flow in FLOWS if not (least or 1.0) <= flow <= (most or 1.0)]
    if plan.config.spreads.reserve_ml is None:  # a limit: it may give more than that before it runs dry
        flows = [flow for flow in outside if taken.left_ml(flow) > 0]
    else:
        flows = [flow for flow in outside if flow < dry - APART]
        flows += [dry] if 1.0 + LEAST_MORE <= dry <= MOST else []
    found = [_remedy(plan, taken, following, flow, g_per_ml, dry=flow >= dry) for flow in flows]
    return Weighing(
        use.number,
        held_ml,
        held_g,
        taken.left_ml(1.0) * g_per_ml,
        None if most is None else taken.left_ml(most) * g_per_ml,
        None if least is None else taken.left_ml(least) * g_per_ml,
        tuple(found),
        len(following.use.amounts_ml) > 1,
    )


def _remedy(
    plan: Plan, taken: Taken, following: _Following, flow: float, g_per_ml: float, *, dry: bool
) -> Remedy:
    """The next one must hold that share of its need, and what was told beyond it: reserve and margin."""
    cartridge, use = plan.config.cartridge, following.use
    more_ml, room_ml = (flow - 1) * use.need_ml, cartridge.volume_ml - following.told_ml
    safe = None
    if more_ml > room_ml:
        more_ml = room_ml
        known = dataclasses.replace(plan.config.spreads, metered=None)  # the scales have told
        full = Load(0.0, cartridge.volume_ml, cartridge.reserve_ml, weighed=False)
        reach_ml = sure_ml(full, known, taken_chance(plan)) / flow
        safe = safe_layer(plan, use, following.start_ml, reach_ml)
    more_g = weigh(plan.config, use.parts_of(abs(more_ml))).wet_g
    return Remedy(
        flow, taken.left_ml(flow) * g_per_ml, more_ml, more_g if more_ml >= 0 else -more_g, safe, dry
    )
