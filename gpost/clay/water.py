"""Water in clay: wet and dry basis, density, masses, and the size after shrinking.

Percentages are as in the config: 25.0 means 25 %. Unless a name says otherwise, water is on the
wet basis: percent of the wet mass. Potters and suppliers use both bases, so always ask which.

Shrinkage is linear and, unless a name says otherwise, of the wet length, as ASTM C326 has it for drying and
in total (its formula from memory; the basis that it takes for firing alone is not known for sure, so that
here it is said each time).

Every function raises ValueError for a percentage that no clay can have.
"""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

SOLID_DENSITY_G_ML = 2.6
"""Of the dry mineral itself, without pores: clays 2.5 to 2.6, silica 2.65 (potters' handbooks)."""
CLAY_SOLIDS_G_ML = (2.5, 2.6)
"""The least and the most of clays, by the same handbooks: a dry density that is named may be off so far."""
Measured = Literal["wet", "dry", "fired"]
MEASURED: tuple[Measured, ...] = ("wet", "dry", "fired")
"""When a piece may be measured: as printed, when its water has gone, after the fire."""
ROUNDING = 1e-12
"""Share by which two equal densities may differ in their last digits."""


def _share(percent: float, what: str) -> float:
    """The percentage as a fraction, from 0 to below 1."""
    if not 0 <= percent < 100:
        raise ValueError(f"{what} must be from 0 to below 100 %, not {percent:g} %")
    return percent / 100


def dry_basis_percent(water_percent: float) -> float:
    """Water as percent of the dry mass, from percent of the wet mass: d = w / (1 - w)."""
    water = _share(water_percent, "water on the wet basis")
    return 100 * water / (1 - water)


def wet_density_g_ml(water_percent: float, solid_g_ml: float = SOLID_DENSITY_G_ML) -> float:
    """Density of clay without air, in g per ml: 1 / ((1 - w) / G + w); the volumes of both parts add up."""
    water = _share(water_percent, "water on the wet basis")
    return 1 / ((1 - water) / solid_g_ml + water)


def dry_g_per_litre(slip_g_per_litre: float, solid_g_ml: float = SOLID_DENSITY_G_ML) -> float:
    """Dry matter in a litre of slip, in g, from what the litre weighs: (rho - 1000) G / (G - 1).

    A. Brongniart, Traite des arts ceramiques, vol. 1, 1854, p. 249, as quoted in potters' handbooks.
    Raise ValueError for a slip lighter than water or a solid no heavier than it.
    """
    if slip_g_per_litre < 1000 or solid_g_ml <= 1:
        raise ValueError("a litre of slip weighs 1000 g or more, and its solids more than 1 g per ml")
    return (slip_g_per_litre - 1000) * solid_g_ml / (solid_g_ml - 1)


def water_of_density_percent(density_g_ml: float, solid_g_ml: float = SOLID_DENSITY_G_ML) -> float:
    """Water in a slip or paste without air, percent of its wet mass, from its density: 1 - W / rho.

    W is the dry matter in a litre by Brongniart's relation, rho what the litre weighs. Raise ValueError for a
    density that no mix of water with such solids has: from that of water on, or above that of the solids.
    """
    if not 1 < density_g_ml <= solid_g_ml * (1 + ROUNDING) < math.inf:
        raise ValueError(
            f"a mix of water (1 g per ml) and dry matter of {solid_g_ml:g} g per ml can't weigh "
            f"{density_g_ml:g} g per ml"
        )
    return max(0.0, 100 * (1 - dry_g_per_litre(1000 * density_g_ml, solid_g_ml) / (1000 * density_g_ml)))


def water_percent(wet_g: float, dry_g: float) -> float:
    """Water as percent of the wet mass, from a lump weighed wet and again when all its water has gone."""
    if not (0 < dry_g <= wet_g < math.inf):
        raise ValueError(f"a lump of {wet_g:g} g wet can't weigh {dry_g:g} g dry")
    return 100 * (wet_g - dry_g) / wet_g


class Masses(NamedTuple):
    """What a volume of wet clay weighs, g."""

    wet_g: float
    dry_g: float
    """When all its water has gone."""
    water_g: float


def masses(volume_ml: float, density_g_ml: float, water_percent: float) -> Masses:
    """Wet mass, and what of it is dry matter and what water."""
    wet_g = wet_mass_g(volume_ml, density_g_ml)
    dry_g = dry_mass_g(wet_g, water_percent)
    return Masses(wet_g, dry_g, wet_g - dry_g)


def wet_mass_g(volume_ml: float, density_g_ml: float) -> float:
    """Mass of a volume of wet clay of that wet density."""
    return volume_ml * density_g_ml


def dry_mass_g(wet_g: float, water_percent: float) -> float:
    """What is left of a wet mass when all its water has gone."""
    return wet_g * (1 - _share(water_percent, "water on the wet basis"))


def water_to_add_g(wet_g: float, from_percent: float, to_percent: float) -> float:
    """Water that softens a mass of clay from one water content to another: m (w2 - w1) / (1 - w2).

    Below 0: so much has to dry off.
    """
    before = _share(from_percent, "water on the wet basis")
    after = _share(to_percent, "water on the wet basis")
    return wet_g * (after - before) / (1 - after)


def fired_size_mm(wet_mm: float, shrinkage_percent: float) -> float:
    """A printed length after firing; the shrinkage is linear and of the wet length."""
    return wet_mm * (1 - _share(shrinkage_percent, "linear shrinkage"))


def wet_size_mm(fired_mm: float, shrinkage_percent: float) -> float:
    """The length to print for a length wanted after firing."""
    return fired_mm / (1 - _share(shrinkage_percent, "linear shrinkage"))


class Size(NamedTuple):
    """Lengths along x, y and z, mm."""

    x_mm: float
    y_mm: float
    z_mm: float


def fired_size(printed: Size, shrinkage_percent: float, shrinkage_z_percent: float | None = None) -> Size:
    """A printed size after firing; upwards it may shrink by another share (None: by the same)."""
    upwards = shrinkage_percent if shrinkage_z_percent is None else shrinkage_z_percent
    return Size(
        fired_size_mm(printed.x_mm, shrinkage_percent),
        fired_size_mm(printed.y_mm, shrinkage_percent),
        fired_size_mm(printed.z_mm, upwards),
    )


def shrinkage_of_percent(before_mm: float, after_mm: float) -> float:
    """Linear shrinkage from a mark's length before and after: 100 (Lp - Ld) / Lp."""
    if not (before_mm > 0 and after_mm > 0):
        raise ValueError("lengths must be above 0 mm")
    return 100 * (before_mm - after_mm) / before_mm


def firing_shrinkage_percent(total_percent: float, drying_percent: float) -> float:
    """Firing shrinkage of the DRY length, from total and drying shrinkage of the wet."""
    total, drying = _share(total_percent, "linear shrinkage"), _share(drying_percent, "drying shrinkage")
    return 100 * (1 - (1 - total) / (1 - drying))


def firing_of_wet_percent(total_percent: float, drying_percent: float) -> float:
    """Firing shrinkage of the WET length: what is left of the total, St - Sd."""
    return 100 * (_share(total_percent, "linear shrinkage") - _share(drying_percent, "drying shrinkage"))


def volume_shrinkage_percent(shrinkage_percent: float) -> float:
    """Loss of volume of clay that shrinks alike in all directions: 1 - (1 - S)^3."""
    fired_mm = fired_size_mm(1, shrinkage_percent)
    return 100 * (1 - fired_mm * fired_mm * fired_mm)
