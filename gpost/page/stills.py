"""The piece from the front, as it will stand: its outline, its clays by height, where it waits."""

from __future__ import annotations

import bisect
import itertools
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.page.looks import DARK, LIGHT, Looks, clays_of
from gpost.page.svg import (
    LINE,
    WIDTH,
    Drawing,
    Part,
    apart,
    block,
    drawing,
    px,
    stroke,
    text,
    ticks,
    wrap,
)
from gpost.plan.plan import Plan
from gpost.report.model import PauseRecord, Summary
from gpost.report.wording import clock
from gpost.supply.bands import name_of
from gpost.words import listed, recorded, say

Floats = NDArray[np.float64]
Mix = Mapping[str, float]
TOP, LEFT, PIECE_WIDE, PIECE_TALL = 62.0, 78.0, 112.0, 330.0
"""Free room above the piece and left of it, and the most that is drawn of it, px."""
LABELS = LEFT + PIECE_WIDE + 30
"""Where the labels begin, px."""
ROW_PX = 0.5
"""Layers lower than this on the picture are drawn together."""
STEP = 0.05
"""Shares that differ by less are drawn as one."""
MOST_PAUSES, MOST_LABELS, MOST_LONG = 10, 32, 7
"""With more pauses those of one kind share a label; with more labels than `MOST_LONG` each says the height
alone, without a leader, and the rest of still more is counted."""


class Outline(NamedTuple):
    """The piece from the front, row by row from the bottom up; arrays of shape (rows,), mm."""

    bottom_mm: Floats
    top_mm: Floats
    left_mm: Floats
    right_mm: Floats
    layer: NDArray[np.int64]
    """The first layer of the row, counted from 1."""


class Mark(NamedTuple):
    """Something to say at a height."""

    height_mm: float
    lines: tuple[str, ...]
    mix: Mix | None = None
    """What shows from here on; None: it is a pause."""
    bold: int = 0
    """So many of its lines are bold."""


def side_view(summary: Summary, plan: Plan) -> Drawing:
    """The piece from the front with its colours, its heights in mm, and its pauses."""
    looks = Looks(clays_of(summary), plan.config, key="side")
    parts = [side_part(summary, plan, looks), looks.legend()]
    return drawing(parts, title=say("pictures.side_title"), defs=looks.defs())


def outline(plan: Plan, *, least_mm: float = 0.0) -> Outline:
    """The outline by layer, beads counted; layers lower than `least_mm` share a row that is as wide as all.

    Heights are as the sliced file has them, as everywhere in the summary; x as printed.
    """
    layers, half_mm, x_mm = plan.survey.layers, plan.bead_width_mm / 2, plan.shift_mm[0]
    top_mm = layers["height_mm"].astype(float)
    below_mm = np.append(0.0, np.maximum.accumulate(top_mm)[:-1])
    bottom_mm = np.minimum(np.where(below_mm < top_mm, below_mm, layers["low_mm"]), top_mm)
    first = [0]
    for index in range(1, len(top_mm)):
        if not bottom_mm[first[-1]] <= bottom_mm[index] < bottom_mm[first[-1]] + least_mm:
            first.append(index)
    return Outline(
        bottom_mm[first],
        np.maximum.reduceat(top_mm, first),
        np.minimum.reduceat(layers["x_min_mm"], first) - half_mm + x_mm,
        np.maximum.reduceat(layers["x_max_mm"], first) + half_mm + x_mm,
        np.array(first, np.int64) + 1,
    )


class _Scale(NamedTuple):
    """From mm to px."""

    px_mm: float
    ground: float
    """Where height 0 is, px."""
    middle_mm: float

    def x(self, x_mm: float) -> float:
        return LEFT + PIECE_WIDE / 2 + (x_mm - self.middle_mm) * self.px_mm

    def y(self, height_mm: float) -> float:
        return self.ground - height_mm * self.px_mm


