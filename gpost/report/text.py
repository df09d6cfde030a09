"""The summary in plain words, in the order of the work, for a potter at a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from heapq import nsmallest

from gpost.common.layout import Part, apart, laid_out
from gpost.common.plain import shown
from gpost.plan.alike import EDITS
from gpost.plan.rehearsal import words
from gpost.report.afterwards import afterwards, card_parts
from gpost.report.model import Change, LayerTable, MeteringRecord, Place, Summary
from gpost.report.origin import ResumeRecord
from gpost.report.textload import to_load, to_prepare
from gpost.report.visits import when_to_be_there
from gpost.report.wording import Stars, clock, dashed, times, wrapped
from gpost.words import say

CARE = say("cautions.care")


def to_text(summary: Summary, *, long: bool = False, width: int | None = None) -> str:
    """The summary as lines, laid out as `laid_out` does; nothing in it can steer a terminal.

    What is wrong comes first, then the work from wedging to firing, then what was changed; `long`: all of
    that, with every note, layer and caution.
    """
    return laid_out(apart(_sections(summary, long=long)), width)


def _sections(summary: Summary, *, long: bool) -> list[Iterable[Part]]:
    star = Stars(summary.sure.defaults)
    parts: list[Iterable[Part]] = [
        _what_was_written(summary),
        _listed("Look at this first", summary.warnings),
        _before_going_on(summary),
        to_prepare(summary, star),
        to_load(summary, star),
        _ticked("Before you start" if summary.resume is None else "Before it goes on", summary.ticks.before)
        if long
        else (),
        () if summary.dry else when_to_be_there(summary, long=long),
        _ticked("While it prints", summary.ticks.during) if long else (),
        afterwards(summary, star),
        _ticked("When it is done", summary.ticks.after) if long else (),
        _what_was_changed(summary, long=long),
    ]
    if long:
        parts += [
            _reckoned(summary),
            _layers(summary.layer_table),
            _listed("Notes", summary.notes),
            _listed("Take care", summary.cautions),
        ]
    else:
        parts.append(wrapped(CARE))
    return parts


def _before_going_on(summary: Summary) -> Iterable[Part]:
    if summary.resume is None:
        return ()
    from gpost.report.goingon import before_going_on

    return before_going_on(summary.resume)


def sheet_text(summary: Summary, width: int | None = None) -> str:
    """All of the summary, with the card to fill in after the print: what is kept in a file.

    A rehearsal has nothing to fill in.
    """
    card = [] if summary.dry else [card_parts(summary)]
    return laid_out(apart([*_sections(summary, long=True), *card]), width)


def _what_was_written(summary: Summary) -> Iterator[Part]:
    yield from wrapped(f"{shown(summary.source)} -> {shown(summary.output)}", indent="  ", first="")
    size = f"{times(summary.layers, 'layer')}, {summary.height_mm:z.1f} mm high"
    clay, time = f", {summary.clay_ml:.0f} ml of clay", f", {clock(summary.time_s)} h of machine time"
    if summary.rehearsal_mm is not None:
        yield from wrapped(_rehearsal(summary.rehearsal_mm), indent="  ", first="  ")
        clay = ""
    if summary.resume is not None and summary.resume.look:
        yield from wrapped(_look(summary.resume), indent="  ", first="  ")
        clay = time = ""
    elif summary.resume is not None:
        yield f"  the rest of a stopped print, from layer {summary.resume.layer} on"
    yield f"  {size}{clay}{time}"


def _rehearsal(raise_mm: float) -> str:
    """What the file is, and what to do with it."""
    return (
        f"This is {words(raise_mm)}. It goes the whole way without clay, heat and air, and never waits, so "
        "don't reach in. Watch clamps, hose, park and bed, with your hand near the stop."
    )


def _look(resume: ResumeRecord) -> str:
    """The same of one that shows the way to where a stopped print goes on."""
    height = "" if resume.look_mm is None else f", at {resume.look_mm:.1f} mm"
    return (
        f"This is a REHEARSAL of the way to where the print goes on, in layer {resume.layer}: load no clay. "
        f"It waits once, goes there, and ends above the place{height}. Watch clamps, hose and wall, with "
        "your hand near the stop; then write the rest itself, without --rehearse."
    )


def _what_was_changed(summary: Summary, *, long: bool) -> Iterator[Part]:
    """Each change; in short one paragraph a step, without the places."""
    yield "What was changed"
    if long:
        for change in summary.changes:
            text = f"{shown(change.step)}: {shown(change.what)}; {_count(change)}{_where(change.where)}"
            yield from wrapped(text, indent="    ", first="  ")
    else:
        for step in dict.fromkeys(change.step for change in summary.changes):
            said = [f"{shown(c.what)} ({_count(c)})" for c in summary.changes if c.step == step]
            yield from wrapped(f"{shown(step)}: {'; '.join(said)}", indent="    ", first="  ")
    if not summary.changes:
        yield "  nothing"
    if not long:  # with all notes each is one of them
        yield from _by_the_studio_s_word(summary)
    if not long:
        count = times(len(summary.notes), "note")
        knobs = "knobs turned by hand, " if summary.knobs else ""
        yield from wrapped(
            f"{knobs}all places, {count} and the layers: --long, or the JSON", indent="  ", first="  "
        )


def _by_the_studio_s_word(summary: Summary) -> Iterable[Part]:
    """Each command that is not free, so that none is sent unseen."""
    said = [
        f"{shown(one.command)} ({times(one.count, 'time')})"
        for one in summary.commands
        if one.kind == "allowed"
    ]
    if not said:
        return ()
    text = f"sent by the studio's word (`allow_commands`): {', '.join(said)}"
    return wrapped(text, indent="    ", first="  ")


def _count(change: Change) -> str:
    return times(change.count, "line" if change.kind in EDITS else "time")


def _where(places: tuple[Place, ...]) -> str:
    if not places:
        return ""
    low, high = min(place.layer for place in places), max(place.last_layer for place in places)
    if high == 0:
        return ", before the first layer"
    if low == high:
        return f", layer {low}"
    return f", layers {low} to {high}" if low else f", from before the first layer to layer {high}"


def _reckoned(summary: Summary) -> Iterator[Part]:
    """What the numbers rest on."""
    yield "What it was reckoned by"
    if summary.metering is not None:
        yield from wrapped(_metering(summary.metering), indent="    ", first="  ")
    steps = ", ".join(shown(step) for step in summary.steps) or "none; the file is as it was"
    yield from wrapped(f"steps, in this order: {steps}", indent="    ", first="  ")


def _metering(metering: MeteringRecord) -> str:
    """What the clay is reckoned by, and who says so: files come from several programs."""
    by = "the path" if metering.ml_per_unit is None else f"E, {metering.ml_per_unit:.4g} ml a unit"
    said = "no config" if metering.file is None else shown(metering.file)
    return f"clay by {by} (`clay: metering` of {said})"


def _layers(table: LayerTable | None) -> Iterator[Part]:
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


def _ticked(title: str, texts: tuple[str, ...]) -> Iterator[Part]:
    """What to tick off, each with its box."""
    if texts:
        yield title
    for text in texts:
        yield from wrapped(shown(text), indent="      ", first="  [ ] ")


def _listed(title: str, texts: tuple[str, ...]) -> Iterator[Part]:
    if texts:
        yield title
    yield from dashed(texts)
