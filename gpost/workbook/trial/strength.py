"""What trials of strength say of the clay: cylinders that sank, tubes that folded, cones that fell in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from gpost.clay.folds import Fold
from gpost.clay.strength import (
    CYLINDER_OFF,
    FOLD_OFF,
    Range,
    Stiffening,
    cone_yield_pa,
    fold_yield_pa,
    range_of,
    slump_yield_stress_pa,
    stiffening,
)
from gpost.errors import ConfigError

SURE = 0.5
"""A line is given if the low end of the range is this share of its middle at the least."""


@dataclass(frozen=True, slots=True)
class Slumped:
    """Cylinders that sank."""

    yields_pa: tuple[float, ...]
    density_g_ml: float

    @property
    def range_pa(self) -> Range:
        """Yield stress of all of them."""
        return range_of(self.yields_pa, CYLINDER_OFF)


@dataclass(frozen=True, slots=True)
class Folded:
    """Tubes that were printed until they gave way."""

    folds: tuple[Fold, ...]
    density_g_ml: float

    @property
    def yields_pa(self) -> list[float]:
        """Of each tube's foot at its age; a lower bound unless it yields there."""
        return [fold_yield_pa(fold, self.density_g_ml) for fold in self.folds]

    @property
    def at_foot(self) -> list[Fold]:
        """Those that tell strength."""
        return [fold for fold in self.folds if fold.yields]

    @property
    def range_pa(self) -> Range | None:
        """Strength of those that folded at the foot, at their own ages on average; None if none did."""
        found = [fold_yield_pa(fold, self.density_g_ml) for fold in self.at_foot]
        return range_of(found, FOLD_OFF) if found else None

    @property
    def age_s(self) -> float:
        """Their age on average."""
        return sum(fold.age_s for fold in self.at_foot) / max(len(self.at_foot), 1)

    @property
    def stiffening(self) -> Stiffening | None:
        """Fresh strength and how it grows; None if these tubes can't tell."""
        return stiffening(self.folds, self.density_g_ml)

    @property
    def contradicting(self) -> list[int]:
        """Numbers of tubes, from 1, that bore clearly more than the others say their clay has."""
        fit = self.stiffening
        if fit is None:
            return []
        much = 1 + 2 * FOLD_OFF
        bore = zip(self.folds, self.yields_pa, strict=True)
        return [
            number
            for number, (fold, bore_pa) in enumerate(bore, 1)
            if not fold.yields and bore_pa > much * fit.at_pa(fold.age_s)
        ]


@dataclass(frozen=True, slots=True)
class Coned:
    """Cones that sank in."""

    depths_mm: tuple[float, ...]
    mass_g: float
    angle_deg: float

    @property
    def range_pa(self) -> Range:
        """From the deepest by the least factor to the shallowest by the most."""
        found = [cone_yield_pa(depth_mm, self.mass_g, self.angle_deg) for depth_mm in self.depths_mm]
        return Range(
            min(one.low for one in found),
            sum(one.middle for one in found) / len(found),
            max(one.high for one in found),
        )


def slumped(pairs: Sequence[tuple[float, float]], density_g_ml: float) -> Slumped:
    """Cylinders, each as its height and how far it sank, mm. Raises ConfigError for one that says nothing."""
    try:
        yields_pa = tuple(slump_yield_stress_pa(height, sank, density_g_ml) for height, sank in pairs)
    except ValueError as error:
        raise ConfigError(f"--slump: {error}") from error
    return Slumped(yields_pa, density_g_ml)


def coned(depths_mm: Sequence[float], mass_g: float, angle_deg: float) -> Coned:
    """Depths of one cone. Raises ConfigError for one that says nothing."""
    found = Coned(tuple(depths_mm), mass_g, angle_deg)
    try:
        _ = found.range_pa
    except ValueError as error:
        raise ConfigError(f"--cone: {error}") from error
    return found


def sure_enough(found: Range) -> bool:
    """Whether a line may be given."""
    return found.low >= SURE * found.middle > 0