def side_part(summary: Summary, plan: Plan, looks: Looks) -> Part:
    """The same as a part of a picture."""
    if not len(plan.survey.layers):
        return Part("", 0.0, "")
    whole, slab = outline(plan), summary.slab
    top_mm = float(whole.top_mm.max())
    left_mm, right_mm = float(whole.left_mm.min()), float(whole.right_mm.max())
    size = {"height": f"{top_mm:.0f}", "wide": f"{right_mm - left_mm:.0f}"}
    head = wrap(say("pictures.side_size", **size), (WIDTH - 24) / 1.06)
    low_mm = 0.0 if slab is None else slab.thickness_mm
    px_mm = min(PIECE_TALL / (top_mm + low_mm), PIECE_WIDE / (right_mm - left_mm))
    marks = list(_labels(summary))
    between = 8 if len(marks) <= MOST_LONG else 5
    tall = [LINE * len(mark.lines) + between for mark in marks]
    drawn = max((top_mm + low_mm) * px_mm, sum(tall))
    scale = _Scale(px_mm, TOP + drawn - low_mm * px_mm, (left_mm + right_mm) / 2)
    body = [
        *block(12, 4, head, bold=len(head)),
        *_axis(scale, top_mm),
        *_slab(summary, scale),
        *_wall(outline(plan, least_mm=ROW_PX / px_mm), summary, looks, scale),
        *_pause_lines(summary.pauses, whole, scale),
        *_marks(marks, tall, whole, looks, scale, drawn),
    ]
    foot = 24.0 if slab is None else 44.0
    alt = " ".join([say("pictures.side_alt", **size), _colours_alt(summary), *_pauses_alt(marks)])
    return Part("".join(body), TOP + drawn + foot, alt)


def _axis(scale: _Scale, top_mm: float) -> Iterator[str]:
    """Heights in mm, left of the piece."""
    x = LEFT - 8
    yield stroke(f"M{px(x)} {px(scale.y(0))} V{px(scale.y(top_mm))}")
    for height_mm in ticks(top_mm):
        y = scale.y(height_mm)
        yield stroke(f"M{px(x - 5)} {px(y)} h5")
        yield text(x - 9, y + 4.5, say("pictures.mm", value=f"{height_mm:g}"), anchor="end")


def _slab(summary: Summary, scale: _Scale) -> Iterator[str]:
    """What it stands on: the slab, or the bed."""
    slab = summary.slab
    if slab is None:
        left, right = LEFT - 8, LEFT + PIECE_WIDE + 8
        yield stroke(f"M{px(left)} {px(scale.ground)} H{px(right)}", 2)
        return
    # a large slab goes on beyond the picture
    left = max(scale.x(slab.x_mm - slab.x_size_mm / 2), LEFT - 8)
    right = min(scale.x(slab.x_mm + slab.x_size_mm / 2), LEFT + PIECE_WIDE + 24)
    tall = max(slab.thickness_mm * scale.px_mm, 2.0)
    yield stroke(f"M{px(left)} {px(scale.ground)} H{px(right)} m0 {px(tall)} H{px(left)}")
    corner = f"x='{px(left)}' y='{px(scale.ground)}'"
    yield f"<rect {corner} width='{px(right - left)}' height='{px(tall)}' fill-opacity='0.2'/>"
    wide, thick = f"{slab.x_size_mm:.0f}", f"{slab.thickness_mm:g}"
    words = say("pictures.ground", wide=wide, deep=f"{slab.y_size_mm:.0f}", value=thick)
    if slab.round:
        words = say("pictures.ground_round", wide=wide, value=thick)
    yield text(12, scale.ground + tall + 18, words)


def _wall(rows: Outline, summary: Summary, looks: Looks, scale: _Scale) -> Iterator[str]:
    """The wall, in one shape for each stretch of a mixture, and round all of it an edge."""
    mixes = [_drawn_mix(mix) for mix in mixes_at(summary, rows.layer)]
    for _, group in itertools.groupby(range(len(mixes)), lambda row: mixes[row]):
        stretch = list(group)
        yield looks.filled(dict(mixes[stretch[0]]), f"<path d='{_path(rows, stretch, scale)}'/>")
    yield stroke(_path(rows, range(len(mixes)), scale))


def mixes_at(summary: Summary, layers: NDArray[np.int64]) -> list[Mix]:
    """What shows in each of some layers, counted from 1; nothing in a rehearsal, which has no clay."""
    known = [record.layer for record in summary.shares]
    if not known:
        return [dict.fromkeys(clays_of(summary)[:1], 1.0)] * len(layers)
    return [summary.shares[max(bisect.bisect_right(known, layer) - 1, 0)].clays for layer in layers.tolist()]


