"""The summary of a stopped print's rest: clocks and clay from where it goes on, and nothing that has been."""

from __future__ import annotations

from typing import Any

import numpy as np

from gpost.plan.plan import Plan, Stop
from gpost.report.loaded import colour_records, slug_record
from gpost.report.model import (
    Change,
    ColourRecord,
    LayerTable,
    LineRecord,
    PauseRecord,
    Place,
    Summary,
    Waits,
)
from gpost.report.origin import CameRecord, ResumeRecord, StopRecord
from gpost.report.resumed import checks
from gpost.spot import Spot
from gpost.supply.bands import name_of
from gpost.supply.cartridges import contents, line_at_end
from gpost.supply.loads import loads
from gpost.supply.slugs import Slug
from gpost.supply.stopped import Resumption
from gpost.supply.weights import weigh

_OF_CLAY = (
    *("cartridge", "load_ml", "rim_min", "hose_min", "shows_at_layer", "shows_at_height_mm"),
    *("shows_low_mm", "shows_high_mm", "air_at_layer", "air_at_height_mm"),
)
"""What a pause says of new clay, and of how long it may last: where it goes on there is none."""


def rest_of(summary: Summary, plan: Plan, going: Resumption, earlier: tuple[StopRecord, ...]) -> Summary:
    """The summary of what is written; `earlier`: the stops before this one."""
    stop = next(stop for stop in plan.stops if stop.intention is going.restart)
    layer = plan.survey.index_at(stop.spot.line) + 1
    place = _place(plan)
    on = next(at for at, load in enumerate(loads(plan)) if at and load.place == place)
    own = StopRecord(
        source_line=stop.spot.line,
        fraction=stop.spot.fraction,
        shift_mm=going.found.shift_mm,
        left_ml=going.restart.load_ml or 0.0,
        run_out_ml=going.restart.prime_ml,
        hose_holds=going.stopped.hose_holds,
        came=tuple(CameRecord(from_ml=from_ml, percent=100 * share) for from_ml, share in going.turns),
    )
    record = ResumeRecord(
        layer=max(layer, 1),
        top_mm=going.found.end_mm[2],
        off_mm=going.found.off_mm,
        joint=going.found.words,
        cartridge=going.left.number,
        stops=(*earlier, own),
        checks=tuple(checks(plan, going)),
        sends=going.restart.set_up,
        look=going.stopped.look,
        leaves_out=going.left_out,
    )
    kept: dict[str, Any] = {
        "resume": record,
        "time_s": summary.time_s - stop.start_s,
        "clay_ml": summary.clay_ml - stop.start_ml,
        "pauses": tuple(_pause(pause, stop) for pause in summary.pauses),
        "cartridges": summary.cartridges[on:],
        "clays": (),
        "line": _line(plan, stop),
        "colours": _colours(plan, stop.spot),
        "shares": tuple(share for share in summary.shares if share.layer >= layer),
        "changes": tuple(filter(None, (_change(change, layer, stop) for change in summary.changes))),
        "layer_table": None if summary.layer_table is None else _table(summary.layer_table, layer, stop),
    }
    if going.stopped.look:
        kept |= {"time_s": 0.0, "clay_ml": 0.0, "pauses": kept["pauses"][:1], "cartridges": (), "colours": ()}
        kept |= {"shares": (), "layer_table": None, "line": LineRecord(), "edges": ()}
    return summary.model_copy(update=kept)


def _place(plan: Plan) -> int:
    return next(at for at, item in enumerate(plan.insertions) if item.intention is plan.restart)


def _pause(pause: PauseRecord, stop: Stop) -> PauseRecord:
    since: dict[str, Any] = {
        "clock_s": pause.clock_s - stop.start_s,
        "clay_ml": pause.clay_ml - stop.start_ml,
    }
    if pause.step == "resume":
        since |= dict.fromkeys(_OF_CLAY) | {"new_cartridge": False, "joins": False}
    return pause.model_copy(update=since)


def _line(plan: Plan, stop: Stop) -> LineRecord:
    """The hose where it goes on, and at the end."""
    line_ml = plan.config.cartridge.line_ml
    held = [*contents(plan).between(stop.start_ml - line_ml, stop.start_ml)]
    slugs = [
        Slug(0, mix, ml, weigh(plan.config, {clay: share * ml for clay, share in mix.items()}).wet_g, None)
        for mix, ml in held
    ]
    return LineRecord(
        clay_ml=line_ml,
        at_start=", then ".join(dict.fromkeys(name_of(mix) for mix, _ in held)),
        at_end=line_at_end(plan),
        slugs=tuple(map(slug_record, slugs)) if len(slugs) > 1 else (),
    )


def _colours(plan: Plan, spot: Spot) -> tuple[ColourRecord, ...]:
    return colour_records(plan, spot)


def _change(change: Waits | Change, layer: int, stop: Stop) -> Waits | Change | None:
    """What of a change is in the rest."""
    edits = change.kind in ("feed", "flow", "shift", "silence")
    where = [
        _since(place, layer, stop)
        for place in change.where
        if place.last_layer >= layer and (edits or place.clock_s >= stop.start_s - 1e-6)
    ]
    if not where:
        return None
    count = change.count if edits else len(where)
    return change.model_copy(update={"where": tuple(where), "count": count})


def _since(place: Place, layer: int, stop: Stop) -> Place:
    clock_s = max(place.clock_s - stop.start_s, 0.0)
    return place.model_copy(update={"layer": max(place.layer, layer), "clock_s": clock_s})


def _table(table: LayerTable, layer: int, stop: Stop) -> LayerTable:
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
            "margin": None if margin is None else tuple(margin[row] for row in rows),
        }
    )
