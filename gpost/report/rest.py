"""The summary of a stopped print's rest: clocks and clay from where it goes on, and nothing that has been."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from gpost.plan.alike import EDITS
from gpost.plan.blocktime import Stop
from gpost.plan.intentions import Restart
from gpost.plan.plan import Plan
from gpost.plan.resume import NAME
from gpost.report.byhand import KnobRecord, SafeRecord, WeighingRecord
from gpost.report.loaded import colour_records
from gpost.report.model import (
    CartridgeRecord,
    Change,
    LayerTable,
    PauseRecord,
    Place,
    Summary,
    Waits,
)
from gpost.report.origin import CameRecord, ResumeRecord, StopRecord
from gpost.report.prepared import clay_records
from gpost.report.raised import raised
from gpost.report.resumed import checks
from gpost.spot import Spot
from gpost.supply.cartridges import colours
from gpost.supply.loads import on_from
from gpost.supply.stopped import Resumption, inside_at
from gpost.survey.layerrows import HEIGHT_STEP_MM
from gpost.write.output import Written

_OF_CLAY = (
    *("cartridge", "load_ml", "rim_min", "hose_min", "shows_at_layer", "shows_at_height_mm"),
    *("shows_low_mm", "shows_high_mm", "air_at_layer", "air_at_height_mm"),
)
"""What a pause says of new clay, and of how long it may last: where it goes on there is none."""

THEN = (
    "It is a piece of a day: when it is done, plan what comes after it anew (gpost day --from the next "
    "piece, with --left-ml)."
)

AS_IT_IS = (
    "whatever is advised here, leave the sliced file and its configs as they are until the piece is done: "
    "changed, they can't be gone on with. Where the rest is to do what you don't want, keep a hand near the "
    "stop, stop it before that, and go on behind it"
)
"""Stands behind what is warned of in a rest: what would mend the file would cost the rest."""
OF_ALL = "what steps note is about the whole print, as it was planned: what has been is not done again"
"""Stands before their notes."""


def rest_of(
    summary: Summary, plan: Plan, written: Written, going: Resumption, earlier: tuple[StopRecord, ...]
) -> Summary:
    """The summary of what is written; `earlier`: the stops before this one."""
    stop = next(stop for stop in plan.stops if stop.intention is going.restart)
    layer = plan.survey.index_at(stop.spot.line) + 1
    own = StopRecord(
        source_line=stop.spot.line,
        fraction=stop.spot.fraction,
        shift_mm=going.found.shift_mm,
        left_ml=going.restart.load_ml or 0.0,
        run_out_ml=going.restart.prime_ml,
        hose_holds=going.stopped.hose_holds,
        done=going.restart.done,
        opens_until_line=written.opens_until(plan),
        waited_min=going.stopped.waited_min,
        waits_line=written.waits_first(plan),
        came=tuple(CameRecord(from_ml=from_ml, percent=100 * share) for from_ml, share in going.turns),
    )
    record = ResumeRecord(
        layer=max(layer, 1),
        top_mm=going.found.end_mm[2],
        off_mm=going.found.off_mm,
        joint=going.found.words,
        gap_mm=going.found.joint.gap_mm,
        overlap_mm=going.found.joint.overlap_mm,
        joint_at_most=going.found.joint.at_most,
        cartridge=going.left.number,
        stops=(*earlier, own),
        checks=tuple(checks(plan, going)),
        sends=going.restart.set_up,
        look=going.stopped.look,
        look_mm=going.restart.look_mm,
        leaves_out=going.left_out,
    )
    table, (on, *later) = summary.layer_table, summary.cartridges[on_from(plan) :]
    on = on.model_copy(update={"is_on": True, "begins_ml": on.to_load_ml})
    kept: dict[str, Any] = {
        "resume": record,
        "time_s": summary.time_s - stop.start_s,
        "clay_ml": summary.clay_ml - stop.start_ml,
        "pauses": tuple(_pause(pause, stop) for pause in summary.pauses),
        "cartridges": (on, *later),
        "clays": clay_records(plan),
        "weighings": tuple(_weighing(weighing, stop) for weighing in summary.weighings),
        "knobs": tuple(_knob(knob, stop) for knob in summary.knobs),
        "colours": colour_records(plan, stop.spot),
        "changes": tuple(filter(None, (_change(change, layer, stop) for change in summary.changes))),
        "layer_table": None if table is None else _table(table, layer, stop, plan),
        "warnings": (*summary.warnings, AS_IT_IS) if _of_file(summary) else summary.warnings,
        "notes": (OF_ALL, *summary.notes) if _of_steps(summary) else summary.notes,
    }
    if going.stopped.look:
        kept["time_s"] = 0.0
        kept["changes"] = tuple(one for one in kept["changes"] if (one.step, one.kind) == (NAME, "pause"))
    by_mm = sum(each.shift_mm for each in record.stops)
    top_mm, _ = plan.survey.heights_between(stop.spot, stop.spot)
    return raised(summary.model_copy(update=kept), top_mm - HEIGHT_STEP_MM, by_mm)


def _of_file(summary: Summary) -> bool:
    """Whether something is warned of that a change of file or config may mend; for clay it isn't advised."""
    return any(not text.startswith("short-clay") for text in summary.warnings)


