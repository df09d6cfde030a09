"""How E meters clay: the kinds there are, how much a unit of E stands for, and the width of a bead."""

from typing import TYPE_CHECKING, Annotated, Literal, TypeAlias, assert_never

from pydantic import Field

from gpost.clay.holdup import MM3_PER_ML, round_ml
from gpost.config.settings import Positive, Settings, SpreadPercent

if TYPE_CHECKING:
    from gpost.config.model import Config


class _Metered(Settings):
    """What every way to meter has."""

    spread_percent: SpreadPercent | None = None
    """How far the clay for one unit of E is off from print to print, percent of it, as a standard deviation
    (two prints of three are within; `gpost calibrate` and `gpost log fit` say it). Left out: not known, and
    no margin is counted for it."""


class Filament(_Metered):
    """One unit of E is 1 mm of a virtual round strand of this diameter."""

    unit: Literal["filament"]
    """By the strand that the slicing program thinks of."""
    diameter_mm: Positive
    """Diameter of that strand, as the slicing program was told. Twice of it is four times the clay."""


class CubicMillimetres(_Metered):
    """One unit of E is 1 mm^3 of clay."""

    unit: Literal["mm3"]
    """By volume."""


class Plunger(_Metered):
    """One unit of E is 1 mm of plunger travel in a cartridge of this bore."""

    unit: Literal["plunger"]
    """By the plunger's way."""
    bore_mm: Positive
    """Inner diameter of the cartridge that the plunger moves in. All amounts go with its square."""


class Millilitres(_Metered):
    """One unit of E is so many ml, from a trial."""

    unit: Literal["ml"]
    """By what was weighed (`gpost calibrate`)."""
    ml_per_unit: Positive
    """Clay that comes for one unit of E. All amounts are in proportion to it."""


class PathSection(_Metered):
    """The file has no E: clay runs with every G1 move, path times the bead's section."""

    unit: Literal["path"]
    """By the way that the nozzle goes; nothing can be primed or laid beside the piece then."""


Metering: TypeAlias = Annotated[
    Filament | CubicMillimetres | Plunger | Millilitres | PathSection, Field(discriminator="unit")
]

BEAD_WIDTHS = 1.5
"""Width of a bead in nozzle diameters, where the config doesn't say: common practice, no source."""


def bead_width_mm(config: "Config") -> float:
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
