"""How much of each clay to wedge for a job, what it is for, and the stain that goes in."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, NamedTuple

from gpost.config.model import Config
from gpost.plan.intentions import Ground
from gpost.plan.plan import Plan
from gpost.spot import Spot
from gpost.supply.bands import Mix
from gpost.supply.cartridges import CartridgeUse, cartridges, colours, contents
from gpost.supply.loading import slugs_of
from gpost.supply.loads import on_from, since_ml
from gpost.supply.rest import rest_contents
from gpost.supply.sure import loaded_ml, taken_chance, told_ml
from gpost.supply.weights import weigh

if TYPE_CHECKING:
    from gpost.clay.stain import Batch


class ClayNeed(NamedTuple):
    """One clay of a job, ml as printed."""

    name: str
    piece_ml: float = 0.0
    """In the piece."""
    beside_ml: float = 0.0
    """Run out beside it: purges and primes."""
    left_ml: float = 0.0
    """What stays in hose and cartridges: reserve, margin, and what has not come by the end."""
    slab_ml: float = 0.0
    on_ml: float = 0.0
    """Of all that, what is in hose and cartridge already."""

    @property
    def clay_ml(self) -> float:
        """All of it that is still to be wedged, the waste left out."""
        return self.piece_ml + self.beside_ml + self.left_ml + self.slab_ml - self.on_ml


class ClayRow(NamedTuple):
    """A clay to wedge."""

    need: ClayNeed
    waste_ml: float
    """What gets lost on the way (`clay: waste_percent`)."""
    wet_g: float
    """Wet mass of all of it, with the waste."""
    batch: Batch | None
    """What colours it; None: nothing, or the studio doesn't say."""

    @property
    def clay_ml(self) -> float:
        """All of it, the waste counted."""
        return self.need.clay_ml + self.waste_ml


def clay_needs(plan: Plan) -> list[ClayNeed]:
    """Each clay of the job, in the order in which it is needed: as much as is loaded, and the slab's.

    Each cartridge counts with what is told to be in it, its reserve and margin included; the hose
    as full at the start. Of a rest: from where it goes on, with what is in the cartridge that is on, and
    without a slab.
    """
    config, inside, restart = plan.config, contents(plan), plan.restart
    loaded, on = dict[str, float](), dict[str, float]()
    begins_ml, uses = since_ml(plan), cartridges(plan)[on_from(plan) :]
    for mix, ml in inside.between(begins_ml - config.cartridge.line_ml, begins_ml):
        _add(loaded, _parts(mix, ml))
    if restart is not None:
        _add(on, loaded)
        first, *uses = uses
        least_ml, held_ml = must_hold_ml(plan, first), told_ml(plan, first)
        # what is put on later is none of it, be that due at once
        column = rest_contents(plan, restart, ()) if restart.inside else inside
        for found, ml in ((on, held_ml), (loaded, max(least_ml, held_ml))):
            for mix, part_ml in column.between(begins_ml, begins_ml + ml):
                _add(found, _parts(mix, part_ml))
    later = {use.number for use in uses}
    for slug in slugs_of(plan, inside):
        if slug.cartridge in later:  # reserve and margin are of the last slug's clay, not of its mean
            _add(loaded, _parts(slug.mix, slug.clay_ml))
    slabs: dict[str, float] = {}
    for ground in plan.of(Ground) if restart is None else ():
        _add(slabs, {ground.colour or config.clay.colour: ground.clay_ml})
    start = None if restart is None else restart.spot
    piece, out = colours(plan, start), colours(plan, start or Spot(0), purges=True)
    return [
        ClayNeed(
            clay,
            piece.get(clay, 0.0),
            out.get(clay, 0.0) - piece.get(clay, 0.0),
            loaded.get(clay, 0.0) - out.get(clay, 0.0),
            slabs.get(clay, 0.0),
            on.get(clay, 0.0),
        )
        for clay in dict.fromkeys([*loaded, *(clay for clay, ml in slabs.items() if ml)])
    ]


def must_hold_ml(plan: Plan, use: CartridgeUse) -> float:
    """What must be in a cartridge of a plan, its reserve and margin included, ml."""
    return loaded_ml(plan.config, use.need_ml, taken_chance(plan))


def _parts(mix: Mix, ml: float) -> dict[str, float]:
    return {clay: share * ml for clay, share in mix.items()}


def added(needs: Iterable[ClayNeed]) -> list[ClayNeed]:
    """The same clays of several jobs as one need each, in the order in which they first come."""
    found: dict[str, ClayNeed] = {}
    for need in needs:
        before = found.get(need.name, ClayNeed(need.name))
        sums = (old + new for old, new in zip(before[1:], need[1:], strict=True))
        found[need.name] = ClayNeed(need.name, *sums)
    return list(found.values())


def clay_row(config: Config, need: ClayNeed) -> ClayRow:
    """What to wedge for a need, with the config's waste and the studio's stain."""
    waste = config.clay.waste_percent / 100
    waste_ml = need.clay_ml * waste / (1 - waste)
    wet_g = weigh(config, {need.name: need.clay_ml + waste_ml}).wet_g
    own = next((clay for clay in config.clays if clay.name == need.name), None)
    if own is None or not own.stains or wet_g <= 0:
        return ClayRow(need, waste_ml, wet_g, None)
    from gpost.clay.stain import batch

    water = config.clay.water_percent if own.water_percent is None else own.water_percent
    stains = {stain.name: stain.percent for stain in own.stains}
    return ClayRow(need, waste_ml, wet_g, batch(wet_g, water, stains))


def _add(found: dict[str, float], more: dict[str, float]) -> None:
    for clay, ml in more.items():
        found[clay] = found.get(clay, 0.0) + ml
