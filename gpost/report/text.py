"""The summary in plain words, for a potter at a terminal of 80 columns."""

from __future__ import annotations

import math
from collections.abc import Iterator
from heapq import nsmallest

from gpost.common.plain import shown
from gpost.report.model import (
    CartridgeRecord,
    Change,
    LayerTable,
    LineRecord,
    MeteringRecord,
    PauseRecord,
    Place,
    Summary,
    SureRecord,
)
from gpost.report.turnedwords import turned_by_hand, weigh_as_you_go
from gpost.report.wording import WIDTH, at_least, clock, indented, wrapped
from gpost.supply.fronts import heights_text
from gpost.supply.sure import chance_words

__all__ = ["WIDTH", "at_least", "clock", "indented", "to_text", "wrapped"]

JOIN = "score it and mist it before it goes on"
"""What to do with a cold joint."""
WORTH_SAYING_ML = 0.5
"""Less is lost in the rounding of what to load."""


def to_text(summary: Summary) -> str:
    """The summary as lines of at most 80 characters, each ended; nothing in it can steer a terminal."""
    parts = [
        _what_was_written(summary),
        _to_load(summary),
        _when_to_be_there(summary),
        _layers(summary.layer_table),
        _what_was_changed(summary),
        _listed("Warnings", summary.warnings),
        _listed("Notes", summary.notes),
        _listed("Take care", summary.cautions),
    ]
    return "\n".join("".join(f"{line}\n" for line in part) for part in map(list, parts) if part)


def _what_was_written(summary: Summary) -> Iterator[str]:
    yield from wrapped(f"{shown(summary.source)} -> {shown(summary.output)}", indent="  ", first="")
    yield (
        f"  {summary.layers} layers, {summary.height_mm:z.1f} mm high, {summary.clay_ml:.0f} ml of clay, "
        f"{clock(summary.time_s)} h of machine time"
    )
    if summary.piece.clay_ml > 0:
        star, piece = _Stars(summary), summary.piece
        yield from wrapped(
            f"the piece: {piece.wet_g:.0f} g{star('piece.wet_g')} wet, {piece.dry_g:.0f} g"
            f"{star('piece.dry_g')} dry; fired it will be {piece.fired_height_mm:.0f} "
            f"mm{star('piece.fired_height_mm')} high",
            indent="    ",
            first="  ",
        )
    if summary.metering is not None:
        yield from wrapped(_metering(summary.metering), indent="    ", first="  ")
    steps = ", ".join(shown(step) for step in summary.steps) or "none; the file is as it was"
    yield from wrapped(f"steps, in this order: {steps}", indent="    ", first="  ")


def _metering(metering: MeteringRecord) -> str:
    """What the clay is reckoned by, and who says so: files come from several programs."""
    by = "the path" if metering.ml_per_unit is None else f"E, {metering.ml_per_unit:.4g} ml a unit"
    said = "no config" if metering.file is None else shown(metering.file)
    return f"clay by {by} (`clay: metering` of {said})"


def _to_load(summary: Summary) -> Iterator[str]:
    if not summary.cartridges:
        return
    yield "To load"
    star = _Stars(summary)
    said = [_line(summary.line, star)] if summary.line.clay_ml > 0 else []
    said += [_cartridge(cartridge, summary.sure, star) for cartridge in summary.cartridges]
    said += [_reserve(summary), *_how_sure(summary), *star.explained()]
    for text in said:
        yield from wrapped(text, indent=" " * 8, first="  ")
    if len(summary.colours) > 1:
        for colour in summary.colours:
            text = f"{shown(colour.colour)}: {colour.piece_ml:.0f} ml in the piece"
            yield from wrapped(text, indent=" " * 8, first="  ")


class _Stars:
    """Marks figures that rest on gpost's own defaults."""

    def __init__(self, summary: Summary) -> None:
        self._defaults = summary.sure.defaults

    def __call__(self, figure: str) -> str:
        return "*" if figure in self._defaults else ""

    def explained(self) -> Iterator[str]:
        """What the mark means, and which keys would take it away."""
        keys = dict.fromkeys(shown(key) for some in self._defaults.values() for key in some)
        if keys:
            yield f"* by gpost's own numbers, which are not your clay's: {', '.join(keys)}"


def _how_sure(summary: Summary) -> Iterator[str]:
    """Which errors are counted in, and what they come to for the whole print."""
    sure = summary.sure
    known = {
        "E": _percent(sure.metered_percent),
        "wet density": _percent(sure.density_percent),
        "hose": None if sure.line_ml is None else f"{sure.line_ml:g} ml",
        "reserve": None if sure.reserve_ml is None else f"{sure.reserve_ml:g} ml",
    }
    told = [f"{what} {spread}" for what, spread in known.items() if spread is not None]
    missing = [what for what, spread in known.items() if spread is None and what != "reserve"]
    if told:
        yield f"counted in, each as a standard deviation: {', '.join(told)}"
    if missing:
        yield f"how far off {' and '.join(missing)} may be is not known, and nothing is added for it"
    if sure.dry_percent is not None:
        often = chance_words(sure.dry_percent / 100)
        yield f"in {often} of all prints a cartridge runs dry before its end, filled as planned"


