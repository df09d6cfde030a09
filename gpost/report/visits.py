"""When to be at the machine: each wait in words, what goes in, and how long it may last."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from gpost.common.duration import lasting
from gpost.common.layout import Part
from gpost.common.plain import shown
from gpost.report.model import CartridgeRecord, PauseRecord, Summary
from gpost.report.toload import what_to_load
from gpost.report.turnedwords import turned_by_hand, weigh_as_you_go
from gpost.report.wording import at_least, clock, wrapped
from gpost.supply.fronts import heights
from gpost.supply.working import told_min
from gpost.words import listed, recorded, say

JOIN = say("waits.join")
"""What to do with a cold joint."""
RUN_OUT = say("waits.run_out")
"""What to do with clay that has got too stiff in the hose."""
RIM_UNKNOWN = say("waits.rim_unknown", join=JOIN)
LOOK_AGAIN = say("waits.look_again")


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

    @property
    def head(self) -> str:
        """Where and why."""
        return say("waits.head", where=self.where, why=self.why)


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
        return say("waits.put_in_next")
    if pause.goes_on_after_s is not None:
        return say("waits.keep_off", time=lasting(pause.goes_on_after_s))
    if not pause.step:
        return say("waits.see_to_it")
    words = pause.message.strip()
    return recorded(shown(pause.reason if words.lower() in ("", pause.kind.lower()) else words))


def first_to_do(summary: Summary) -> str:
    """What is to be on before the start, in few words; "" for a rehearsal, or if nothing is printed."""
    if summary.rehearsal_mm is not None or not summary.cartridges:
        return ""
    first = summary.cartridges[0]
    if first.is_on:
        return say("waits.is_on", number=first.number, clay=shown(first.colour))
    return _goes_in(first)


def _goes_in(cartridge: CartridgeRecord) -> str:
    load_ml = what_to_load(cartridge).ml
    return put_in(cartridge.number, cartridge.colour, load_ml, slugs=len(cartridge.slugs))


def put_in(number: int, colour: str, load_ml: float, *, slugs: int = 0) -> str:
    """Which cartridge goes in, and how much is in it; `slugs`: so many lie in it, 0 for one clay.

    Without an amount if `load_ml` is 0: an earlier gpost has recorded none.
    """
    inside = say("waits.slugs", count=slugs) if slugs else shown(colour)
    if load_ml > 0:
        return say("waits.put_in", number=number, inside=inside, ml=at_least(load_ml))
    return say("waits.put_in_some", number=number, inside=inside)


def when_to_be_there(summary: Summary, *, long: bool) -> Iterator[Part]:
    """Every wait, the file's own too; `long`: with what to do when a knob was turned by hand."""
    yield "When to be at the machine (h:mm from the start)"
    for visit in visits(summary):
        head = f"{clock(visit.clock_s):>7}  {visit.head}"
        yield from wrapped(head, indent=" " * 9, first="")
        for text in visit.said:
            yield from wrapped(text, indent=" " * 9, first=" " * 9)
    if not summary.pauses:
        yield "  it never waits for you; stay within reach all the same"
    if any(visit.rim_unknown for visit in visits(summary)):
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
    where, reason = say("names.before_first"), shown(pause.reason)
    if pause.layer:
        where = say("names.layer", layer=pause.layer, height=f"{pause.height_mm:z.1f}")
    own = say("waits.by_itself", reason=reason)
    if pause.goes_on_after_s is not None:
        own = say("waits.timed", reason=reason, time=lasting(pause.goes_on_after_s))
    limits = _limits(pause) if pause.goes_on_after_s is None else ()
    said = [goes_in(pause)] if pause.new_cartridge else []
    said += [LOOK_AGAIN] if pause.waits > 1 else []
    said += [may_last(limits)] if limits else []
    return Visit(
        pause.clock_s,
        where,
        recorded(f"{shown(pause.kind)}, {reason}") if pause.step else own,
        tuple(filter(None, said)),
        pause.cartridge,
        doing,
        limits,
        pause.joins and pause.rim_min is None and pause.goes_on_after_s is None,
    )


def _limits(pause: PauseRecord) -> tuple[Limit, ...]:
    """By the rim and by the hose, as far as they are known."""
    asked = [(pause.rim_min, say("waits.rim"), JOIN), (pause.hose_min, say("waits.hose"), RUN_OUT)]
    known = [Limit(told_min(minutes), what, longer) for minutes, what, longer in asked if minutes is not None]
    return tuple(sorted(known))


def may_last(limits: Sequence[Limit]) -> str:
    """How long a wait may last."""
    return say("waits.may_last", limits=listed(map(_limit, limits)))


def _limit(limit: Limit) -> str:
    said = {"what": limit.what, "longer": limit.longer}
    if not limit.minutes:
        return say("waits.no_time", **said)
    return say("waits.limit", minutes=f"{limit.minutes:g}", **said)


def goes_in(pause: PauseRecord) -> str:
    """What to put on; how much is said once, under what to load."""
    said = [_named(pause), _run_out(pause)]
    if pause.colour is not None:
        said.append(_shows(pause))
    if pause.air_at_height_mm is not None:
        said.append(say("waits.air", height=f"{pause.air_at_height_mm:z.1f}", layer=pause.air_at_layer))
    return listed(filter(None, said), "names.semicolon")


def _named(pause: PauseRecord) -> str:
    """Which cartridge it is, unless the reason says so."""
    if re.search(rf"\bcartridge {pause.cartridge}\b", pause.reason):  # a record, in English as steps are
        return ""
    if pause.colour is None:
        return say("waits.goes_in", number=pause.cartridge)
    return say("waits.goes_in_of", number=pause.cartridge, clay=shown(pause.colour))


def _run_out(pause: PauseRecord) -> str:
    """What runs out before it goes on."""
    ml, laid = f"{pause.prime_ml:.1f}", f"{pause.lay_ml:.1f}"
    if pause.prime_ml and pause.lay_ml:
        return say("waits.run_out_and_laid", ml=ml, laid=laid)
    if pause.lay_ml:
        return say("waits.laid_beside", ml=laid)
    return say("waits.run_out_at_park", ml=ml) if pause.prime_ml else ""


def _shows(pause: PauseRecord) -> str:
    shows_mm, layer, low_mm = pause.shows_at_height_mm, pause.shows_at_layer, pause.shows_low_mm
    if shows_mm is None:
        return say("waits.never_shows")
    if low_mm is None or low_mm == pause.shows_high_mm:
        return say("waits.shows", height=f"{shows_mm:z.1f}", layer=layer)
    low, high = heights(low_mm, pause.shows_high_mm)
    key = "waits.shows_or_never" if pause.shows_high_mm is None else "waits.shows_between"
    return say(key, height=f"{shows_mm:.0f}", layer=layer, low=low, high=high)
