"""When to be at the machine: each wait in words, what goes in, and how long it may last."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from gpost.common.plain import shown
from gpost.report.model import PauseRecord, Summary
from gpost.report.turnedwords import turned_by_hand, weigh_as_you_go
from gpost.report.wording import clock, wrapped
from gpost.supply.fronts import heights_text

JOIN = "score it and mist it before it goes on"
"""What to do with a cold joint."""


class Visit(NamedTuple):
    """One wait of the machine in words, for whoever shows it: text, calendar, page."""

    clock_s: float
    """Machine time from the start; waiting not counted."""
    where: str
    why: str
    said: tuple[str, ...]
    """What to do there, and how long it may last: a sentence or a row of half ones each."""
    cartridge: int | None = None
    """Number of the cartridge that goes in; None: none does."""


def visits(summary: Summary) -> list[Visit]:
    """Every wait in the order of time, the file's own too; a rehearsal never waits."""
    return [_visit(pause) for pause in summary.pauses] if summary.rehearsal_mm is None else []


def when_to_be_there(summary: Summary, *, long: bool) -> Iterator[str]:
    """Every wait, the file's own too; `long`: with what to do when a knob was turned by hand."""
    yield "When to be at the machine (h:mm from the start)"
    for visit in visits(summary):
        head = f"{clock(visit.clock_s):>7}  {visit.where}: {visit.why}"
        yield from wrapped(head, indent=" " * 9, first="")
        for text in visit.said:
            yield from wrapped(text, indent=" " * 9, first=" " * 9)
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
    if long:
        yield from turned_by_hand(summary.knobs)
        yield from _shared(summary)


def _shared(summary: Summary) -> Iterator[str]:
    """Cartridges of which it isn't said what turning a knob does: it takes clay from other pieces."""
    shared = [str(cartridge.number) for cartridge in summary.cartridges if len(cartridge.pieces) > 1]
    if shared:
        several = f"s {', '.join(shared)} are" if len(shared) > 1 else f" {shared[0]} is"
        yield from wrapped(
            f"Cartridge{several} shared with other pieces of the day: more flow takes clay from them, so "
            "leave it as it is.",
            indent="  ",
            first="  ",
        )


def _visit(pause: PauseRecord) -> Visit:
    where = f"layer {pause.layer}, {pause.height_mm:z.1f} mm" if pause.layer else "before the first layer"
    kind = shown(pause.kind) if pause.step else "it waits for you"
    said = [goes_in(pause)] if pause.new_cartridge else []
    if pause.waits > 1:
        said.append(
            "it waits a second time before it goes back to the piece: cut the string, look, let it go on"
        )
    said.append(may_last(pause))
    return Visit(
        pause.clock_s, where, f"{kind}, {shown(pause.reason)}", tuple(filter(None, said)), pause.cartridge
    )


def may_last(pause: PauseRecord) -> str:
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


def goes_in(pause: PauseRecord) -> str:
    """What to put on; how much is said once, under what to load."""
    said = []
    name = f"cartridge {pause.cartridge}"
    if name not in pause.reason:
        said.append(f"{name}{'' if pause.colour is None else ', ' + shown(pause.colour) + ','} goes in")
    run_out = [f"{pause.prime_ml:.1f} ml are run out at the park"] if pause.prime_ml else []
    run_out += [f"{pause.lay_ml:.1f} ml are laid beside the piece"] if pause.lay_ml else []
    said += [", then ".join(run_out)] if run_out else []
    if pause.colour is not None:
        said.append(_shows(pause))
    if pause.air_at_height_mm is not None:
        there = f"{pause.air_at_height_mm:z.1f} mm (layer {pause.air_at_layer})"
        said.append(f"air that comes in with it arrives at {there}: look for gaps there")
    return "; ".join(said)


def _shows(pause: PauseRecord) -> str:
    shows_mm, layer = pause.shows_at_height_mm, f"(layer {pause.shows_at_layer})"
    if shows_mm is None:
        return "it never reaches the nozzle in this piece"
    if pause.shows_low_mm is None or pause.shows_low_mm == pause.shows_high_mm:
        return f"it shows from {shows_mm:z.1f} mm on {layer}"
    between = heights_text(pause.shows_low_mm, pause.shows_high_mm)
    return f"it shows from about {shows_mm:.0f} mm on {layer}, in 95 prints of 100 {between}"
