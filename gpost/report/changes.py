"""Every change to the file, gathered by step, kind and reason, in words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TypeAlias

from gpost.plan.alike import EDITS, Alike, changes_of
from gpost.plan.feeds import mean_factors, real_factors
from gpost.plan.intentions import (
    Air,
    AirInPause,
    Ask,
    Command,
    Intention,
    LayClay,
    Pause,
    Rehearse,
    Say,
    ScaleFeed,
    ScaleFlow,
    Shift,
    Silence,
    SilencePush,
    Wait,
)
from gpost.plan.plan import Plan
from gpost.report.model import Change, Example, Place, Waits
from gpost.report.places import Places
from gpost.spot import Spot
from gpost.write.compiler import Insertion
from gpost.write.output import Written
from gpost.write.samples import Sample

Planned: TypeAlias = tuple[int, Intention]
"""Index in the plan's entries, and the intention there."""


def changes(plan: Plan, written: Written) -> tuple[Change, ...]:
    """What was changed, in the order of the steps; what came to nothing is left out."""
    groups: dict[Alike, list[Planned]] = {}
    for index, change in changes_of(plan).items():
        intention = plan.entries[index].intention
        span = _span(intention)
        # of a rest nothing is told that ends before it
        if span is None or span[1] > written.first_source_line:
            groups.setdefault(change, []).append((index, intention))
    places, dry = Places(plan), bool(plan.of(Rehearse))
    found = [
        _change(plan, change, intentions, written, places, dry=dry) for change, intentions in groups.items()
    ]
    found += _moves(plan, places)
    found += _rests(plan, written, places)
    done = [change for change in found if change.count]
    return tuple(sorted(done, key=lambda change: _rank(plan.steps, change.step)))


def _rank(steps: Sequence[str], step: str) -> int:
    return steps.index(step) if step in steps else len(steps)


def _change(
    plan: Plan,
    change: Alike,
    intentions: list[Planned],
    written: Written,
    places: Places,
    *,
    dry: bool,
) -> Change:
    step, kind, _ = change
    wanted = [intention for _, intention in intentions]
    what = _feeds(plan, intentions) if kind == "feed" else _what(plan, wanted, dry=dry)
    if kind in EDITS:
        count = sum(written.edited.get(index, 0) for index, _ in intentions)
        where = _stretches((intention for _, intention in intentions), places, written.first_source_line)
    else:
        where = _spots(plan, intentions, written, places)
        count = len(where)
    example = _example(written.samples.get(change), written)
    if kind == "wait":
        seconds = round(
            sum(intention.seconds for _, intention in intentions if isinstance(intention, Wait)), 3
        )
        return Waits(step=step, what=what, count=count, where=where, seconds=seconds, example=example)
    return Change(step=step, kind=kind, what=what, count=count, where=where, example=example)


def _example(sample: Sample | None, written: Written) -> Example | None:
    if sample is None:
        return None
    return Example(
        source_line=sample.line + 1,
        output_line=written.output_line(sample.line) if sample.before else written.places[sample.entry][0],
        before=sample.before,
        after=sample.after,
        lines_left_out=sample.left_out,
    )


def _spots(plan: Plan, intentions: list[Planned], written: Written, places: Places) -> tuple[Place, ...]:
    """The place of every block that was really inserted; of several in one, each when it begins."""
    start_s = {id(stop.intention): stop.start_s for stop in plan.stops}
    return tuple(
        places.place(intention.spot, output_line=written.places[index][0], clock_s=start_s.get(id(intention)))
        for index, intention in intentions
        if index in written.places and isinstance(intention, Insertion)
    )


def _stretches(intentions: Iterable[Intention], places: Places, since: int) -> tuple[Place, ...]:
    """The lines from `since` on that edits reach over, neighbouring stretches joined."""
    joined: list[tuple[int, int]] = []
    for first, end in sorted(span for intention in intentions if (span := _span(intention)) is not None):
        if joined and first <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((first, end))
    return tuple(places.place(Spot(max(first, since)), end_line=end) for first, end in joined)


def _span(intention: Intention) -> tuple[int, int] | None:
    if isinstance(intention, Silence):
        return (int(intention.lines.min()), int(intention.lines.max()) + 1) if len(intention.lines) else None
    if isinstance(intention, SilencePush):
        return intention.line, intention.line + 1
    return (
        (intention.first_line, intention.end_line)
        if isinstance(intention, ScaleFeed | ScaleFlow | Shift)
        else None
    )


