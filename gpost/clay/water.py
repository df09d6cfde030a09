"""Water in clay: wet and dry basis, density, masses, and the size after shrinking.

Percentages are as in the config: 25.0 means 25 %. Unless a name says otherwise, water is on the
wet basis: percent of the wet mass. Potters and suppliers use both bases, so always ask which.

Every function raises ValueError for a percentage that no clay can have.
"""

from __future__ import annotations

SOLID_DENSITY_G_ML = 2.6
"""Of the dry mineral itself, without pores: clays 2.5 to 2.6, silica 2.65 (potters' handbooks)."""


def _share(percent: float, what: str) -> float:
    """The percentage as a fraction, from 0 to below 1."""
    if not 0 <= percent < 100:
        raise ValueError(f"{what} must be from 0 to below 100 %, not {percent:g} %")
    return percent / 100


def dry_basis_percent(water_percent: float) -> float:
    """Water as percent of the dry mass, from percent of the wet mass: d = w / (1 - w)."""
    water = _share(water_percent, "water on the wet basis")
    return 100 * water / (1 - water)


def wet_basis_percent(water_of_dry_percent: float) -> float:
    """Water as percent of the wet mass, from percent of the dry mass (0 or more): w = d / (1 + d)."""
    if not 0 <= water_of_dry_percent < float("inf"):
        raise ValueError(f"water on the dry basis must be 0 % or more, not {water_of_dry_percent:g} %")
    return 100 * water_of_dry_percent / (100 + water_of_dry_percent)


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
