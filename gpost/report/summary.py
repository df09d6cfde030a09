"""Makes the summary from the plan and from what was written."""

from __future__ import annotations

from collections.abc import Sequence

from gpost import __version__
from gpost.clay.water import Size, fired_size, masses
from gpost.config.metering import ml_per_unit
from gpost.config.model import Config
from gpost.plan.intentions import Pause, Rehearse
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.report.changes import changes
from gpost.report.defaults import defaults
from gpost.report.layertable import layer_table
from gpost.report.model import (
    CartridgeRecord,
    ColourRecord,
    CommandRecord,
    LineRecord,
    MeteringRecord,
    PauseRecord,
    PieceRecord,
    SharesRecord,
    Summary,
    SureRecord,
)
from gpost.report.places import Places
from gpost.spot import Spot
from gpost.supply.cartridges import CartridgeUse, cartridges, clay_at, colours, front_spot, line_at_end
from gpost.supply.fronts import height_of
from gpost.supply.reach import reach
from gpost.supply.sure import DryRisk, dry_risks, front_span, print_chance, taken_chance
from gpost.survey.model import OwnPause
from gpost.write.output import Written

__all__ = ["CAUTIONS", "Summary", "summarise"]

CAUTIONS = (
    "The machine moves again when a pause ends. Reach in only while it stands still, keep hair and "
    "sleeves clear, and take your hands out before you let it go on.",
    "Dry clay dust holds silica, and stains and oxides can be poisonous powders. Keep it damp, wipe up "
    "wet, don't sweep or sand dry, and wear a mask that fits when there is dust.",
    "Keep water and wet clay away from plugs, power supplies and boards; unplug before you clean.",
    "As printed the piece is not food-safe.",
    "Local codes and the sheets of your machine and materials come before anything said here.",
)


def summarise(
    plan: Plan, written: Written, found: Sequence[Finding] = (), *, source: str, output: str
) -> Summary:
    """The summary of a finished job; `source` and `output` are the names to show for the two files.

    `found`: what was found about it, whose warnings and notes it shows.

    Raises KeyError if a pause of the plan was not written: then the output is not to be trusted.
    """
    survey, places = plan.survey, Places(plan)
    done = Summary(
        gpost_version=__version__,
        source=source,
        output=output,
        steps=plan.steps,
        layers=len(survey.layers),
        height_mm=survey.height_mm if len(survey.layers) else 0.0,
        time_s=plan.total_s,
        clay_ml=plan.total_ml,
        piece=_piece(plan),
        metering=_metering(plan.config),
        output_lines=written.lines,
        output_bytes=written.size_bytes,
        pauses=_pauses(plan, written, places),
        line=_line(plan),
        cartridges=_cartridges(plan),
        sure=_sure(plan),
        colours=_colours(plan),
        shares=_shares(plan),
        changes=changes(plan, written),
        commands=_commands(written),
        layer_table=layer_table(plan),
        notes=tuple(finding.sentence for finding in found if finding.severity == "note"),
        warnings=tuple(finding.sentence for finding in found if finding.severity == "warning"),
        cautions=CAUTIONS,
    )
    rehearsals = plan.of(Rehearse)
    return _dry(done, rehearsals[0].raise_mm) if rehearsals else done


def _dry(summary: Summary, raise_mm: float) -> Summary:
    """The summary of a rehearsal: nothing to load, nothing to weigh, nobody to be there for."""
    return summary.model_copy(
        update={
            "rehearsal_mm": raise_mm,
            "clay_ml": 0.0,
            "piece": PieceRecord(),
            "metering": None,
            "pauses": (),
            "line": LineRecord(),
            "cartridges": (),
            "sure": SureRecord(),
            "colours": (),
            "shares": (),
            "layer_table": None,
        }
    )


def _pauses(plan: Plan, written: Written, places: Places) -> tuple[PauseRecord, ...]:
    found = [
        (index, entry.step, entry.intention)
        for index, entry in enumerate(plan.entries)
        if isinstance(entry.intention, Pause)
    ]
    records = [
        (pause.spot, _pause(plan, pause, places, step=step, output_line=written.places[index][0]))
        for index, step, pause in found
    ]
    records += [
        (Spot(own.line), _own_pause(plan, own, places, output_line=written.own_pauses[own.line]))
        for own in plan.own_pauses
    ]
    return tuple(record for _, record in sorted(records, key=lambda item: item[0]))


def _own_pause(plan: Plan, own: OwnPause, places: Places, *, output_line: int) -> PauseRecord:
    spot = Spot(own.line)
    return PauseRecord(
        step="",
        kind="own",
        reason=f"the file's own {own.command}",
        message="",
        layer=places.layer(spot.line),
        height_mm=plan.survey.height_at(spot),
        output_line=output_line,
        clay_ml=plan.clay_before(spot),
        clock_s=plan.clock_at(spot),
        new_cartridge=False,
        colour=None,
        load_ml=None,
        prime_ml=0.0,
        shows_at_layer=None,
        shows_at_height_mm=None,
    )