def _percent(percent: float | None) -> str | None:
    return None if percent is None else f"{percent:g} %"


def _line(line: LineRecord, star: _Stars) -> str:
    held = list(line.at_end.items())
    if len(held) == 1:
        end = f"it ends full of {shown(held[0][0])}"
    else:
        end = "it ends with " + ", ".join(f"{clay_ml:.0f} ml of {shown(colour)}" for colour, clay_ml in held)
    size = f"{line.clay_ml:.0f} ml{star('line.clay_ml')}"
    return f"the hose ({size}) must be full of {shown(line.at_start)} before the start; {end}"


def _cartridge(cartridge: CartridgeRecord, sure: SureRecord, star: _Stars) -> str:
    name = f"cartridge {cartridge.number}, {shown(cartridge.colour)}"
    masses = f"{cartridge.wet_g:.0f} g wet, {cartridge.dry_g:.0f} g dry"
    takes = f"the job takes {cartridge.clay_ml:.0f} ml ({masses})"
    again_ml = cartridge.need_ml - cartridge.clay_ml
    if again_ml >= WORTH_SAYING_ML:
        takes = f"the job takes {cartridge.need_ml:.0f} ml, of which {again_ml:.0f} ml are drawn back again"
    if cartridge.over_ml > 0.05:
        return (
            f"{name}: {takes}, of the {cartridge.usable_ml:.0f} ml that can be counted on; that is "
            f"{cartridge.over_ml:.0f} ml TOO LITTLE"
        )
    least = f"{at_least(cartridge.load_ml)} ml{star('cartridges.load_ml')} ({at_least(cartridge.load_g)} g"
    text = f"{name}: load at least {least}{star('cartridges.load_g')} wet)"
    if cartridge.sure_load_ml is not None and cartridge.sure_load_g is not None:
        enough = f"{at_least(cartridge.sure_load_ml)} ml ({at_least(cartridge.sure_load_g)} g)"
        text += f"; {enough} to be {100 - sure.taken_percent:g} % sure"
    return f"{text}; {takes}{_dry(cartridge, sure)}"


def _dry(cartridge: CartridgeRecord, sure: SureRecord) -> str:
    """How likely it runs dry, as full as it is planned, where that is likelier than is taken."""
    if cartridge.dry_percent is None or cartridge.dry_percent <= sure.taken_percent + 0.05:
        return ""
    early = f", up to {cartridge.early_layers} layers early" if cartridge.early_layers else ""
    return f"; it could run dry{early}, in {chance_words(cartridge.dry_percent / 100)} of all prints"


def _reserve(summary: Summary) -> str:
    """What is in all of these amounts beside what the job takes."""
    cartridges = summary.cartridges
    reserve_ml = cartridges[0].load_ml - cartridges[0].need_ml
    if reserve_ml <= 0.05:
        return ""
    on_average = "" if summary.sure.reserve_ml is None else " on average"
    each = "that" if len(cartridges) == 1 else "each"
    return f"of {each}, {reserve_ml:.0f} ml stay behind as reserve{on_average}"


def _when_to_be_there(summary: Summary) -> Iterator[str]:
    yield "When to be at the machine (h:mm from the start)"
    for pause in summary.pauses:
        yield from _pause(pause)
    if not summary.pauses:
        yield "  it never waits for you; stay within reach all the same"
    if any(pause.joins and pause.rim_min is None for pause in summary.pauses):
        yield from wrapped(
            f"How long a rim may wait in the air is not known (clay: rim_min); common practice says minutes. "
            f"If it waited longer, {JOIN}.",
            indent="  ",
            first="  ",
        )
    yield from wrapped(
        "Times are estimates, and the time it waits for you is not counted: every wait puts off what "
        "comes after it.",
        indent="  ",
        first="  ",
    )
    yield from weigh_as_you_go(summary.weighings)
    yield from turned_by_hand(summary.knobs)


def _pause(pause: PauseRecord) -> Iterator[str]:
    where = f"layer {pause.layer}, {pause.height_mm:z.1f} mm" if pause.layer else "before the first layer"
    kind = shown(pause.kind) if pause.step else "it waits for you"
    why = f"{kind}, {shown(pause.reason)}"
    head = f"{clock(pause.clock_s):>7}  {where}: {why}"
    yield from wrapped(head, indent=" " * 9, first="")
    if pause.new_cartridge:
        yield from wrapped(_load(pause), indent=" " * 9, first=" " * 9)
    yield from wrapped(_lasts(pause), indent=" " * 9, first=" " * 9)


