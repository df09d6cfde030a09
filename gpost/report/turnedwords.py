"""What is weighed and turned by hand, in words: a small table for each cartridge."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from gpost.common.layout import Part
from gpost.common.plain import shown
from gpost.report.byhand import (
    FlowRecord,
    KnobRecord,
    RemedyRecord,
    SafeRecord,
    ShownRecord,
    WeighingRecord,
)
from gpost.report.wording import at_least, clock, wrapped
from gpost.supply.sure import in_it
from gpost.words import listed, say

MOST_SHOWN = 2
"""Colours of which it is said where they show."""
KNOB_RULE = say("byhand.rule")


class Told(NamedTuple):
    """A sentence, and what belongs under it row by row."""

    text: str
    rows: tuple[str, ...]


def weigh_as_you_go(records: Sequence[WeighingRecord]) -> Iterator[Part]:
    """What the weight of each cartridge that comes off says."""
    found = list(weighed(records))
    for told in found:
        yield from wrapped(told.text, indent=" " * 4, first="  ")
        for row in told.rows:
            yield from wrapped(row, indent=" " * 24, first=" " * 4)
    if found:
        yield from wrapped(between(records), indent="  ", first="  ")


def weighed(records: Sequence[WeighingRecord]) -> Iterator[Told]:
    """The same in words; nothing without `cartridge: empty_g`."""
    for record in records:
        if record.empty_g is not None:
            yield _weighing(record, record.empty_g)


def between(records: Sequence[WeighingRecord]) -> str:
    """How to read the rows."""
    return say("byhand.between_slugs" if any(record.several for record in records) else "byhand.between")


def _weighing(record: WeighingRecord, empty_g: float) -> Told:
    told: dict[str, object] = {"number": record.cartridge, "ml": in_it(record.held_ml)}
    told |= {"on": f"{empty_g + record.held_g:.0f}", "off": f"{empty_g + record.left_g:.0f}"}
    text = say("byhand.weigh", **told)
    if record.low_g is not None and record.high_g is not None:
        low_g, high_g = math.ceil(empty_g + record.low_g), math.floor(empty_g + record.high_g)
        if low_g < high_g:
            text = say("byhand.weigh_within", **told, low=low_g, high=high_g)
    return Told(text, tuple(_remedy(remedy, record.cartridge + 1) for remedy in record.remedies))


def _remedy(remedy: RemedyRecord, following: int) -> str:
    came = {"g": f"{remedy.weighs_g or 0.0:.0f}", "percent": f"{remedy.came_percent:.0f}"}
    head = say("byhand.came_dry" if remedy.dry else "byhand.came", **came)
    return say("byhand.remedy", came=head, what=_to_do(remedy, following))


def _to_do(remedy: RemedyRecord, following: int) -> str:
    if remedy.more_ml < 0:
        less = {"ml": f"{-remedy.more_ml:.0f}", "g": f"{-remedy.more_g:.0f}"}
        return say("byhand.less", **less, number=following)
    safe = remedy.safe
    if safe is None:
        more = {"ml": at_least(remedy.more_ml), "g": at_least(remedy.more_g), "number": following}
        return say("byhand.more_at_least" if remedy.dry else "byhand.more", **more)
    if not safe.layer:
        return say("byhand.fill_first", number=following)
    return say("byhand.fill_after", number=following, **_safe(safe))


def _safe(safe: SafeRecord) -> dict[str, object]:
    """To which layer it is safe."""
    return {"layer": safe.layer, "height": f"{safe.height_mm:z.0f}", "time": clock(safe.clock_s)}


def turned_by_hand(records: Sequence[KnobRecord]) -> Iterator[Part]:
    """What turning flow or speed by hand does."""
    if records:
        yield from wrapped(KNOB_RULE, indent="  ", first="  ")
    for told in turned(records):
        yield f"    {told.text}"
        for row in told.rows:
            yield from wrapped(row, indent=" " * 12, first=" " * 6)


def turned(records: Sequence[KnobRecord]) -> Iterator[Told]:
    """The same in words."""
    return map(_knob, records)


def _knob(record: KnobRecord) -> Told:
    key = "byhand.turned" if record.from_layer else "byhand.turned_at_start"
    text = say(key, number=record.cartridge, layer=record.from_layer, time=clock(record.visit_s))
    plain = [flow for flow in record.flows if flow.safe is None and not flow.shows]
    rows = []
    if len(plain) == len(record.flows) > 0:
        rows.append(say("byhand.as_planned", percents=_numbers([flow.percent for flow in plain])))
    rows += [
        say("byhand.flow", percent=f"{flow.percent:g}", what=_flow(flow, record.from_layer))
        for flow in record.flows
        if flow not in plain
    ]
    if record.speeds:
        times = listed(clock(speed.visit_s) for speed in record.speeds)
        percents = _numbers([speed.percent for speed in record.speeds])
        rows.append(say("byhand.speed", percents=percents, times=times))
    return Told(text, tuple(rows))


def _flow(flow: FlowRecord, from_layer: int) -> str:
    if flow.safe is None:
        said = [say("byhand.does")]
    elif flow.safe.layer < max(from_layer, 1):
        said = [say("byhand.not_safe", layer=max(from_layer, 1))]
    else:
        said = [say("byhand.safe_to", **_safe(flow.safe))]
    said += map(_shows, flow.shows[:MOST_SHOWN])
    return listed(said, "names.semicolon")


def _shows(record: ShownRecord) -> str:
    clay = shown(record.colour)
    if record.height_mm is None:
        return say("byhand.never_shows", clay=clay)
    if record.low_mm is not None and record.high_mm is not None:
        low, high = f"{record.low_mm:z.0f}", f"{record.high_mm:z.0f}"
        if low != high:
            return say("byhand.shows_between", clay=clay, low=low, high=high)
    return say("byhand.shows", clay=clay, height=f"{record.height_mm:z.0f}")


def _numbers(values: list[float]) -> str:
    return listed(f"{value:g}" for value in values)