def _pause(plan: Plan, pause: Pause, places: Places, *, step: str, output_line: int) -> PauseRecord:
    shows = _shows(plan, pause)
    low_mm, high_mm = _shows_between(plan, pause) if shows is not None else (None, None)
    return PauseRecord(
        step=step,
        kind=pause.kind,
        reason=pause.reason,
        message=pause.message,
        layer=places.layer(pause.spot.line),
        height_mm=plan.survey.height_at(pause.spot),
        output_line=output_line,
        clay_ml=clay_at(plan, pause),
        clock_s=plan.clock_at(pause.spot),
        new_cartridge=pause.new_cartridge,
        colour=pause.colour,
        load_ml=pause.load_ml,
        prime_ml=pause.prime_ml,
        lay_ml=0.0 if pause.lay is None else pause.lay.clay_ml,
        shows_at_layer=None if shows is None else places.layer(shows.line),
        shows_at_height_mm=None if shows is None else plan.survey.height_at(shows),
        shows_low_mm=low_mm,
        shows_high_mm=high_mm,
    )


def _shows_between(plan: Plan, pause: Pause) -> tuple[float | None, float | None]:
    """The heights between which the new clay shows in 95 prints of 100."""
    span = front_span(plan, pause)
    if span is None:
        return None, None
    early, late = span
    return height_of(plan, early), height_of(plan, late)


def _shows(plan: Plan, pause: Pause) -> Spot | None:
    """Where the new clay reaches the nozzle; None if there is none, or it never does."""
    if not pause.new_cartridge:
        return None
    front = front_spot(plan, pause)
    return front if front.line < plan.survey.lines else None


def _piece(plan: Plan) -> PieceRecord:
    """Mass of the piece, and its fired size; it stands on the bed's zero."""
    if not len(plan.survey.layers):
        return PieceRecord()
    clay, (x_mm, y_mm, _) = plan.config.clay, plan.survey.bounds_mm
    clay_ml = sum(colours(plan).values())
    mass = masses(clay_ml, clay.wet_density_g_ml, clay.water_percent)
    printed = Size(x_mm[1] - x_mm[0], y_mm[1] - y_mm[0], plan.survey.height_mm)
    fired = fired_size(printed, clay.shrinkage_percent, clay.shrinkage_z_percent)
    return PieceRecord(
        clay_ml=clay_ml,
        wet_g=mass.wet_g,
        dry_g=mass.dry_g,
        water_g=mass.water_g,
        fired_x_mm=fired.x_mm,
        fired_y_mm=fired.y_mm,
        fired_height_mm=fired.z_mm,
    )


def _commands(written: Written) -> tuple[CommandRecord, ...]:
    return tuple(
        CommandRecord(
            command=sent.command,
            kind=sent.kind,
            count=sent.times,
            first_output_line=sent.first_line,
            step=", ".join(sent.steps),
        )
        for sent in written.sent
    )


def _metering(config: Config) -> MeteringRecord:
    clay = config.clay
    return MeteringRecord(
        file=config.origin.metering or None,
        unit=clay.metering.unit,
        ml_per_unit=ml_per_unit(clay.metering),
        wet_density_g_ml=clay.wet_density_g_ml,
    )


def _line(plan: Plan) -> LineRecord:
    line_ml = plan.config.cartridge.line_ml
    return LineRecord(clay_ml=line_ml, at_start=plan.config.clay.colour, at_end=line_at_end(plan))


def _sure(plan: Plan) -> SureRecord:
    spreads, chance = plan.config.spreads, print_chance(plan)
    return SureRecord(
        metered_percent=_percent(spreads.metered),
        density_percent=_percent(spreads.density),
        line_ml=spreads.line_ml,
        reserve_ml=spreads.reserve_ml,
        taken_percent=100 * taken_chance(plan),
        dry_percent=_percent(chance),
        defaults=defaults(plan.config),
    )


def _percent(share: float | None) -> float | None:
    return None if share is None else 100 * share


def _cartridges(plan: Plan) -> tuple[CartridgeRecord, ...]:
    risks: list[DryRisk | None] = [*dry_risks(plan)]
    uses = cartridges(plan)
    return tuple(
        _cartridge(plan, use, risk) for use, risk in zip(uses, risks or [None] * len(uses), strict=True)
    )


def _cartridge(plan: Plan, use: CartridgeUse, risk: DryRisk | None) -> CartridgeRecord:
    clay, reserve_ml = plan.config.clay, plan.config.cartridge.reserve_ml
    mass = masses(use.clay_ml, clay.wet_density_g_ml, clay.water_percent)
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
        load_ml=use.need_ml + reserve_ml,
        load_g=(use.need_ml + reserve_ml) * clay.wet_density_g_ml,
        sure_load_ml=None if risk is None else risk.sure_load_ml,
        sure_load_g=None if risk is None else risk.sure_load_ml * clay.wet_density_g_ml,
        dry_percent=None if risk is None else 100 * risk.dry_chance,
        early_layers=0 if risk is None else risk.early_layers,
    )


def _colours(plan: Plan) -> tuple[ColourRecord, ...]:
    density = plan.config.clay.wet_density_g_ml
    piece = colours(plan)
    return tuple(
        ColourRecord(colour=colour, clay_ml=clay_ml, wet_g=clay_ml * density, piece_ml=piece.get(colour, 0.0))
        for colour, clay_ml in colours(plan, Spot(0), purges=True).items()
    )


def _shares(plan: Plan) -> tuple[SharesRecord, ...]:
    """The colours by height, where they change; of one piece, for several have no one height."""
    if plan.survey.pieces != 1 or len({use.colour for use in cartridges(plan)}) < 2:
        return ()
    found = reach(plan)
    return tuple(
        SharesRecord(
            layer=index + 1, height_mm=round(float(found.height_mm[index]), 3), clays=found.mix(index)
        )
        for index in found.changes()
    )
