"""After the print, in words: take off, dry, fire; sizes, masses, and a card for what is found."""

from __future__ import annotations

from collections.abc import Iterator

from gpost.common.layout import Part
from gpost.common.plain import shown
from gpost.report.model import OutsideRecord, Summary
from gpost.report.wording import Stars, clock, mass, wrapped

CARD = (
    ("grams", "wet mass of the piece, g"),
    ("minutes", "machine time, min or h:mm"),
    ("left_g", "wet mass left in a cartridge that gave no more, g"),
    ("turned", "by hand, from a layer on: flow=110@40 speed=90@55"),
    ("softness", "of the clay, 1 stiff to 5 soft"),
    ("note", "what to remember"),
)
"""What the log takes, by the names of its options, with what each is."""
OF_REST = {
    "grams": "wet mass of the whole piece, g",
    "minutes": "machine time of this rest alone, min or h:mm",
}
"""What it takes of a stopped print's rest, where that is another thing."""
NOT_SLAB = "; not its slab ({})"
"""Stands behind what is said of grams where the piece lies on a slab, with that one's mass."""
CARD_HEAD, CARD_ASKS = "Card for the print", ": fill in what you know"


def afterwards(summary: Summary, star: Stars) -> Iterator[Part]:
    """Taking off, drying, firing."""
    piece = summary.piece
    if piece.clay_ml <= 0 or piece.outside_wet is None or piece.outside_fired is None:
        return
    yield f"Take off ({clock(summary.time_s)} from the start), dry, fire"
    on_slab = summary.slab is not None
    board = "slab and board" if on_slab else "board"
    off = f"Lift it off with its {board}, never by the wall; dry it slowly, covered at first, air all round."
    dry = "not known (clay: drying_percent)" if piece.outside_dry is None else _size(piece.outside_dry)
    wet, dry_out = taken_off_g(summary)
    wet_g, dry_g = f"{wet:.0f} g{star('piece.wet_g')}", f"{dry_out:.0f} g{star('piece.dry_g')}"
    weight = f"{wet_g} wet, about {dry_g} dry"
    weight = f"with the slab, but without the board, {weight}" if on_slab else weight
    texts = (
        f"{off} It is dry when it gets no lighter: {weight}; weigh it to know.",
        f"outside, wet: {_size(piece.outside_wet)}{star('piece.outside_wet')}; dry: {dry}; fired: "
        f"{_size(piece.outside_fired)}{star('piece.outside_fired')}",
    )
    for text in texts:
        yield from wrapped(text, indent="    ", first="  ")


def taken_off_g(summary: Summary) -> tuple[float, float]:
    """Mass in g of what is lifted off, wet and dry, without the board: the piece, and the slab under it."""
    piece, slab = summary.piece, summary.slab
    if slab is None:
        return piece.wet_g, piece.dry_g
    return piece.wet_g + slab.wet_g, piece.dry_g + slab.dry_g


def _size(size: OutsideRecord) -> str:
    return f"{size.x_mm:.0f} x {size.y_mm:.0f} x {size.height_mm:.0f} mm, wall {size.wall_mm:.1f}"


def card_parts(summary: Summary) -> Iterator[Part]:
    """The card to fill in: a line for each thing that `gpost log add --card` reads back."""
    yield from wrapped(f"{CARD_HEAD} of {shown(summary.source)}{CARD_ASKS} (gpost log add --card)")
    asked = dict(CARD) if summary.resume is None else {**dict(CARD), **OF_REST}
    for name, what in asked.items():
        yield f"  {name + ':':<10}{'':<12}  # {what}{_less(summary) if name == 'grams' else ''}"


def _less(summary: Summary) -> str:
    """What of the weight that is lifted off is none of the piece's clay."""
    return "" if summary.slab is None else NOT_SLAB.format(mass(summary.slab.wet_g))