def _what(plan: Plan, intentions: list[Intention], *, dry: bool) -> str:
    first = intentions[0]
    match first:
        case Pause() if dry:
            return f"to the park and on again, without a wait: {first.kind}"
        case LayClay() if dry:
            return _because("the way beside the piece, without clay", first.why)
        case Rehearse():
            return "nothing is pushed: E taken out of moves"
        case Pause():
            return f"pause: {first.kind}"
        case LayClay():
            clay_ml = sum(intention.clay_ml for intention in intentions if isinstance(intention, LayClay))
            return _because(f"{clay_ml:.1f} ml of clay laid beside the piece", first.why)
        case Ask():
            return f"shows words and waits: {first.reason}"
        case Say():
            return "message on the display"
        case Air():
            sent = plan.config.machine.air.sent
            levels = [sent(intention.level) * 100 for intention in intentions if isinstance(intention, Air)]
            return f"blower set to {_between(levels, '.0f')} %"
        case Command():
            return _because(f"sent {', '.join(first.codes)}", first.why)
        case Wait():
            seconds = [intention.seconds for intention in intentions if isinstance(intention, Wait)]
            return _because(f"stands still, {round(sum(seconds), 3):g} s together", first.why)
        case Silence() | SilencePush():
            return _because("turned into comments", first.why)
        case ScaleFlow():
            factors = [intention.factor * 100 for intention in intentions if isinstance(intention, ScaleFlow)]
            return f"clay taken to {_between(factors, '.0f')} %"
        case Shift():
            return _because(f"piece moved by {_way(first.by_mm)}", first.why)
    return type(first).__name__


def _feeds(plan: Plan, intentions: list[Planned]) -> str:
    """What becomes of the layers' feeds, floors counted, beside what other steps do before."""
    own = dict(intentions)
    earlier = [
        entry.intention
        for index, entry in enumerate(plan.entries[: max(own)])
        if index not in own and isinstance(entry.intention, ScaleFeed)
    ]
    scales = [intention for intention in own.values() if isinstance(intention, ScaleFeed)]
    found = real_factors(plan.survey, scales, mean_factors(plan.survey, earlier)) * 100
    factors = found.tolist() or [scale.factor * 100 for scale in scales]
    return f"feed taken to {_between(factors, '.0f')} %"


def _because(what: str, why: str) -> str:
    return f"{what}: {why}" if why else what


def _way(by_mm: tuple[float, float, float]) -> str:
    """A shift in words: `x -9.11 mm, y 4 mm, 3.1 mm upwards`."""
    along = [f"{axis} {round(mm, 3):g} mm" for axis, mm in zip("xy", by_mm, strict=False) if mm]
    up_mm = round(by_mm[2], 3)
    up = [f"{abs(up_mm):g} mm {'upwards' if up_mm > 0 else 'downwards'}"] if up_mm else []
    return ", ".join([*along, *up])


def _between(values: list[float], form: str) -> str:
    low, high = format(min(values), form), format(max(values), form)
    return low if low == high else f"{low} to {high}"


def _moves(plan: Plan, places: Places) -> list[Change]:
    return [
        Change(
            step=step,
            kind="move",
            what=_because(f"{move.old.kind} pause moved", move.why),
            count=1,
            where=(places.place(move.new.spot),),
        )
        for step, move in plan.moved
    ]


def _rests(plan: Plan, written: Written, places: Places) -> list[Change]:
    """The blower's rest at waits: part of each pause's block, and around the file's own waits."""
    at = [(pause.spot, places.place(pause.spot)) for pause in plan.pauses]
    for own in plan.own_pauses:
        if own.line in written.own_pauses:
            spot = Spot(own.line)
            at.append((spot, places.place(spot, output_line=written.own_pauses[own.line])))
    where = tuple(place for _, place in sorted(at, key=lambda each: each[0]))
    return [
        Change(step=entry.step, kind="air", what="blower off while waiting", count=len(where), where=where)
        for entry in plan.entries
        if isinstance(entry.intention, AirInPause) and entry.intention.off
    ]
