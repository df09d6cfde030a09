"""The mixtures that bands and blends are made of, from the bottom up."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator
from typing import TypeAlias

from gpost.common.records import record
from gpost.config.colours import Band, Bands

Mix: TypeAlias = dict[str, float]
"""Shares of clays by name; they add up to 1."""


@record(frozen=True, slots=True)
class ColourWish:
    """One mixture from a height on; the next wish ends it."""

    from_mm: float
    mix: Mix
    edge_mm: float | None
    plain: bool
    """Whether it is a band of its own, and not a step of a blend."""
    band: int = 0
    """Number of its band, counted from 1; 0: it is none of the bands'."""


def wishes(bands: Bands, top_mm: float) -> list[ColourWish]:
    """The mixtures from the bottom up; what lies above the piece's top is left out.

    The steps of a blend are of one height, and lie evenly between its two clays, which are the bands' next
    to it: two steps from white to blue are a third and two thirds of blue.
    """
    found: list[ColourWish] = []
    for number, (band, low_mm, high_mm) in enumerate(_spans(bands, top_mm), 1):
        found += _of(band, number, low_mm, high_mm)
    return found[:1] + [wish for wish in found[1:] if wish.from_mm < top_mm]


def _spans(bands: Bands, top_mm: float) -> Iterator[tuple[Band, float, float]]:
    """(band, height at which it begins, height at which it ends)."""
    low_mm = 0.0
    for band in bands.bands:
        high_mm = top_mm if band.to_mm is None else band.to_mm
        yield band, low_mm, high_mm
        low_mm = high_mm


def above_top(bands: Bands, top_mm: float) -> Iterator[str]:
    """Warn of what `wishes` leaves out: bands, and steps of a blend, above the piece's top."""
    kept = Counter(wish.band for wish in wishes(bands, top_mm))
    advice = f"the piece is {top_mm:.1f} mm high. Let what lies below end lower (to_mm), or slice it higher"
    for number, (band, low_mm, _) in enumerate(_spans(bands, top_mm), 1):
        steps = 1 if band.blend is None else band.steps
        if not kept[number]:
            yield f"{band.name} from {low_mm:.1f} mm on is left out: {advice}"
        elif kept[number] < steps:
            yield f"of {band.name} from {low_mm:.1f} mm on {_left(steps - kept[number], steps)}: {advice}"


def below_top(bands: Bands, top_mm: float, rise_mm: Callable[[float], float]) -> Iterator[str]:
    """Warn of a last band that ends below the piece's top, by more than its last layer.

    `rise_mm` gives the height of the layer at a height.
    """
    last = bands.bands[-1]
    if last.to_mm is not None and last.to_mm < top_mm - rise_mm(top_mm):
        clay = last.clays[-1] if last.blend is None else f"the last step of {last.name}"
        yield (
            f"the bands end at {last.to_mm:.1f} mm, and the piece is {top_mm:.1f} mm high: what is above is "
            f"{clay} too. Say with one more band what it is to be, or leave the last to_mm out"
        )


def too_thin(bands: Bands, covered: list[ColourWish], rise_mm: Callable[[float], float]) -> Iterator[str]:
    """Warn of wishes that end before a layer begins in them.

    `rise_mm` gives the height of the layer at a height.
    """
    lost = Counter(wish.band for wish in covered)
    for number, (band, low_mm, high_mm) in enumerate(_spans(bands, math.inf), 1):
        if not lost[number]:
            continue
        layer = f"no layer begins there, for layers are {rise_mm(low_mm):.2g} mm high"
        if band.blend is None:
            yield (
                f"{band.name} from {low_mm:.1f} to {high_mm:.1f} mm is left out: {layer}. Make it at "
                f"least as high as a layer, or leave it out of the bands"
            )
        else:
            yield (
                f"of {band.name} from {low_mm:.1f} mm on {_left(lost[number], band.steps)}: {layer}. Give it "
                f"fewer steps, or make it higher"
            )


def _left(lost: int, steps: int) -> str:
    return f"{lost} of {steps} steps {'is' if lost == 1 else 'are'} left out"


def _of(band: Band, number: int, low_mm: float, high_mm: float) -> Iterator[ColourWish]:
    if band.blend is None:
        yield ColourWish(low_mm, {str(band.clay): 1.0}, band.edge_mm, True, number)
        return
    first, second = band.blend
    for step in range(band.steps):
        share = (step + 1) / (band.steps + 1)
        mix = {first: 1.0} if first == second else {first: 1 - share, second: share}
        from_mm = low_mm + (high_mm - low_mm) * step / band.steps
        yield ColourWish(from_mm, mix, band.edge_mm if step == 0 else None, False, number)


def same(mix: Mix, other: Mix) -> bool:
    """Whether two mixtures are the same but for rounding."""
    return mix.keys() == other.keys() and all(abs(mix[clay] - other[clay]) < 1e-9 for clay in mix)


def name_of(mix: Mix) -> str:
    """A mixture in words: `white`, or `75 % white, 25 % blue`."""
    if len(mix) == 1:
        return next(iter(mix))
    return ", ".join(f"{share * 100:.0f} % {clay}" for clay, share in mix.items())