def _lasts(pause: PauseRecord) -> str:
    """How long it may last, by the rim and by the hose; "" if nothing says."""
    limits = [
        (pause.rim_min, f"for the rim (longer: {JOIN})"),
        (pause.hose_min, "for the clay in the hose (longer: run it out beside the piece)"),
    ]
    known = sorted((minutes, what) for minutes, what in limits if minutes is not None)
    if not known:
        return ""
    return f"it may last {', '.join(f'{_minutes(minutes)} {what}' for minutes, what in known)}"


def _minutes(minutes: float) -> str:
    """Whole minutes that are not more; of a few, half ones."""
    if minutes < 0.5:
        return "no time at all"
    floor = math.floor(minutes * 2) / 2 if minutes < 5 else math.floor(minutes)
    return f"{floor:g} min"


def _load(pause: PauseRecord) -> str:
    """What to put on; how much is said once, under what to load."""
    text = f"load {'the same clay' if pause.colour is None else shown(pause.colour)}"
    if pause.prime_ml:
        text += f"; {pause.prime_ml:.1f} ml are run out at the park"
    if pause.lay_ml:
        text += f"{',' if pause.prime_ml else ';'} then {pause.lay_ml:.1f} ml are laid beside the piece"
    if pause.colour is not None and pause.shows_at_height_mm is None:
        return f"{text}; it never reaches the nozzle in this piece"
    if pause.colour is not None:
        text += _shows(pause)
    if pause.air_at_height_mm is not None:
        there = f"{pause.air_at_height_mm:z.1f} mm (layer {pause.air_at_layer})"
        text += f"; air that comes in with it arrives at {there}: look for gaps there"
    return text


def _shows(pause: PauseRecord) -> str:
    layer, shows_mm = f"(layer {pause.shows_at_layer})", pause.shows_at_height_mm or 0.0
    if pause.shows_low_mm is None:
        return f"; it shows from {shows_mm:z.1f} mm on {layer}"
    between = heights_text(pause.shows_low_mm, pause.shows_high_mm)
    return f"; it shows from about {shows_mm:.0f} mm on {layer}, in 95 prints of 100 {between}"


def _layers(table: LayerTable | None) -> Iterator[str]:
    """The oldest clay and the weakest layers of the table; all of it is in the JSON."""
    if table is None or not table.layer:
        return
    yield "Layer by layer"
    oldest = max(range(len(table.layer)), key=lambda row: table.age_min[row])
    yield from wrapped(
        f"the oldest clay is {table.age_min[oldest]:.0f} min old when it is laid, in {_layer(table, oldest)}",
        indent="    ",
        first="  ",
    )
    if table.margin is not None:
        margin = table.margin
        weak = nsmallest(3, range(len(margin)), key=lambda row: margin[row])
        said = ", ".join(f"{margin[row]:.2f} times in {_layer(table, row)}" for row in weak)
        yield from wrapped(
            f"least margins, by which a layer bears what lies on it: {said}; an estimate",
            indent="    ",
            first="  ",
        )
    if table.layers_left_out:
        yield from wrapped(
            f"the JSON has {len(table.layer)} of the {len(table.layer) + table.layers_left_out} layers, "
            "evenly chosen, and these",
            indent="    ",
            first="  ",
        )


def _layer(table: LayerTable, row: int) -> str:
    return f"layer {table.layer[row]} (up to {table.height_mm[row]:z.1f} mm)"


def _what_was_changed(summary: Summary) -> Iterator[str]:
    yield "What was changed"
    for change in summary.changes:
        text = f"{shown(change.step)}: {shown(change.what)}; {_count(change)}{_where(change.where)}"
        yield from wrapped(text, indent="    ", first="  ")
    if not summary.changes:
        yield "  nothing"


def _count(change: Change) -> str:
    edits = change.kind in ("feed", "flow", "shift", "silence")
    unit = "line" if edits else "time"
    return f"{change.count} {unit}{'' if change.count == 1 else 's'}"


def _where(places: tuple[Place, ...]) -> str:
    if not places:
        return ""
    low, high = min(place.layer for place in places), max(place.last_layer for place in places)
    if high == 0:
        return ", before the first layer"
    if low == high:
        return f", layer {low}"
    return f", layers {low} to {high}" if low else f", from before the first layer to layer {high}"


def _listed(title: str, texts: tuple[str, ...]) -> Iterator[str]:
    if texts:
        yield title
    for text in texts:
        yield from wrapped(shown(text), indent="    ", first="  - ")