def _of_steps(summary: Summary) -> bool:
    """Whether a note is a step's own."""
    return any(note.startswith(tuple(f"{step}: " for step in summary.steps)) for note in summary.notes)


def stops_of(summary: Summary) -> tuple[StopRecord, ...]:
    """Where a print has stopped up to a summary of it, in that order.

    An earlier gpost has planned a rest with as much clay in its cartridge as that could hold, and has told
    what was in it beside that.
    """
    if summary.resume is None:
        return ()
    *earlier, last = summary.resume.stops
    begins_ml = summary.cartridges[0].begins_ml if summary.cartridges else None
    if begins_ml is not None and begins_ml < last.left_ml:
        last = last.model_copy(update={"told_ml": begins_ml})
    return *earlier, last


def restart_of(before: Plan, record: StopRecord) -> Restart:
    """Where an earlier output had gone on, of what was printed until then."""
    spot = Spot(record.source_line, record.fraction)
    turns = [(turn.from_ml, turn.percent / 100) for turn in record.came]
    return Restart(
        spot=spot,
        kind=NAME,
        reason="",
        message="",
        prime_ml=record.run_out_ml,
        new_cartridge=True,
        load_ml=record.left_ml,
        told_ml=record.told_ml,
        inside=inside_at(before, spot, turns, record.hose_holds, done=record.done),
        done=record.done,
        waited_s=(record.waited_min or 0.0) * 60,
    )


def rest_in_day(rest: Summary, piece: Summary) -> Summary:
    """The rest of a piece of a day, which says of later cartridges what the day's sheet says.

    `piece`: the summary of the whole piece. A cartridge of which the rest takes more than the day has
    reckoned with is told by the rest, and the one that is on is its own.
    """
    day = {record.number: record for record in piece.cartridges}
    loads = [_load_of_day(record, day.get(record.number)) for record in rest.cartridges[1:]]
    by_number = {record.number: record.load_ml for record in loads}
    pauses = (
        pause
        if pause.load_ml is None or pause.cartridge not in by_number
        else pause.model_copy(update={"load_ml": by_number[pause.cartridge]})
        for pause in rest.pauses
    )
    resume = rest.resume
    if resume is not None and not resume.look:
        resume = resume.model_copy(update={"checks": (*resume.checks, THEN)})
    said = {
        "in_day": True,
        "resume": resume,
        "cartridges": (*rest.cartridges[:1], *loads),
        "pauses": tuple(pauses),
        "weighings": tuple(one for one in rest.weighings if one.cartridge in _numbers(piece.weighings)),
        "knobs": tuple(one for one in rest.knobs if one.cartridge in _numbers(piece.knobs)),
    }
    return rest.model_copy(update=said)


