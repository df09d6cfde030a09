"""Lumps weighed wet and dry, bars measured wet, dry and fired, a slip weighed by volume."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from gpost.clay import water
from gpost.clay.spread import step_deviation
from gpost.config.settings import MOST
from gpost.errors import ConfigError
from gpost.workbook.sure import loose

Triple = tuple[float, float, float]

MOST_WATER_PERCENT = 99.9
"""With more water than that there is nothing of clay to weigh."""
MOST_SHRINKAGE_PERCENT = 50.0
"""No clay shrinks by half; 7 to 20 % is usual (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Dried:
    """Lumps before and after drying."""

    lumps_g: tuple[tuple[float, float], ...]
    """Each lump, wet and dry."""
    dry_density_g_ml: float | None = None
    """Of the dry matter itself, without pores; None: not known."""
    weighed_g_ml: float | None = None
    """Wet density as it was weighed; None: it was not."""

    @property
    def each_percent(self) -> list[float]:
        """Water of each lump, percent of its wet mass."""
        return [water.water_percent(*lump_g) for lump_g in self.lumps_g]

    @property
    def water_percent(self) -> float:
        """Water of all lumps together, percent of the wet mass: so the larger lump counts for more."""
        return water.water_percent(*(sum(side) for side in zip(*self.lumps_g, strict=True)))

    @property
    def step_percent(self) -> float:
        """What the scale's steps alone make of a lump's water, as a standard deviation."""
        return 100 * step_deviation(self.lumps_g) / min(wet_g for wet_g, _ in self.lumps_g)

    @property
    def wet_density_g_ml(self) -> float | None:
        """Density without air by Brongniart's relation; None if that of the dry matter is not known."""
        if self.dry_density_g_ml is None:
            return None
        return water.wet_density_g_ml(self.water_percent, self.dry_density_g_ml)

    @property
    def density_range_g_ml(self) -> tuple[float, float] | None:
        """The least and the most it may be, for the dry matter's is known from handbooks alone."""
        if self.dry_density_g_ml is None:
            return None
        least_g_ml, most_g_ml = solids_g_ml(self.dry_density_g_ml)
        return (
            water.wet_density_g_ml(self.water_percent, least_g_ml),
            water.wet_density_g_ml(self.water_percent, most_g_ml),
        )

    @property
    def slip(self) -> Slip | None:
        """What the weighed density says of the same clay; None if either density is not known."""
        if self.weighed_g_ml is None or self.dry_density_g_ml is None:
            return None
        return Slip(self.weighed_g_ml, self.dry_density_g_ml)


def solids_g_ml(named_g_ml: float) -> tuple[float, float]:
    """Between what the dry matter's density may lie that is named: all that clays have, and the named one."""
    least_g_ml, most_g_ml = water.CLAY_SOLIDS_G_ML
    return min(least_g_ml, named_g_ml), max(most_g_ml, named_g_ml)


@dataclass(frozen=True, slots=True)
class Slip:
    """A slip or paste of known density."""

    density_g_ml: float
    dry_density_g_ml: float

    @property
    def dry_g_per_litre(self) -> float:
        """Dry matter in a litre, by Brongniart's relation."""
        return water.dry_g_per_litre(1000 * self.density_g_ml, self.dry_density_g_ml)

    @property
    def water_percent(self) -> float:
        """Water, percent of the wet mass."""
        return water.water_of_density_percent(self.density_g_ml, self.dry_density_g_ml)

    @property
    def range_percent(self) -> tuple[float, float]:
        """The least and the most water, for the dry matter's density is known from handbooks alone."""
        least_g_ml, most_g_ml = solids_g_ml(self.dry_density_g_ml)
        least_g_ml = max(least_g_ml, self.density_g_ml)
        return (
            water.water_of_density_percent(self.density_g_ml, least_g_ml),
            water.water_of_density_percent(self.density_g_ml, most_g_ml),
        )

    @property
    def no_line(self) -> str:
        """Why it gives no line; empty if it gives one."""
        if self.water_percent <= 0:
            return "there is no water in it"
        return loose(100 * max(abs(end / self.water_percent - 1) for end in self.range_percent))


@dataclass(frozen=True, slots=True)
class Shrunk:
    """Test bars through drying and firing; all shrinkage is linear, and the mean of the bars."""

    bars_mm: tuple[Triple, ...]
    """Each bar wet, dry and fired."""

    @property
    def each_percent(self) -> list[float]:
        """Shrinkage of each bar from wet to fired, of its wet length."""
        return [water.shrinkage_of_percent(wet_mm, fired_mm) for wet_mm, _, fired_mm in self.bars_mm]

    @property
    def step_percent(self) -> float:
        """What the ruler's steps alone make of a bar's shrinkage, as a standard deviation."""
        return 100 * step_deviation(self.bars_mm) / min(wet_mm for wet_mm, _, _ in self.bars_mm)

    @property
    def total_percent(self) -> float:
        """From wet to fired, of the wet length."""
        return _mean(self.each_percent)

    @property
    def drying_percent(self) -> float:
        """From wet to dry, of the wet length."""
        return _mean([water.shrinkage_of_percent(wet_mm, dry_mm) for wet_mm, dry_mm, _ in self.bars_mm])

    @property
    def firing_percent(self) -> float:
        """From dry to fired, of the DRY length; below 0 if the bars grew."""
        return water.firing_shrinkage_percent(self.total_percent, self.drying_percent)

    @property
    def firing_of_wet_percent(self) -> float:
        """The same of the WET length."""
        return water.firing_of_wet_percent(self.total_percent, self.drying_percent)

    @property
    def volume_percent(self) -> float:
        """Loss of volume from wet to fired, if the clay shrinks alike in all directions."""
        return water.volume_shrinkage_percent(self.total_percent)


def dried(
    lumps_g: Sequence[tuple[float, float]],
    dry_density_g_ml: float | None = None,
    weighed_g_ml: float | None = None,
) -> Dried:
    """Lumps as (wet, dry). Raises ConfigError for what can't be, or has not dried."""
    for wet_g, dry_g in lumps_g:
        said = f"--dried {wet_g:g}={dry_g:g}"
        if not (wet_g > 0 and dry_g > 0):
            raise ConfigError(f"{said}: a lump weighs more than 0 g")
        if dry_g >= wet_g:
            raise ConfigError(
                f"{said}: dry it weighs no less than wet; write the grams before drying first, then those "
                "after, when nothing more dries off"
            )
        if wet_g > MOST or 100 * (1 - dry_g / wet_g) > MOST_WATER_PERCENT:
            raise ConfigError(f"{said}: no lump of clay is so; write grams, before drying and after")
    if weighed_g_ml is not None and dry_density_g_ml is not None:
        slip(weighed_g_ml, dry_density_g_ml)
    return Dried(tuple(lumps_g), dry_density_g_ml, weighed_g_ml)


def slip(density_g_ml: float, dry_density_g_ml: float) -> Slip:
    """A slip or paste that weighs so much. Raises ConfigError when water and such solids can't."""
    found = Slip(density_g_ml, dry_density_g_ml)
    try:
        water_percent = found.water_percent
    except ValueError as error:
        raise ConfigError(f"--density: {error}") from error
    if water_percent > MOST_WATER_PERCENT:
        raise ConfigError(f"--density: {density_g_ml:g} g per ml is nothing but water")
    return found


def shrunk(bars_mm: Sequence[Triple]) -> Shrunk:
    """Bars as (wet, dry, fired). Raises ConfigError for lengths that no clay can have."""
    for wet_mm, dry_mm, fired_mm in bars_mm:
        said = f"--shrank {wet_mm:g}={dry_mm:g}={fired_mm:g}"
        if not min(wet_mm, dry_mm, fired_mm) > 0:
            raise ConfigError(f"{said}: a bar is longer than 0 mm")
        for name, length_mm in (("dry", dry_mm), ("fired", fired_mm)):
            if length_mm > wet_mm:
                raise ConfigError(
                    f"{said}: the {name} bar is longer than the wet one, and clay doesn't grow so; write its "
                    "lengths in the order wet, dry, fired"
                )
        if wet_mm > MOST or 100 * (1 - fired_mm / wet_mm) > MOST_SHRINKAGE_PERCENT:
            raise ConfigError(
                f"{said}: no clay shrinks by more than {MOST_SHRINKAGE_PERCENT:g} %; write lengths in mm"
            )
    return Shrunk(tuple(bars_mm))


def _mean(numbers: Sequence[float]) -> float:
    return math.fsum(numbers) / len(numbers)
