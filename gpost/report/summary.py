"""Makes the summary from the plan and from what was written."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from gpost import __version__
from gpost.config.metering import ml_per_unit, path_bead
from gpost.config.model import Config
from gpost.plan.intentions import Rehearse
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.report.changes import changes
from gpost.report.layertable import layer_table
from gpost.report.loaded import (
    cartridge_records,
    colour_records,
    edge_records,
    line_record,
    loaded_from,
    share_records,
    sure_record,
)
from gpost.report.model import (
    CommandRecord,
    LineRecord,
    MeteringRecord,
    PieceRecord,
    Summary,
    SureRecord,
    TicksRecord,
)
from gpost.report.origin import StopRecord
from gpost.report.pauses import pauses
from gpost.report.places import Places
from gpost.report.prepared import clay_records, piece_record, slab_record
from gpost.report.turned import knob_records, weighing_records
from gpost.words import say
from gpost.write.output import Written

if TYPE_CHECKING:
    from gpost.supply.stopped import Resumption

__all__ = ["CAUTIONS", "Summary", "summarise"]

CAUTIONS = (
    say("cautions.moves"),
    say("cautions.dust"),
    say("cautions.water"),
    say("cautions.food"),
    say("cautions.codes"),
)


def summarise(
    plan: Plan,
    written: Written,
    found: Sequence[Finding] = (),
    *,
    source: str,
    output: str,
    going: Resumption | None = None,
    earlier: tuple[StopRecord, ...] = (),
) -> Summary:
    """The summary of a finished job; `source` and `output` are the names to show for the two files.

    `found`: what was found about it, whose warnings and notes it shows. `going`: it is the rest of a stopped
    print, which had stopped `earlier` too.

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
        piece=piece_record(plan),
        metering=_metering(plan.config),
        output_lines=written.lines,
        output_bytes=written.size_bytes,
        pauses=pauses(plan, written, places),
        line=line_record(plan),
        clays=clay_records(plan),
        slab=slab_record(plan),
        cartridges=cartridge_records(plan),
        weighings=weighing_records(plan),
        knobs=knob_records(plan),
        sure=sure_record(plan),
        colours=colour_records(plan),
        shares=share_records(plan),
        edges=edge_records(plan),
        loaded_from=loaded_from(plan),
        changes=changes(plan, written),
        commands=_commands(written),
        layer_table=layer_table(plan),
        ticks=_ticks(plan),
        notes=tuple(finding.sentence for finding in found if finding.severity == "note"),
        warnings=tuple(finding.sentence for finding in found if finding.severity == "warning"),
        cautions=CAUTIONS,
    )
    rehearsals = plan.of(Rehearse)
    if going is not None:
        from gpost.report.rest import rest_of

        done = rest_of(done, plan, written, going, earlier)
        return _dry(done) if done.dry else done
    return _dry(done.model_copy(update={"rehearsal_mm": rehearsals[0].raise_mm})) if rehearsals else done


def _dry(summary: Summary) -> Summary:
    """The summary of a rehearsal: nothing to load, nothing to weigh, nobody to be there for.

    One of the way to where a stopped print goes on begins with a wait.
    """
    return summary.model_copy(
        update={
            "clay_ml": 0.0,
            "piece": PieceRecord(),
            "metering": None,
            "pauses": () if summary.resume is None else summary.pauses[:1],
            "line": LineRecord(),
            "clays": (),
            "cartridges": (),
            "weighings": (),
            "knobs": (),
            "edges": (),
            "sure": SureRecord(),
            "colours": (),
            "shares": (),
            "layer_table": None,
            "ticks": TicksRecord(),
        }
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


def _ticks(plan: Plan) -> TicksRecord:
    """What to tick off round the print, or round its rest."""
    sheet = plan.config.sheet
    found = sheet if plan.restart is None else sheet.of_rest()
    return TicksRecord(before=found.before, during=found.during, after=found.after)


def _metering(config: Config) -> MeteringRecord:
    clay, bead = config.clay, path_bead(config)
    return MeteringRecord(
        file=config.origin.metering or None,
        unit=clay.metering.unit,
        ml_per_unit=ml_per_unit(clay.metering),
        wet_density_g_ml=clay.wet_density_g_ml,
        path_bead=None if bead is None else bead.words,
    )
