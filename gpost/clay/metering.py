"""How much clay the machine's numbers stand for: a unit of E, and the length of a hose."""

from __future__ import annotations

import math
from typing import assert_never

from gpost.config.model import CubicMillimetres, Filament, Metering, Millilitres, PathSection, Plunger

MM3_PER_ML = 1000.0


def ml_per_unit(metering: Metering) -> float | None:
    """Clay in ml for one unit of E; None if the file has no E and clay is metered by path."""
    match metering:
        case Filament(diameter_mm=diameter) | Plunger(bore_mm=diameter):
            return round_ml(diameter, 1.0)
        case CubicMillimetres():
            return 1 / MM3_PER_ML
        case Millilitres(ml_per_unit=ml):
            return ml
        case PathSection():
            return None
        case _:
            assert_never(metering)


def round_ml(bore_mm: float, length_mm: float) -> float:
    """What a hose, a cartridge or a strand holds, in ml: pi / 4 d^2 L."""
    return math.pi / 4 * bore_mm * bore_mm * length_mm / MM3_PER_ML
