"""Slugs as they go into a cartridge: in words for the bench, and as records."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from gpost.common.plain import shown
from gpost.report.wording import wrapped
from gpost.supply.bands import name_of
from gpost.supply.slugs import Slug

ORDER = {
    "plunger": "filled from the plunger's end: what goes in first comes out first",
    "outlet": "filled from the outlet's end: what goes in first comes out LAST",
}
"""By the end at which a cartridge is filled."""


def slug_lines(slug: Slug, indent: str = "  ") -> Iterator[str]:
    """How much of which clay, and what to wedge for it."""
    text = f"{amount([slug])}  {shown(name_of(slug.mix))}"
    if slug.reserve:
        text += " (reserve, stays behind)"
    if len(slug.mix) > 1:
        parts = ", ".join(f"{share * slug.wet_g:.0f} g {shown(clay)}" for clay, share in slug.mix.items())
        text += f": wedge {parts}"
    yield from wrapped(text, indent=f"{indent}    ", first=f"{indent}- ")


def amount(slugs: Sequence[Slug]) -> str:
    """ml, grams, and mm of cartridge if they are known."""
    text = f"{sum(slug.clay_ml for slug in slugs):.0f} ml, {sum(slug.wet_g for slug in slugs):.0f} g"
    lengths = [slug.length_mm for slug in slugs if slug.length_mm is not None]
    return f"{text}, {sum(lengths):.0f} mm" if len(lengths) == len(slugs) else text


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
