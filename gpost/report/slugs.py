"""Slugs as they go into a cartridge: in words for the bench, and as records."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from gpost.common.digits import few
from gpost.common.layout import Part
from gpost.common.plain import shown
from gpost.report.defaults import LOAD_G, LOAD_ML
from gpost.report.loaded import slug_record as record_of
from gpost.report.toload import Portion, portions
from gpost.report.wording import wrapped
from gpost.supply.bands import name_of
from gpost.supply.slugs import Slug
from gpost.words import listed, say

ORDER = {"plunger": say("loads.plunger"), "outlet": say("loads.outlet")}
"""By the end at which a cartridge is filled."""


def slugs_lines(slugs: Sequence[Slug], indent: str = "  ") -> Iterator[Part]:
    """Of each how much of which clay, and what to wedge for it, in whole numbers that add up."""
    for text in slug_texts(slugs):
        yield from wrapped(text, indent=f"{indent}  ", first=f"{indent}- ")


def slug_texts(slugs: Sequence[Slug]) -> Iterator[str]:
    """The same, a sentence each."""
    for slug, portion in zip(slugs, portions([record_of(slug) for slug in slugs]), strict=True):
        key = "loads.slug_reserve" if slug.reserve else "loads.slug"
        text = say(key, amount=_amount([portion]), clay=shown(name_of(slug.mix)))
        if len(slug.mix) > 1:
            text = say("loads.slug_wedged", slug=text, parts=grams(portion.g_of))
        yield text


def grams(of: Mapping[str, float], digits: int = 0) -> str:
    """Grams of several clays in a row, whole ones; or of stains, to so many digits."""
    said = {name: few(g, digits) if digits else f"{g:.0f}" for name, g in of.items()}
    return listed(say("names.part", g=g, clay=shown(name)) for name, g in said.items())


def amount(slugs: Sequence[Slug], star: Callable[[str], str]) -> str:
    """All of them together: ml, grams, and mm of cartridge if they are known."""
    return _amount(portions([record_of(slug) for slug in slugs]), star(LOAD_ML), star(LOAD_G))


def _amount(found: Sequence[Portion], star: str = "", star_g: str = "") -> str:
    text = f"{sum(portion.ml for portion in found)} ml{star}, {sum(portion.g for portion in found)} g{star_g}"
    lengths = [portion.mm for portion in found if portion.mm is not None]
    return f"{text}, {sum(lengths)} mm" if len(lengths) == len(found) else text


def slugs_total(slugs: Sequence[Slug]) -> dict[str, Any]:
    """What goes into one cartridge, its reserve included."""
    lengths = [slug.length_mm for slug in slugs if slug.length_mm is not None]
    return {
        "clay_ml": sum(slug.clay_ml for slug in slugs),
        "wet_g": sum(slug.wet_g for slug in slugs),
        "length_mm": sum(lengths) if len(lengths) == len(slugs) else None,
    }


def slug_record(slug: Slug) -> dict[str, Any]:
    """One of them."""
    return {
        "clays": slug.mix,
        "clay_ml": slug.clay_ml,
        "wet_g": slug.wet_g,
        "wet_g_of": {clay: share * slug.wet_g for clay, share in slug.mix.items()},
        "length_mm": slug.length_mm,
        "reserve": slug.reserve,
    }