def _drawn_mix(mix: Mix) -> tuple[tuple[str, float], ...]:
    """A mixture to steps that the eye can tell."""
    return tuple((clay, round(share / STEP) * STEP) for clay, share in mix.items() if round(share / STEP))


def _path(rows: Outline, stretch: Sequence[int], scale: _Scale) -> str:
    """Round some rows: up on the right, down on the left."""
    right = [(rows.right_mm[k], height) for k in stretch for height in (rows.bottom_mm[k], rows.top_mm[k])]
    left = [
        (rows.left_mm[k], height) for k in reversed(stretch) for height in (rows.top_mm[k], rows.bottom_mm[k])
    ]
    spots = [f"{px(scale.x(float(x)))} {px(scale.y(float(y)))}" for x, y in (*right, *left)]
    return f"M{' '.join(key for key, _ in itertools.groupby(spots))}Z"


def _pause_lines(pauses: Sequence[PauseRecord], rows: Outline, scale: _Scale) -> Iterator[str]:
    """Where the machine waits: a dashed line, light below dark, so that it shows on any clay."""
    for height_mm in sorted({pause.height_mm for pause in pauses}):
        (left, right), y = _edges(rows, height_mm, scale), px(scale.y(height_mm))
        across = f"M{px(left - 6)} {y} H{px(right + 6)}"
        if len(pauses) > MOST_PAUSES:
            across = f"M{px(left - 6)} {y} h14 M{px(right - 8)} {y} h14"
        line = f"<path d='{across}' fill='none'"
        yield f"{line} stroke='{LIGHT}' stroke-width='4' stroke-opacity='0.9'/>"
        yield f"{line} stroke='{DARK}' stroke-width='2' stroke-dasharray='6 3'/>"


def _edges(rows: Outline, height_mm: float, scale: _Scale) -> tuple[float, float]:
    """Left and right edge of the piece at a height, px."""
    row = min(
        int(np.searchsorted(np.maximum.accumulate(rows.top_mm), height_mm - 1e-6)), len(rows.top_mm) - 1
    )
    return scale.x(float(rows.left_mm[row])), scale.x(float(rows.right_mm[row]))


def _marks(
    marks: Sequence[Mark], tall: Sequence[float], rows: Outline, looks: Looks, scale: _Scale, drawn: float
) -> Iterator[str]:
    """Labels right of the piece, the lowest at the bottom; their leaders never cross."""
    order = list(reversed(range(len(marks))))
    wanted, heights = [scale.y(marks[k].height_mm) for k in order], [tall[k] for k in order]
    places = apart(wanted, heights, TOP - 12, TOP + drawn + 8)
    for k, y, spot in zip(order, places, wanted, strict=True):
        mark, middle = marks[k], y + 4 + LINE / 2
        edge = _edges(rows, mark.height_mm, scale)[1] + (8 if mark.mix is None else 2)
        way = f"H{px(max(LEFT + PIECE_WIDE + 8, edge))} L{px(LABELS - 4)} {px(middle)}"
        if len(marks) <= MOST_LONG:
            yield stroke(f"M{px(edge)} {px(spot)} {way}")
        chip = 0.0
        if mark.mix is not None:
            yield looks.chip(mark.mix, LABELS, y + 4)
            chip = 22.0
        yield from block(LABELS + chip, y + 3, mark.lines, bold=mark.bold)


def _labels(summary: Summary) -> Iterator[Mark]:
    """What is said beside the piece, from the bottom up; no more than can be read."""
    short = False
    found = [*_pauses(summary.pauses, short), *_changes(summary, short)]
    if len(found) > MOST_LONG:
        found = [*_pauses(summary.pauses, short := True), *_changes(summary, short)]
    found.sort(key=lambda mark: mark.height_mm)
    left = len(found) - MOST_LABELS
    if left > 1:
        more = tuple(wrap(say("pictures.labels_more", count=left), WIDTH - LABELS))
        found = [*found[:MOST_LABELS], Mark(found[MOST_LABELS].height_mm, more)]
    yield from found


