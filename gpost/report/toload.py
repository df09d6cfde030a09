"""What is told to be loaded, in whole numbers that add up: for text, page and pictures alike."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from gpost.report.model import CartridgeRecord
from gpost.report.parts import SlugRecord
from gpost.report.wording import at_least
from gpost.supply.bands import Mix
from gpost.supply.sure import in_it

CAN_BE_OVER_ML = 0.05
"""No more than this beyond what a cartridge gives is rounding."""


class Portion(NamedTuple):
    """A slug in whole numbers."""

    ml: int
    g: int
    mm: int | None
    """Length of cartridge; None: not known."""
    g_of: dict[str, int]
    """Grams of each clay to wedge for it; they add up to `g`."""


class ToLoad(NamedTuple):
    """What goes into a cartridge."""

    ml: int
    g: int
    mm: int | None
    portions: tuple[Portion, ...]
    """Slug by slug, in the order in which they go in; they add up to it. None for a cartridge of one clay."""
    too_little: bool
    """Whether it is asked for more than it gives, however full."""
    sure: bool
    """Whether it then runs dry in no more prints than is taken."""


def what_to_load(cartridge: CartridgeRecord) -> ToLoad:
    """The one answer to how much goes into a cartridge, rounded up; of one that is on, what is in it."""
    exact_ml, exact_g = _told(cartridge)
    ml, g = at_least(exact_ml), at_least(exact_g)
    if cartridge.is_on and cartridge.begins_ml is not None and exact_ml > 0:
        ml, g = in_it(cartridge.begins_ml), round(exact_g * cartridge.begins_ml / exact_ml)
    found = portions_of(cartridge)
    lengths = [portion.mm for portion in found if portion.mm is not None]
    sure_ml, over = cartridge.sure_load_ml, cartridge.over_ml > CAN_BE_OVER_ML
    return ToLoad(
        ml,
        g,
        sum(lengths) if found and len(lengths) == len(found) else None,
        found,
        over,
        sure_ml is not None and not over and exact_ml >= sure_ml - CAN_BE_OVER_ML,
    )


def _told(cartridge: CartridgeRecord) -> tuple[float, float]:
    """(ml, g) of the record, an older one's too."""
    if cartridge.to_load_ml is not None and cartridge.to_load_g is not None:
        return cartridge.to_load_ml, cartridge.to_load_g
    if cartridge.sure_load_ml is not None and cartridge.sure_load_g is not None:
        return cartridge.sure_load_ml, cartridge.sure_load_g
    return cartridge.load_ml, cartridge.load_g


def portions_of(cartridge: CartridgeRecord) -> tuple[Portion, ...]:
    """The slugs of a cartridge in whole numbers that add up to what is told of it."""
    return portions(cartridge.slugs, in_already=cartridge.is_on)


def portions(slugs: Sequence[SlugRecord], *, in_already: bool = False) -> tuple[Portion, ...]:
    """Slugs in whole numbers: ml and grams add up to their sum, rounded up, mm to it, to the nearest.

    `in_already`: nothing is loaded, so that all of them go to the nearest.
    """
    whole = in_it if in_already else at_least
    ml, g = ([getattr(slug, key) for slug in slugs] for key in ("clay_ml", "wet_g"))
    lengths = [slug.length_mm for slug in slugs if slug.length_mm is not None]
    known = len(lengths) == len(slugs)
    mm: Sequence[int | None] = whole_parts(lengths, round(sum(lengths))) if known else [None] * len(slugs)
    whole_ml, whole_g = (whole_parts(parts, whole(sum(parts))) for parts in (ml, g))
    rows = zip(slugs, whole_ml, whole_g, mm, strict=True)
    return tuple(Portion(a, b, c, _wedged(slug.clays, b)) for slug, a, b, c in rows)


def _wedged(clays: Mix, g: int) -> dict[str, int]:
    return dict(zip(clays, whole_parts([share * g for share in clays.values()], g), strict=True))


def whole_parts(parts: Sequence[float], whole: int) -> list[int]:
    """Parts as whole numbers that add up to their sum, itself rounded to a whole one, up or down.

    By largest remainders: all are rounded down, and those that lose most get one more, so that none is
    further than 1 from its own.
    """
    found = [math.floor(part) for part in parts]
    order = sorted(range(len(parts)), key=lambda place: found[place] - parts[place])
    for place in order[: whole - sum(found)]:
        found[place] += 1
    return found
