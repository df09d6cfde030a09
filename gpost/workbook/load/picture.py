"""A picture of the piece and of its cartridges side by side, as an SVG file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np

from gpost.common.plain import shown
from gpost.plan.plan import Plan
from gpost.report.wording import clock
from gpost.supply.bands import Mix, name_of
from gpost.supply.loading import Due, LoadingSheet, reach_of
from gpost.supply.slugs import Slug

PALETTE = ("#cfc4ae", "#a8553a", "#4d6f8f", "#71845c", "#c9a24b", "#5d5349", "#a67c94", "#7fa3a0")
"""Earth colours of our own, for clays whose name tells none."""
NAMED = {
    "white": "#ebe5d8",
    "cream": "#e8dcc0",
    "black": "#37322e",
    "grey": "#9b968d",
    "red": "#a3452f",
    "brown": "#7a5238",
    "yellow": "#d3ae4c",
    "ochre": "#c08a3e",
    "green": "#6f8a5c",
    "blue": "#3f668f",
    "turquoise": "#5f9a97",
    "pink": "#d6a29a",
    "violet": "#7c6488",
    "orange": "#c4763d",
}
TOP, FOOT, HEIGHT = 64.0, 46.0, 460.0
"""Free room above and below what is drawn, and its least height, px."""
PIECE_WIDTH, TUBE, LABEL, LEAST_GAP = 300.0, 54.0, 276.0, 30.0
CARE = 24.0
"""Room below the legend for the line that names the cautions, px."""
TAKE_CARE = "Before you load and print, read what the sheet in words says under Take care."
MOST_LETTERS = 38
INK = "#3a352f"
STYLE = f"font-family='sans-serif' font-size='12' fill='{INK}'"


def loading_svg(plan: Plan, sheet: LoadingSheet, *, name: str) -> str:
    """The piece with its colours as they are expected, and each cartridge as it is loaded, outlet down."""
    colours = palette(sheet.clays)
    tubes = [*([0] if sheet.of(0) else []), *sheet.cartridges]
    width = 70 + PIECE_WIDTH + 90 + len(tubes) * (TUBE + LABEL)
    drawn = max(HEIGHT, LEAST_GAP * (max(len(sheet.of(number)) for number in tubes) + 1))
    height = TOP + drawn + FOOT + 22 + CARE
    parts = [
        f"<svg xmlns='http://www.w3.org/2000/svg' width='{width:.0f}' height='{height:.0f}' "
        f"viewBox='0 0 {width:.0f} {height:.0f}'>",
        f"<rect width='100%' height='100%' fill='#fbf9f4'/><g {STYLE}>",
        _text(20, 26, f"Loading sheet: {Path(name).name}", size=16),
        *_piece(plan, sheet, colours, TOP + drawn),
    ]
    most_ml = max(sum(slug.clay_ml for slug in sheet.of(number)) for number in tubes)
    for place, number in enumerate(tubes):
        left = 70 + PIECE_WIDTH + 90 + place * (TUBE + LABEL)
        parts += _tube(sheet, number, left, TOP + drawn, drawn / most_ml, colours)
    parts += [*_legend(colours, height - CARE - 18), _text(20, height - 14, TAKE_CARE), "</g></svg>"]
    return "\n".join([*parts, ""])


def palette(clays: Sequence[str]) -> dict[str, str]:
    """A colour for each clay: the one its name tells, if no other has it, or the next of the palette."""
    found: dict[str, str] = {}
    for clay in clays:
        told = [colour for word, colour in NAMED.items() if word in clay.lower()]
        free = [colour for colour in (*told, *PALETTE) if colour not in found.values()]
        found[clay] = free[0] if free else PALETTE[len(found) % len(PALETTE)]
    return found


def mixed(mix: Mapping[str, float], colours: Mapping[str, str]) -> str:
    """The colour between those of the clays, by their shares."""
    parts = [(share, colours[clay]) for clay, share in mix.items()]
    channels = (sum(share * int(colour[at : at + 2], 16) for share, colour in parts) for at in (1, 3, 5))
    return "#" + "".join(f"{min(max(round(channel), 0), 255):02x}" for channel in channels)


def _piece(plan: Plan, sheet: LoadingSheet, colours: Mapping[str, str], ground: float) -> Iterator[str]:
    """One bar for each layer, as wide as the layer along x."""
    layers = plan.survey.layers
    tops = np.maximum.accumulate(layers["height_mm"].astype(float))
    bottoms = np.concatenate([[0.0], tops[:-1]])
    (x_low, x_high), top_mm = plan.survey.bounds_mm[0], float(tops.max())
    scale = min((ground - TOP) / top_mm, PIECE_WIDTH / max(x_high - x_low, 1.0))
    middle = 70 + PIECE_WIDTH / 2
    shares = reach_of(plan, sheet).shares
    for index, (bottom, top) in enumerate(zip(bottoms, tops, strict=True)):
        wide = (layers["x_max_mm"][index] - layers["x_min_mm"][index]) * scale
        left = middle + ((layers["x_min_mm"][index] - (x_low + x_high) / 2) * scale)
        colour = mixed({clay: float(share[index]) for clay, share in shares.items()}, colours)
        tall = max((top - bottom) * scale, 0.1) + 0.3
        yield (
            f"<rect x='{left:.2f}' y='{ground - top * scale:.2f}' width='{max(wide, 0.5):.2f}' "
            f"height='{tall:.2f}' fill='{colour}'/>"
        )
    yield _text(70, TOP - 12, f"the piece, {top_mm:.0f} mm high")
    yield f"<path d='M60 {ground} H{80 + PIECE_WIDTH:.0f}' stroke='{INK}'/>"
    yield from _marks(sheet, scale, ground)


def _marks(sheet: LoadingSheet, scale: float, ground: float) -> Iterator[str]:
    """Heights where each mixture is half, left of the piece; of marks too near to each other one."""
    last = ground + 30.0
    for edge in sheet.edges:
        y = ground - edge.half_mm * scale
        yield f"<path d='M56 {y:.1f} H70' stroke='{INK}'/>"
        if last - y >= 13:
            yield _text(52, y + 4, f"{edge.half_mm:.0f}", anchor="end")
            last = y


def _tube(
    sheet: LoadingSheet, number: int, left: float, ground: float, scale: float, colours: Mapping[str, str]
) -> Iterator[str]:
    """The slugs as they lie in the cartridge: what comes out first is at the bottom."""
    lying = [slug for slug in sheet.slugs if slug.cartridge == number]
    order = {id(slug): place for place, slug in enumerate(sheet.of(number), 1)}
    due = next((due for due in sheet.due if due.cartridge == number), None)
    yield _text(left, TOP - 12, "the hose, filled first" if due is None else _title(due))
    y, spots = ground, []
    for slug in lying:
        tall = slug.clay_ml * scale
        y -= tall
        dash = " stroke-dasharray='4 3'" if slug.reserve else ""
        yield (
            f"<rect x='{left:.1f}' y='{y:.2f}' width='{TUBE:.0f}' height='{tall:.2f}' "
            f"fill='{mixed(slug.mix, colours)}' stroke='{INK}' stroke-width='0.8'{dash}/>"
        )
        spots.append(y + tall / 2)
    for slug, spot, label in zip(lying, spots, _spread(spots, ground), strict=True):
        yield f"<path d='M{left + TUBE:.1f} {spot:.1f} l14 {label - spot:.1f}' stroke='{INK}'/>"
        first, second = _words(slug, order[id(slug)])
        yield _text(left + TUBE + 18, label - 1, first)
        yield _text(left + TUBE + 18, label + 12, second)
    mouth = left + TUBE / 2
    yield f"<path d='M{mouth - 8:.1f} {ground + 3:.0f} h16 l-8 12 z' fill='{INK}'/>"
    yield _text(mouth + 14, ground + 15, "outlet")


def _title(due: Due) -> str:
    title = f"cartridge {due.cartridge}"
    if due.first:
        return title
    return f"{title}, due at {due.height_mm:.0f} mm, {clock(due.clock_s)} h"


def _words(slug: Slug, place: int) -> tuple[str, str]:
    """Two lines for a slug: when it goes in and what it is; how much of it."""
    length = "" if slug.length_mm is None else f", {slug.length_mm:.0f} mm"
    reserve = ", reserve" if slug.reserve else ""
    words = shown(_short(slug.mix))
    return f"{place}. {words}{reserve}", f"{slug.clay_ml:.0f} ml, {slug.wet_g:.0f} g{length}"


def _short(mix: Mix) -> str:
    """A mixture in few words: `25 % blue in white`."""
    name = name_of(mix)
    if len(mix) == 2:
        (first, _), (second, share) = mix.items()
        name = f"{share * 100:.0f} % {second} in {first}"
    return name if len(name) <= MOST_LETTERS else f"{name[: MOST_LETTERS - 3]}..."


def _spread(spots: Sequence[float], ground: float) -> list[float]:
    """Places for labels, going up, near their spots but never too near to each other or below the tube."""
    found: list[float] = []
    for spot in spots:
        found.append(min(spot, found[-1] - LEAST_GAP) if found else min(spot, ground - 14))
    top = TOP + 8
    for index in range(len(found) - 1, -1, -1):
        if found[index] < top:
            found[index] = top
        top = found[index] + LEAST_GAP
        if index and found[index - 1] >= top:
            break
    return found


def _legend(colours: Mapping[str, str], y: float) -> Iterator[str]:
    x = 20.0
    for clay, colour in colours.items():
        yield f"<rect x='{x:.0f}' y='{y - 11:.0f}' width='14' height='14' fill='{colour}' stroke='{INK}'/>"
        yield _text(x + 20, y, clay)
        x += 40 + 8 * len(clay)


def _text(x: float, y: float, words: str, *, size: int = 12, anchor: str = "start") -> str:
    told = escape(shown(words))
    return f"<text x='{x:.1f}' y='{y:.1f}' font-size='{size}' text-anchor='{anchor}'>{told}</text>"