def _numbers(records: Iterable[WeighingRecord | KnobRecord]) -> set[int]:
    return {record.cartridge for record in records}


def _load_of_day(record: CartridgeRecord, day: CartridgeRecord | None) -> CartridgeRecord:
    if day is None or day.load_ml < record.load_ml:
        return record
    told = ("load_ml", "load_g", "sure_load_ml", "sure_load_g", "to_load_ml", "to_load_g", "slugs", "pieces")
    return record.model_copy(update={name: getattr(day, name) for name in told})


def _pause(pause: PauseRecord, stop: Stop) -> PauseRecord:
    since: dict[str, Any] = {
        "clock_s": pause.clock_s - stop.start_s,
        "clay_ml": pause.clay_ml - stop.start_ml,
    }
    if pause.step == NAME:
        since |= dict.fromkeys(_OF_CLAY) | {"new_cartridge": False, "joins": False}
    return pause.model_copy(update=since)


def _weighing(weighing: WeighingRecord, stop: Stop) -> WeighingRecord:
    remedies = tuple(
        remedy.model_copy(update={"safe": _safe(remedy.safe, stop)}) for remedy in weighing.remedies
    )
    return weighing.model_copy(update={"remedies": remedies})


def _knob(knob: KnobRecord, stop: Stop) -> KnobRecord:
    flows = tuple(
        flow.model_copy(update={"safe": _safe(flow.safe, stop), "visit_s": flow.visit_s - stop.start_s})
        for flow in knob.flows
    )
    speeds = tuple(
        speed.model_copy(update={"visit_s": speed.visit_s - stop.start_s}) for speed in knob.speeds
    )
    # a pause that has been where it goes on has no part in it
    since = {"from_s": max(knob.from_s - stop.start_s, 0.0), "visit_s": knob.visit_s - stop.start_s}
    return knob.model_copy(update={**since, "flows": flows, "speeds": speeds})


def _safe(safe: SafeRecord | None, stop: Stop) -> SafeRecord | None:
    return None if safe is None else safe.model_copy(update={"clock_s": safe.clock_s - stop.start_s})


def _change(change: Waits | Change, layer: int, stop: Stop) -> Waits | Change | None:
    """What of a change is in the rest: of what is inserted all that is written."""
    edits = change.kind in EDITS
    where = [
        _since(place, layer, stop)
        for place in change.where
        if place.output_line is not None
        or (place.last_layer >= layer and (edits or place.clock_s >= stop.start_s - 1e-6))
    ]
    if not where:
        return None
    count = change.count if edits else len(where)
    return change.model_copy(update={"where": tuple(where), "count": count})


def _since(place: Place, layer: int, stop: Stop) -> Place:
    clock_s = max(place.clock_s - stop.start_s, 0.0)
    return place.model_copy(update={"layer": max(place.layer, layer), "clock_s": clock_s})


def _table(table: LayerTable, layer: int, stop: Stop, plan: Plan) -> LayerTable:
    """The rows of the layers that are still laid."""
    rows = [row for row, number in enumerate(table.layer) if number >= layer]
    clock_s = np.round(np.array([table.clock_s[row] for row in rows]) - stop.start_s, 1).tolist()
    margin = table.margin
    return table.model_copy(
        update={
            "layer": tuple(table.layer[row] for row in rows),
            "height_mm": tuple(table.height_mm[row] for row in rows),
            "clock_s": tuple(clock_s),
            "age_min": tuple(table.age_min[row] for row in rows),
            "clay_ml": None if table.clay_ml is None else _since_ml(table.clay_ml, rows, plan, stop),
            "margin": None if margin is None else tuple(margin[row] for row in rows),
        }
    )


def _since_ml(clay_ml: Sequence[float], rows: Sequence[int], plan: Plan, stop: Stop) -> tuple[float, ...]:
    """The piece's clay when each of those layers is done, counted from where it goes on."""
    gone_ml = clay_ml[-1] - sum(colours(plan, stop.spot).values())
    return tuple(np.round(np.array([clay_ml[row] for row in rows]) - gone_ml, 3).tolist())
