"""What is loaded, as records: cartridges, slugs, the hose, colours by height, and how sure all of it is."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from gpost.plan.plan import Plan
from gpost.report.defaults import defaults
from gpost.report.model import (
    CartridgeRecord,
    ColourRecord,
    EdgeRecord,
    LineRecord,
    SharesRecord,
    SlugRecord,
    SureRecord,
)
from gpost.spot import Spot
from gpost.supply.cartridges import (
    CartridgeUse,
    cartridges,
    colours,
    contents,
    line_at_end,
    misfit_of_colours,
)
from gpost.supply.edges import Edge, edges_of
from gpost.supply.loading import going_in, grams, slugs_of
from gpost.supply.reach import reach
from gpost.supply.slugs import Slug
from gpost.supply.sure import DryRisk, dry_risks, print_chance, taken_chance, told_ml
from gpost.supply.unsure import missing_trials
from gpost.supply.weights import weigh
from gpost.words import say


def line_record(plan: Plan) -> LineRecord:
    """The hose at the start and at the end."""
    line_ml, inside = plan.config.cartridge.line_ml, contents(plan)
    slugs = tuple(slug_record(slug) for slug in slugs_of(plan, inside) if not slug.cartridge)
    held = {clay: None for slug in slugs for clay in slug.clays} or inside.first
    return LineRecord(
        clay_ml=line_ml, at_start=_in_turn(held), at_end=line_at_end(plan), slugs=_if_several(slugs)
    )


def _in_turn(clays: Iterable[str]) -> str:
    """Clays as they come out one after the other."""
    first, *others = [*clays] or [""]
    for clay in others:
        first = say("names.in_turn", first=first, then=clay)
    return first


def loaded_from(plan: Plan) -> str | None:
    """The end at which cartridges are filled; None where nothing hangs on it."""
    return None if plan.config.colours is None else plan.config.colours.loaded_from


def edge_records(plan: Plan) -> tuple[EdgeRecord, ...]:
    """Where one band follows another; none without bands."""
    bands = plan.config.colours
    if bands is None or misfit_of_colours(plan):
        return ()
    return tuple(map(_edge, edges_of(plan, bands).edges))


def _edge(edge: Edge) -> EdgeRecord:
    return EdgeRecord(
        clays=edge.wish.mix,
        wanted_mm=edge.wish.from_mm,
        start_mm=edge.start_mm,
        half_mm=edge.half_mm,
        full_mm=edge.full_mm,
        low_mm=edge.low_mm,
        high_mm=edge.high_mm,
    )


def slug_records(slugs: Sequence[Slug]) -> tuple[SlugRecord, ...]:
    """What is in a cartridge, in that order; nothing for one of one clay."""
    return _if_several(tuple(map(slug_record, slugs)))


def slug_record(slug: Slug) -> SlugRecord:
    """A slug of cartridge or hose."""
    return SlugRecord(
        clays=slug.mix,
        clay_ml=slug.clay_ml,
        wet_g=slug.wet_g,
        length_mm=slug.length_mm,
        reserve=slug.reserve,
    )


def _if_several(slugs: Sequence[SlugRecord]) -> tuple[SlugRecord, ...]:
    """Slugs, if they are not all of one clay."""
    return tuple(slugs) if len({tuple(slug.clays.items()) for slug in slugs}) > 1 else ()


def sure_record(plan: Plan) -> SureRecord:
    """How far the amounts may be off, and what that comes to."""
    spreads, chance = plan.config.spreads, print_chance(plan)
    return SureRecord(
        metered_percent=_percent(spreads.metered),
        density_percent=_percent(spreads.density),
        line_ml=spreads.line_ml,
        reserve_ml=spreads.reserve_ml,
        taken_percent=100 * taken_chance(plan),
        dry_percent=_percent(chance),
        trials=tuple(trial.sentence for trial in missing_trials(plan)),
        defaults=defaults(plan.config),
    )


def _percent(share: float | None) -> float | None:
    return None if share is None else 100 * share


def cartridge_records(plan: Plan) -> tuple[CartridgeRecord, ...]:
    """What is taken out of each, and what must be in it."""
    uses, config = cartridges(plan), plan.config
    risks: list[DryRisk | None] = [*dry_risks(plan)] or [None] * len(uses)
    bands = config.colours
    inside = list(slugs_of(plan, contents(plan))) if bands is not None else []
    found = []
    for use, risk in zip(uses, risks, strict=True):
        own = [slug for slug in inside if slug.cartridge == use.number]
        slugs = going_in(own, bands.loaded_from) if bands is not None else []
        found.append(_cartridge(plan, use, risk, slugs))
    return tuple(found)


def _cartridge(plan: Plan, use: CartridgeUse, risk: DryRisk | None, slugs: Sequence[Slug]) -> CartridgeRecord:
    config, to_load_ml = plan.config, told_ml(plan, use)
    reserve_ml, mass = config.cartridge.reserve_ml, weigh(config, use.amounts_ml)
    load_ml = use.need_ml + reserve_ml
    sure_ml = None if risk is None else risk.sure_load_ml
    return CartridgeRecord(
        number=use.number,
        colour=use.colour,
        clay_ml=use.clay_ml,
        wet_g=use.wet_g,
        dry_g=mass.dry_g,
        water_g=mass.water_g,
        usable_ml=use.usable_ml,
        need_ml=use.need_ml,
        over_ml=use.over_ml,
        load_ml=load_ml,
        load_g=grams(config, use, slugs, load_ml),
        sure_load_ml=sure_ml,
        sure_load_g=None if sure_ml is None else grams(config, use, slugs, sure_ml),
        to_load_ml=to_load_ml,
        to_load_g=grams(config, use, slugs, to_load_ml),
        dry_percent=None if risk is None else 100 * risk.dry_chance,
        early_layers=0 if risk is None else risk.early_layers,
        slugs=_if_several(tuple(map(slug_record, slugs))),
    )


def colour_records(plan: Plan, start: Spot | None = None) -> tuple[ColourRecord, ...]:
    """All that leaves the nozzle, from a spot on, clay by clay."""
    piece, config = colours(plan, start), plan.config
    return tuple(
        ColourRecord(
            colour=colour,
            clay_ml=clay_ml,
            wet_g=weigh(config, {colour: clay_ml}).wet_g,
            piece_ml=piece.get(colour, 0.0),
        )
        for colour, clay_ml in colours(plan, start or Spot(0), purges=True).items()
    )


def share_records(plan: Plan) -> tuple[SharesRecord, ...]:
    """The colours by height, where they change; of one piece, for several have no one height."""
    if plan.survey.pieces != 1 or len(contents(plan).clays) < 2:
        return ()
    found, restart = reach(plan), plan.restart
    first = 0 if restart is None else max(plan.survey.index_at(restart.spot.line), 0)
    return tuple(
        SharesRecord(
            layer=index + 1, height_mm=round(float(found.height_mm[index]), 3), clays=found.mix(index)
        )
        for index in found.changes(first)
    )
