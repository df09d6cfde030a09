"""What is weighed and turned by hand, in words: a small table for each cartridge."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from gpost.common.layout import Part
from gpost.common.plain import shown
from gpost.report.byhand import FlowRecord, KnobRecord, RemedyRecord, SafeRecord, WeighingRecord
from gpost.report.wording import at_least, clock, wrapped

MOST_SHOWN = 2
"""Colours of which it is said where they show."""
KNOB_RULE = (
    "If you turn flow or speed by hand and leave it so: pause and refill by hand after the layer that is "
    "still safe. Speed changes the clock alone, flow all but the clock; a flow that is not listed does. "
    "Write down what you turned, and from which layer on (gpost log add --turned)."
)


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
    slugs = ", of several slugs each" if any(record.several for record in records) else ""
    return (
        f"Between two weights in proportion{slugs}; all with the cartridge. If more or less was loaded, "
        "go by what it has lost."
    )


def _weighing(record: WeighingRecord, empty_g: float) -> Told:
    on_g, off_g = empty_g + record.held_g, empty_g + record.left_g
    text = (
        f"Weigh cartridge {record.cartridge} when it comes off: put on with {at_least(record.held_ml)} ml it "
        f"weighed {on_g:.0f} g, now {off_g:.0f} g"
    )
    if record.low_g is not None and record.high_g is not None:
        low_g, high_g = math.ceil(empty_g + record.low_g), math.floor(empty_g + record.high_g)
        if low_g < high_g:
            text += f"; from {low_g} to {high_g} g do nothing"
    return Told(text, tuple(_remedy(remedy, record.cartridge + 1) for remedy in record.remedies))


def _remedy(remedy: RemedyRecord, following: int) -> str:
    weight, came = f"{remedy.weighs_g or 0.0:.0f} g", f"{remedy.came_percent:.0f} % came"
    if remedy.dry:
        head, more = f"{weight} or less, {came} or more (it may have run dry)", "at least "
    else:
        head, more = f"{weight}, {came}", ""
    if remedy.more_ml < 0:
        return f"{head}: {-remedy.more_ml:.0f} ml ({-remedy.more_g:.0f} g) less will do in {following}"
    if remedy.safe is None:
        amount = f"{at_least(remedy.more_ml)} ml ({at_least(remedy.more_g)} g)"
        return f"{head}: load {more}{amount} more into {following}"
    return f"{head}: fill {following} to the brim, and pause by hand {_after(remedy.safe)}"


def _after(safe: SafeRecord) -> str:
    if not safe.layer:
        return "before the first layer is done"
    return f"after layer {safe.layer} ({safe.height_mm:z.0f} mm), at {clock(safe.clock_s)}"


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
    number, place = record.cartridge, f"layer {record.from_layer}" if record.from_layer else "the start"
    text = f"cartridge {number}, turned from {place} on; next visit as planned {clock(record.visit_s)}"
    plain = [flow for flow in record.flows if flow.safe is None and not flow.shows]
    rows = []
    if len(plain) == len(record.flows) > 0:
        rows.append(f"flow {_percents([flow.percent for flow in plain])}: as planned")
    rows += [
        f"flow {flow.percent:g} %: {_flow(flow, record.from_layer)}"
        for flow in record.flows
        if flow not in plain
    ]
    if record.speeds:
        times = ", ".join(clock(speed.visit_s) for speed in record.speeds)
        rows.append(f"speed {_percents([speed.percent for speed in record.speeds])}: next visit {times}")
    return Told(text, tuple(rows))


def _flow(flow: FlowRecord, from_layer: int) -> str:
    if flow.safe is None:
        said = ["does to its end"]
    elif flow.safe.layer < max(from_layer, 1):
        said = [f"not even layer {max(from_layer, 1)} is safe"]
    else:
        safe = flow.safe
        said = [f"safe to layer {safe.layer} ({safe.height_mm:z.0f} mm), {clock(safe.clock_s)}"]
    for colour in flow.shows[:MOST_SHOWN]:
        where = "never shows" if colour.height_mm is None else f"from {colour.height_mm:z.0f} mm on"
        said.append(f"{shown(colour.colour)} {where}")
    return "; ".join(said)


def _percents(values: list[float]) -> str:
    return ", ".join(f"{value:g}" for value in values) + " %"
