"""How much clay the machine's numbers stand for: a unit of E, and the width of a bead."""

from __future__ import annotations

from typing import assert_never

from gpost.clay.holdup import MM3_PER_ML, round_ml
from gpost.config.model import Config, CubicMillimetres, Filament, Metering, Millilitres, PathSection, Plunger

BEAD_WIDTHS = 1.5
"""Width of a bead in nozzle diameters, where the config doesn't say: common practice, no source."""


def bead_width_mm(config: Config) -> float:
    """Width of the piece's beads, mm: as the config says, or else by its nozzle."""
    return config.clay.bead_width_mm or BEAD_WIDTHS * config.machine.nozzle_mm


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
