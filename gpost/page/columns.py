"""The clay in hose and cartridges as it lies there, outlet down, slug by slug with what each is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from gpost.common.plain import shown
from gpost.page.looks import DARK, LIGHT, Looks, clays_of
from gpost.page.stills import new_in, side_part
from gpost.page.svg import (
    HEAD,
    LINE,
    SIZE,
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
from gpost.report.model import CartridgeRecord, Summary
from gpost.report.parts import SlugRecord
from gpost.report.slugs import grams
from gpost.report.toload import Portion, portions, portions_of, what_to_load
from gpost.report.wording import clock
from gpost.supply.bands import name_of
from gpost.words import listed, say

TUBE_LEFT, TUBE_WIDE, ROWS = 78.0, 42.0, 142.0
"""Where the cartridge stands and how wide it is, and where the words begin, px."""
LEAST_TALL = 90.0
MOST_JOINED = 10
"""Of more slugs each is told by its number alone, and in one line where the table beside it says the rest:
tints would lie side by side as thin as hairs."""
MOST_TALL = 900.0
"""Columns stand below one another in one picture up to so much, px: no sheet of paper cuts it in two."""
ENDS = 34.0
"""Room for each end of the cartridge and its name, px."""


class Lying(NamedTuple):
    """A slug in its place."""

    order: int
    """When it goes in, counted from 1."""
    slug: SlugRecord
    portion: Portion
    """The same in whole numbers."""


class Column(NamedTuple):
    """A cartridge, or the hose, with all that lies in it."""

    number: int
    """0: the hose."""
    title: str
    how: str
    """Which way it is loaded; "": there is but one clay in it."""
    lying: tuple[Lying, ...]
    """What leaves first comes first."""
    from_outlet: bool = False
    """Whether it is filled from the end at which it leaves."""
    least: bool = False
    """Whether its amounts are the least that must be in it."""


def columns(summary: Summary) -> list[Column]:
    """The hose, if it holds several clays, and each cartridge, as they are loaded; none for a rehearsal."""
    found = []
    if summary.line.slugs:
        lying = tuple(_lying(summary.line.slugs, portions(summary.line.slugs)))
        found.append(Column(0, say("pictures.hose"), say("pictures.hose_order"), lying))
    return found + [_column(summary, cartridge) for cartridge in summary.cartridges]


def _column(summary: Summary, cartridge: CartridgeRecord) -> Column:
    title = say("pictures.column", number=cartridge.number)
    for pause in summary.pauses:
        if pause.cartridge == cartridge.number != summary.cartridges[0].number:
            said = {"height": f"{pause.height_mm:.0f}", "clock": clock(pause.clock_s)}
            title = say("pictures.column_due", number=cartridge.number, **said)
    if not cartridge.slugs:
        found = what_to_load(cartridge)
        one = SlugRecord(clays={cartridge.colour: 1.0}, clay_ml=found.ml, wet_g=found.g)
        lone = tuple(_lying([one], portions([one])))
        return Column(cartridge.number, title, "", lone, least=not cartridge.is_on)
    outlet = summary.loaded_from == "outlet"
    lying = list(_lying(cartridge.slugs, portions_of(cartridge)))
    how = say("pictures.from_outlet" if outlet else "pictures.from_plunger")
    return Column(cartridge.number, title, how, tuple(lying[::-1] if outlet else lying), outlet)


def _lying(slugs: Sequence[SlugRecord], whole: Sequence[Portion]) -> Iterator[Lying]:
    """Slugs in the order in which they go in."""
    for place, (slug, portion) in enumerate(zip(slugs, whole, strict=True), 1):
        yield Lying(place, slug, portion)


def loading_columns(summary: Summary, plan: Plan) -> tuple[Drawing, ...]:
    """Hose and cartridges below one another, as pictures that go on one sheet of paper each."""
    looks, title = (
        Looks(clays_of(summary), plan.config, key="load"),
        say("pictures.loading_title", name=_name(summary)),
    )
    pages: list[list[Part]] = [[]]
    for part in (column_part(column, looks, brief=True) for column in columns(summary)):
        if pages[-1] and sum(other.height for other in pages[-1]) + part.height > MOST_TALL:
            pages.append([])
        pages[-1].append(part)
    found = [drawing([*parts, looks.legend()], title=title, defs=looks.defs()) for parts in pages if parts]
    return tuple(found)


def loading_svg(summary: Summary, plan: Plan) -> str:
    """The sheet to hang up: the piece as it will stand, below it hose and cartridges as they are loaded."""
    title = say("pictures.loading_title", name=_name(summary))
    looks = Looks(clays_of(summary), plan.config, key="sheet")
    head = wrap(title, (WIDTH - 24) / 1.06, HEAD + 1)
    parts = [
        Part("".join(block(12, 10, head, bold=len(head), size=HEAD + 1)), 16 + LINE * len(head), ""),
        side_part(summary, plan, looks),
        looks.legend(),
        *_hose(summary),
        *(column_part(column, looks) for column in columns(summary)),
        _said(say("pictures.take_care")),
    ]
    return drawing(parts, title=title, defs=looks.defs()).svg


def _name(summary: Summary) -> str:
    return shown(Path(summary.source).name)


def _hose(summary: Summary) -> Iterator[Part]:
    """What the hose must hold where that is one clay; of several there is a column."""
    line = summary.line
    if line.clay_ml > 0 and line.at_start and not line.slugs:
        said = say("pictures.hose_full", clay=line.at_start, ml=f"{line.clay_ml:.0f}")
        yield _said(said)._replace(alt=said)


def _said(words: str) -> Part:
    lines = wrap(words, WIDTH - 24)
    return Part("".join(block(12, 6, lines)), LINE * len(lines) + 18, "")


def column_part(column: Column, looks: Looks, *, brief: bool = False) -> Part:
    """One of them: to scale on the left, in words on the right, and what belongs together under one tint.

    `brief`: for the page, whose table says what to wedge; many slugs are told in one line each.
    """
    title, how = wrap(column.title, (WIDTH - 24) / 1.06, HEAD), wrap(column.how, WIDTH - 24)
    head = [*block(12, 10, title, bold=len(title), size=HEAD), *block(12, 12 + LINE * len(title), how)]
    top = 18 + LINE * (len(title) + (len(how) if column.how else 0)) + ENDS
    whole_ml = sum(item.slug.clay_ml for item in column.lying)
    lying = column.lying[::-1]  # as it is drawn, from the top down
    in_one_line = brief and len(lying) > MOST_JOINED
    rows = [
        _short_row(item) if in_one_line else _row(item, least=column.least, wedge=not brief) for item in lying
    ]
    tall = [LINE * len(lines) + 12 for lines in rows]
    drawn = max(sum(tall), LEAST_TALL)
    heights = [item.slug.clay_ml / whole_ml * drawn if whole_ml else 0.0 for item in lying]
    edges = [top + sum(heights[:place]) for place in range(len(heights) + 1)]
    places = apart(
        [edge + high / 2 for edge, high in zip(edges, heights, strict=False)], tall, top, top + drawn
    )
    body = [*head, *_ends(column, top, drawn), *_ruler(column, top, drawn)]
    for place, item in enumerate(lying):
        block_y, row_y = (edges[place], edges[place + 1]), (places[place], places[place] + tall[place])
        joined = [_joined(block_y, row_y)] if len(lying) <= MOST_JOINED else []
        body += [*joined, *_block(item, block_y, looks)]
        body += block(ROWS + 10, row_y[0] + 5, rows[place], bold=0 if in_one_line else len(_named(item)))
    alt = say(
        "pictures.loading_alt",
        title=column.title,
        blocks=listed((" ".join(_row(item)) for item in column.lying), "names.semicolon"),
    )
    foot = top + drawn + ENDS
    amount = say("pictures.in_all", amount=_amount([item.portion for item in column.lying]))
    total = [] if len(column.lying) == 1 else wrap(amount, (WIDTH - ROWS - 16) / 1.06)
    body += block(ROWS + 10, foot - 20, total, bold=len(total))
    return Part("".join(body), foot - 3 + LINE * max(len(total), 1), alt)


def _named(item: Lying) -> list[str]:
    return wrap(
        say("pictures.row", order=item.order, mix=name_of(dict(item.slug.clays))), (WIDTH - ROWS - 16) / 1.06
    )


def _row(item: Lying, *, least: bool = False, wedge: bool = True) -> list[str]:
    """A slug in words: when it goes in and what it is, how much of it, what to wedge for it."""
    slug, portion, room = item.slug, item.portion, WIDTH - ROWS - 16
    amount = _amount([portion])
    said = [say("pictures.at_least", amount=amount) if least else amount]
    if wedge and len(slug.clays) > 1:
        said.append(say("names.wedge", parts=grams(portion.g_of)))
    said += [say("pictures.reserve")] if slug.reserve else []
    return [*_named(item), *(line for words in said for line in wrap(words, room))]


def _short_row(item: Lying) -> list[str]:
    said = say("pictures.row_short", order=item.order, mix=new_in(dict(item.slug.clays)), g=item.portion.g)
    return wrap(said, WIDTH - ROWS - 16)


def _amount(found: Sequence[Portion]) -> str:
    ml, g = sum(portion.ml for portion in found), sum(portion.g for portion in found)
    lengths = [portion.mm for portion in found if portion.mm is not None]
    if len(lengths) < len(found):
        return say("pictures.amount", ml=ml, g=g)
    return say("pictures.amount_length", ml=ml, g=g, mm=sum(lengths))


def _joined(block_y: tuple[float, float], row_y: tuple[float, float]) -> str:
    """A tint from a slug to its words: such never cross, however thin the slugs are."""
    left, right, end = TUBE_LEFT + TUBE_WIDE, ROWS, WIDTH - 6
    points = [
        (left, block_y[0]),
        (right, row_y[0] + 1),
        (end, row_y[0] + 1),
        (end, row_y[1] - 1),
        (right, row_y[1] - 1),
        (left, block_y[1]),
    ]
    path = " ".join(f"{px(x)} {px(y)}" for x, y in points)
    edge = "stroke='currentColor' stroke-opacity='0.35' stroke-width='1'"
    return f"<path d='M{path}Z' fill-opacity='0.07' {edge}/>"


def _block(item: Lying, block_y: tuple[float, float], looks: Looks) -> Iterator[str]:
    """A slug to scale, with its number where there is room."""
    top, tall = block_y[0], block_y[1] - block_y[0]
    shape = f"<rect x='{px(TUBE_LEFT)}' y='{top:.2f}' width='{px(TUBE_WIDE)}' height='{tall:.2f}'/>"
    dash = " stroke-dasharray='5 3'" if item.slug.reserve else ""
    yield looks.filled(item.slug.clays, shape)
    yield f"{shape.removesuffix('/>')} fill='none' stroke='currentColor' stroke-width='1.5'{dash}/>"
    if tall >= 13:
        x, y, r = TUBE_LEFT + TUBE_WIDE / 2, top + tall / 2, min(tall / 2 - 1, 10)
        spot = f"cx='{px(x)}' cy='{px(y)}' r='{px(r)}'"
        yield f"<circle {spot} fill='{LIGHT}' stroke='{DARK}' stroke-width='1'/>"
        size = min(SIZE, 1.2 * r)
        number = text(x, y + size * 0.35, str(item.order), anchor="middle", bold=True, size=size)
        yield f"<g fill='{DARK}'>{number}</g>"


def _ends(column: Column, top: float, drawn: float) -> Iterator[str]:
    """Both ends by name, the mouth as an arrow, and at which end it is filled."""
    middle, foot = TUBE_LEFT + TUBE_WIDE / 2, top + drawn
    upper = say("pictures.plunger") if column.number else say("pictures.into_hose")
    lower = say("pictures.outlet") if column.number else say("pictures.nozzle")
    filled = bool(column.how and column.number)
    yield stroke(f"M{px(TUBE_LEFT - 4)} {px(top - 4)} h{px(TUBE_WIDE + 8)}", 5)
    here = say("pictures.fill_here", end=lower if column.from_outlet else upper)
    yield text(TUBE_LEFT - 4, top - 13, here if filled and not column.from_outlet else upper)
    yield f"<path d='M{px(middle - 9)} {px(foot + 4)} h18 l-9 12 z'/>"
    # the words of the outlet stand left of the total
    yield text(12, foot + ENDS - 4, here if filled and column.from_outlet else lower)


def _ruler(column: Column, top: float, drawn: float) -> Iterator[str]:
    """How far from the outlet, mm where the bore is known, ml otherwise."""
    slugs = [item.slug for item in column.lying]
    lengths = [slug.length_mm for slug in slugs if slug.length_mm is not None]
    known = len(lengths) == len(slugs)
    whole = sum(lengths) if known else sum(slug.clay_ml for slug in slugs)
    for value in ticks(whole):
        y = top + drawn - (value / whole * drawn if whole else 0.0)
        yield stroke(f"M{px(TUBE_LEFT - 8)} {px(y)} h8")
        yield text(
            TUBE_LEFT - 11,
            y + SIZE * 0.35,
            say("pictures.mm" if known else "pictures.ml", value=f"{value:g}"),
            anchor="end",
        )
