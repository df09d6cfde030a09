"""Slugs of clay that are too thin to go through the cartridge as they were loaded."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from gpost.config.colours import Band, Bands
from gpost.config.model import Config, Plunger
from gpost.supply.bands import Mix, name_of
from gpost.supply.heights import Heights

LEAST_BORES = 0.25
"""So many bores is the thinnest slug, if the config says no other (common practice, no source)."""
SAME_MM = 1e-6


class Slug(NamedTuple):
    """One piece of clay in a cartridge or in the line."""

    cartridge: int
    """Its number, counted from 1; 0: the line."""
    mix: Mix
    clay_ml: float
    wet_g: float
    length_mm: float | None
    """Length of cartridge it fills; None where the bore is not known, and in the line."""
    reserve: bool = False
    """Whether it is the clay behind, which is not counted on."""


def bore(config: Config) -> float | None:
    """The cartridge's inner diameter, mm: its own, or the plunger's that E is metered by."""
    metering = config.clay.metering
    if config.cartridge.bore_mm is None and isinstance(metering, Plunger):
        return metering.bore_mm
    return config.cartridge.bore_mm


def least_mm(config: Config) -> float | None:
    """The thinnest slug, mm; None where neither the config says it, nor the bore is known."""
    if config.cartridge.least_slug_mm is not None:
        return config.cartridge.least_slug_mm
    bore_mm = bore(config)
    return None if bore_mm is None else LEAST_BORES * bore_mm


def least_ml(config: Config) -> float:
    """Clay in the thinnest slug, ml; 0 where it is not known."""
    bore_mm, thinnest_mm = bore(config), least_mm(config)
    return 0.0 if bore_mm is None or thinnest_mm is None else thinnest_mm * math.pi / 4 * bore_mm**2 / 1000


def with_fewer_steps(bands: Bands, heights: Heights, config: Config) -> tuple[Bands, list[str]]:
    """The bands, with no steps of a blend thinner than the thinnest slug; and what to say of it."""
    thinnest_ml, low_mm = least_ml(config), 0.0
    found: list[Band] = []
    said = []
    for band in bands.bands:
        high_mm = heights.top_mm if band.to_mm is None else band.to_mm
        steps = _steps(band, low_mm, high_mm, heights, thinnest_ml)
        found.append(band.model_copy(update={"steps": steps}))
        if steps < band.steps:
            count = f"{steps} step{'' if steps == 1 else 's'} instead of {band.steps}"
            said.append(
                f"{band.name} from {low_mm:.1f} mm on is made of {count}: thinner slugs than "
                f"{least_mm(config):.3g} mm ({thinnest_ml:.0f} ml) smear in the outlet's funnel (cartridge: "
                f"least_slug_mm)"
            )
        low_mm = high_mm
    return bands.model_copy(update={"bands": tuple(found)}), said


def _steps(band: Band, low_mm: float, high_mm: float, heights: Heights, thinnest_ml: float) -> int:
    """The most steps, up to those asked for, of which none has less clay."""
    if band.blend is None or low_mm >= heights.top_mm:
        return band.steps
    for steps in range(band.steps, 1, -1):
        edges = [low_mm + (high_mm - low_mm) * step / steps for step in range(steps + 1)]
        inside = [edge for edge in edges if edge < heights.top_mm]
        ends_ml = [heights.start_ml(edge) for edge in inside]
        ends_ml += [heights.end_ml if len(inside) < len(edges) else ends_ml.pop()]
        # a step in which no layer begins is left out, and said to be
        parts = [part for part in map(_less, itertools.pairwise(ends_ml)) if part > 0]
        if min(parts, default=thinnest_ml) >= thinnest_ml - 1e-9:
            return steps
    return 1


def _less(pair: tuple[float, float]) -> float:
    return pair[1] - pair[0]


def too_thin_slugs(slugs: Sequence[Slug], config: Config) -> Iterator[str]:
    """Warn of slugs that smear; clay that goes on in the reserve behind it is one slug with that."""
    thinnest_mm = least_mm(config)
    if thinnest_mm is None:
        return
    if bore(config) is None:
        yield (
            "how thin the slugs are is not known without the cartridge's bore (cartridge: bore_mm); thinner "
            f"ones than {thinnest_mm:g} mm smear in the outlet's funnel"
        )
        return
    thin: list[tuple[float, Slug]] = []
    for _, group in itertools.groupby(slugs, lambda slug: (slug.cartridge, name_of(slug.mix))):
        together = list(group)
        length_mm = sum(slug.length_mm or 0.0 for slug in together)
        if together[0].cartridge and length_mm < thinnest_mm - SAME_MM:
            thin.append((length_mm, together[0]))
    if thin:
        length_mm, slug = min(thin, key=lambda item: item[0])
        count = "1 slug is" if len(thin) == 1 else f"{len(thin)} slugs are"
        yield (
            f"{count} thinner than {thinnest_mm:.3g} mm ({least_ml(config):.0f} ml; cartridge: "
            f"least_slug_mm), the thinnest {length_mm:.1f} mm of {name_of(slug.mix)} in cartridge "
            f"{slug.cartridge}: such slugs smear in the outlet's funnel. Make the bands higher, or use a "
            f"cartridge of a smaller bore"
        )


def several_in_the_hose(slugs: Sequence[Slug], lowest_mm: float) -> Iterator[str]:
    """Warn of a hose that would have to hold clays one behind another.

    `lowest_mm`: nozzle height from which on what comes out of the cartridge can show.
    """
    held = list(dict.fromkeys(name_of(slug.mix) for slug in slugs if not slug.cartridge))
    if len(held) > 1:
        yield (
            f"the hose would have to hold {', then '.join(held)}, which can't be loaded by hand: let it "
            f"hold one clay (line_holds), which then shows up to {lowest_mm:.1f} mm, and let the other bands "
            f"begin above that"
        )