def _pauses(pauses: Sequence[PauseRecord], short: bool) -> Iterator[Mark]:
    numbered = list(enumerate(pauses, 1))
    if len(pauses) <= MOST_PAUSES:
        yield from (_pause(number, pause, short) for number, pause in numbered)
        return
    for kind, group in itertools.groupby(numbered, lambda item: (item[1].kind, item[1].new_cartridge)):
        some = list(group)
        if len(some) == 1:
            yield _pause(*some[0], short)
            continue
        (first, low), (last, high) = some[0], some[-1]
        span = {"low": f"{low.height_mm:.0f}", "high": f"{high.height_mm:.0f}", "what": recorded(kind[0])}
        said = tuple(
            wrap(say("pictures.pauses_alike", first=first, last=last, **span), (WIDTH - LABELS) / 1.06)
        )
        yield Mark(low.height_mm, said, bold=len(said))


def _pause(number: int, pause: PauseRecord, short: bool) -> Mark:
    room = WIDTH - LABELS - 2
    place = {"number": number, "height": f"{pause.height_mm:z.0f}", "clock": clock(pause.clock_s)}
    head = say(
        "pictures.pause_short" if short else "pictures.pause" if pause.layer else "pictures.pause_before",
        **place,
    )
    lines = wrap(head, room / 1.06)
    if short:
        return Mark(pause.height_mm, tuple(lines), bold=len(lines))
    what = recorded(pause.kind) if pause.step else pause.reason
    if pause.new_cartridge and pause.cartridge is not None:
        key = "names.cartridge" if pause.colour is None else "names.cartridge_of"
        cartridge = say(key, number=pause.cartridge, clay=pause.colour)
        what = say("pictures.pause_with", what=what, cartridge=cartridge)
    return Mark(pause.height_mm, (*lines, *wrap(what, room)), bold=len(lines))


def _changes(summary: Summary, short: bool) -> Iterator[Mark]:
    """Where another clay begins to show: the edges of bands, or what pauses put in."""
    found: list[tuple[float, Mix, float | None, float | None]] = [
        (edge.half_mm, edge.clays, edge.low_mm, edge.high_mm) for edge in summary.edges
    ]
    if not found and len(clays_of(summary)) > 1:
        found = [
            (pause.shows_at_height_mm, {pause.colour: 1.0}, pause.shows_low_mm, pause.shows_high_mm)
            for pause in summary.pauses
            if pause.colour is not None and pause.shows_at_height_mm is not None
        ]
    for height_mm, mix, low_mm, high_mm in found:
        said = say(
            "pictures.changes_short" if short else "pictures.changes",
            height=f"{height_mm:.0f}",
            mix=new_in(mix),
        )
        if low_mm is not None and len(found) <= MOST_LONG // 2:
            said = say("pictures.changes_sure", change=said, between=_between(low_mm, high_mm))
        yield Mark(height_mm, tuple(wrap(said, WIDTH - LABELS - 24)), mix)


def new_in(mix: Mix) -> str:
    """What a mixture is, in as few words as do: of two clays the second, as the chip beside it shows both."""
    if len(mix) != 2:
        return name_of(dict(mix))
    clay, share = list(mix.items())[1]
    return say("pictures.share", percent=f"{share * 100:.0f}", clay=clay)


def _between(low_mm: float, high_mm: float | None) -> str:
    if high_mm is None:
        return say("pictures.between_open", low=f"{low_mm:.0f}")
    return say("pictures.between", low=f"{low_mm:.0f}", high=f"{high_mm:.0f}")


def _colours_alt(summary: Summary) -> str:
    first = mixes_at(summary, np.array([1]))[0]
    if not first:
        return ""
    said = [say("pictures.alt_first", mix=name_of(dict(first)))]
    said += [
        say("pictures.alt_from", mix=name_of(dict(mark.mix)), height=f"{mark.height_mm:.0f}")
        for mark in sorted(_changes(summary, short=False), key=lambda mark: mark.height_mm)
        if mark.mix is not None
    ]
    return say("pictures.alt_colours", colours=listed(said, "names.semicolon"))


def _pauses_alt(marks: Sequence[Mark]) -> Iterator[str]:
    for mark in marks:
        if mark.mix is None:
            yield f"{' '.join(mark.lines)}."
