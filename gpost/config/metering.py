"""How E meters clay: the kinds there are, how much a unit of E stands for, and the width of a bead."""

from typing import TYPE_CHECKING, Annotated, Literal, NamedTuple, TypeAlias, assert_never

from pydantic import Field

from gpost.clay.holdup import MM3_PER_ML, round_ml
from gpost.config.settings import Positive, Settings, SpreadPercent

if TYPE_CHECKING:
    from gpost.config.model import Config


class _Metered(Settings):
    """What every way to meter has."""

    spread_percent: SpreadPercent | None = None
    """How far the clay for one unit of E is off from print to print, percent of it, as a standard deviation
    (two prints of three are within; `gpost calibrate` and `gpost log fit` say it, wider than what they come
    from differs where that is little). Left out: not known, and no margin is counted for it."""


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
    """The file has no E: clay runs with every G1 move, path times the section of a bead, as wide as
    `clay: bead_width_mm` and as high as `bead_height_mm` say."""

    unit: Literal["path"]
    """By the way that the nozzle goes; nothing can be primed or laid beside the piece then."""
    bead_height_mm: Positive | None = None
    """Height of the bead that the machine lays. With `clay: bead_width_mm` it gives the section, and all
    amounts go with that. Left out: half of `machine: nozzle_mm`. The survey warns where the layers are
    clearly of another height."""


Metering: TypeAlias = Annotated[
    Filament | CubicMillimetres | Plunger | Millilitres | PathSection, Field(discriminator="unit")
]

BEAD_WIDTHS = 1.5
"""Width of a bead in nozzle diameters, where the config doesn't say: common practice, no source."""


def bead_width_mm(config: "Config") -> float:
    """Width of the piece's beads, mm: as the config says, or else by its nozzle."""
    return config.clay.bead_width_mm or BEAD_WIDTHS * config.machine.nozzle_mm


class PathBead(NamedTuple):
    """The bead by whose section clay is metered where the file has no E."""

    width_mm: float
    height_mm: float
    words: str
    """How wide and how high, with the keys that it comes from."""


def path_bead(config: "Config") -> PathBead | None:
    """The bead that clay metered by the path is; None where E meters it."""
    metering, nozzle = config.clay.metering, "`machine: nozzle_mm`"
    if not isinstance(metering, PathSection):
        return None
    width_mm, height_mm = bead_width_mm(config), metering.bead_height_mm or 0.5 * config.machine.nozzle_mm
    by_width = (
        f"{BEAD_WIDTHS:g} times {nozzle}" if config.clay.bead_width_mm is None else "`clay: bead_width_mm`"
    )
    by_height = f"half of {nozzle}" if metering.bead_height_mm is None else "`bead_height_mm`"
    return PathBead(
        width_mm, height_mm, f"{width_mm:g} mm wide ({by_width}) and {height_mm:g} mm high ({by_height})"
    )


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
