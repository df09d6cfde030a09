"""When to be at the machine: each wait in words, what goes in, and how long it may last."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from gpost.common.layout import Part
from gpost.common.plain import shown
from gpost.report.model import CartridgeRecord, PauseRecord, Summary
from gpost.report.toload import what_to_load
from gpost.report.turnedwords import turned_by_hand, weigh_as_you_go
from gpost.report.wording import at_least, clock, wrapped
from gpost.supply.fronts import heights_text

JOIN = "score it and mist it before it goes on"
"""What to do with a cold joint."""
RUN_OUT = "run it out beside the piece"
"""What to do with clay that has got too stiff in the hose."""
RIM_UNKNOWN = (
    "How long a rim may wait in the air is not known (clay: rim_min); common practice says minutes. "
    f"If it waited longer, {JOIN}."
)
LOOK_AGAIN = "it waits a second time before it goes back to the piece: cut the string, look, let it go on"


class Limit(NamedTuple):
    """How long a wait may last, for one reason."""

    minutes: float
    """As it is said, so never more than it is."""
    what: str
    """What would suffer."""
    longer: str
    """What to do when it has lasted longer."""


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
    doing: str = ""
    """What to do first, in few words: `put in cartridge 2, blue, 153 ml`."""
    limits: tuple[Limit, ...] = ()
    """How long it may last, the shortest first; none: not known, or as long as you like."""
    rim_unknown: bool = False
    """Whether its joint may get cold, and nothing says when."""


def visits(summary: Summary) -> list[Visit]:
    """Every wait in the order of time, the file's own too; a rehearsal never waits."""
    if summary.rehearsal_mm is not None:
        return []
    return [_visit(pause, to_do(pause, summary.cartridges)) for pause in summary.pauses]


def to_do(pause: PauseRecord, cartridges: Sequence[CartridgeRecord]) -> str:
    """What to do first at a wait, in few words, without a capital.

    Of a pause that brings no cartridge what the machine's display says, which is then seen twice.
    """
    if pause.new_cartridge:
        for cartridge in cartridges:
            if cartridge.number == pause.cartridge:
                return _goes_in(cartridge)
        return "put in the next cartridge"
    if not pause.step:
        return "see to it: the file waits here by itself"
    words = pause.message.strip()
    return shown(pause.reason if words.lower() in ("", pause.kind.lower()) else words)


def first_to_do(summary: Summary) -> str:
    """What is to be on before the start, in few words; "" for a rehearsal, or if nothing is printed."""
    if summary.rehearsal_mm is not None or not summary.cartridges:
        return ""
    first = summary.cartridges[0]
    if first.is_on:
        return f"cartridge {first.number}, {shown(first.colour)}, is on"
    return _goes_in(first)


def _goes_in(cartridge: CartridgeRecord) -> str:
    load_ml = what_to_load(cartridge).ml
    return put_in(cartridge.number, cartridge.colour, load_ml, slugs=len(cartridge.slugs))


def put_in(number: int, colour: str, load_ml: float, *, slugs: int = 0) -> str:
    """Which cartridge goes in, and how much is in it; `slugs`: so many lie in it, 0 for one clay.

    Without an amount if `load_ml` is 0: an earlier gpost has recorded none.
    """
    inside = f"{slugs} slugs" if slugs else shown(colour)
    amount = f", {at_least(load_ml)} ml" if load_ml > 0 else ""
    return f"put in cartridge {number}, {inside}{amount}"


def when_to_be_there(summary: Summary, *, long: bool) -> Iterator[Part]:
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
        yield from wrapped(RIM_UNKNOWN, indent="  ", first="  ")
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


def _shared(summary: Summary) -> Iterator[Part]:
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


def _visit(pause: PauseRecord, doing: str) -> Visit:
    where = f"layer {pause.layer}, {pause.height_mm:z.1f} mm" if pause.layer else "before the first layer"
    kind = shown(pause.kind) if pause.step else "it waits for you"
    limits = _limits(pause)
    said = [goes_in(pause)] if pause.new_cartridge else []
    said += [LOOK_AGAIN] if pause.waits > 1 else []
    said += [may_last(limits)] if limits else []
    return Visit(
        pause.clock_s,
        where,
        f"{kind}, {shown(pause.reason)}",
        tuple(filter(None, said)),
        pause.cartridge,
        doing,
        limits,
        pause.joins and pause.rim_min is None,
    )


def _limits(pause: PauseRecord) -> tuple[Limit, ...]:
    """By the rim and by the hose, as far as they are known."""
    asked = [(pause.rim_min, "the rim", JOIN), (pause.hose_min, "the clay in the hose", RUN_OUT)]
    known = [Limit(_floor(minutes), what, longer) for minutes, what, longer in asked if minutes is not None]
    return tuple(sorted(known))


def may_last(limits: Sequence[Limit]) -> str:
    """How long a wait may last."""
    told = (f"{_minutes(limit.minutes)} for {limit.what} (longer: {limit.longer})" for limit in limits)
    return f"it may last {', '.join(told)}"


def _floor(minutes: float) -> float:
    """Whole minutes that are not more; of a few, half ones."""
    return math.floor(minutes * 2) / 2 if minutes < 5 else math.floor(minutes)


def _minutes(minutes: float) -> str:
    return f"{minutes:g} min" if minutes else "no time at all"


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
