"""The config as frozen, checked values: machine, clay, cartridge, layers and the list of steps."""

from collections.abc import Mapping
from typing import Annotated, Any, NamedTuple, Self

from pydantic import AfterValidator, Field, PrivateAttr, field_validator, model_validator

from gpost.clay.chances import Spreads
from gpost.config.cartridge import Cartridge
from gpost.config.colours import Bands, NamedClay
from gpost.config.machine import WITHIN, AirCommands, Bed, Home, Machine, Park, PauseManner
from gpost.config.metering import CubicMillimetres, Filament, Metering, Millilitres, PathSection, Plunger
from gpost.config.pattern import line_pattern
from gpost.config.settings import (
    BesideOthers,
    ClayName,
    Percent,
    PlainText,
    Positive,
    Settings,
    SpreadPercent,
    at_keys,
)
from gpost.config.sheet import TickList

__all__ = [
    "WITHIN",
    "AirCommands",
    "Bed",
    "Cartridge",
    "Clay",
    "Config",
    "CubicMillimetres",
    "Filament",
    "Home",
    "Layers",
    "Machine",
    "Metering",
    "Millilitres",
    "Origin",
    "Park",
    "PathSection",
    "PauseManner",
    "Plunger",
    "Reading",
    "StepUse",
    "TickList",
]


class Clay(Settings):
    """The clay and how E meters it."""

    metering: Metering = Filament(unit="filament", diameter_mm=1.75)
    """What one unit of E stands for. All amounts rest on it: if it is wrong the cartridge runs empty
    elsewhere, and the survey warns that E and path disagree."""
    bead_width_mm: Positive | None = None
    """Width of the wall's bead: for the check of E against the path, and for the room that the piece takes;
    where clay is metered by the path all amounts go with it. Left out: 1.5 nozzle diameters."""
    wet_density_g_ml: Annotated[float, Field(ge=1, le=3)] = 1.86
    """Of clay as it is printed: weigh 100 ml. All grams, and the load on the wall below, are in proportion to
    it."""
    wet_density_spread_percent: SpreadPercent | None = None
    """How far the wet density is off from batch to batch, percent of it, as a standard deviation. Left out:
    not known, and grams are given without a margin for it."""
    water_percent: Percent = 25.0
    """Water in the wet clay, percent of the wet mass. The dry grams of the summary and of stains rest on
    it."""
    waste_percent: Percent = 0.0
    """Clay that gets lost between bag and cartridge, percent of what is wedged; the list of what to wedge
    alone hangs on it."""
    drying_percent: Percent | None = None
    """Linear, along the bed, wet to dry, percent of the wet length: a part of `shrinkage_percent`, so no
    more than that. Left out: the dry size is not told."""
    shrinkage_percent: Percent = 14.0
    """Linear, along the bed, wet to fired; only the fired sizes that are told hang on it."""
    shrinkage_z_percent: Percent | None = None
    """The same upwards, where it differs from that along the bed. Left out: it doesn't."""
    colour: ClayName = "first clay"
    """Name of the clay in the first cartridge. A clay that is spelt in two ways counts as two."""
    least_layer_s: Positive | None = None
    """The least time the wall needs before the next layer lies on it; shorter layers are warned of. Left out:
    what a step says, if one does."""
    working_min: Positive = 60.0
    """How long clay may stay in hose and auger, since it left its cartridge, before `old-clay` warns of it
    (common practice, no source). Stiff clay stalls the auger. Clay in the closed cartridge keeps: see
    `cartridge: keeps_min`."""
    rim_min: Positive | None = None
    """How long the wall may wait in the air before fresh clay no longer joins it: each pause says how long
    that leaves. Left out: not known, and common practice says minutes. Try it on an offcut of your clay."""

    @model_validator(mode="after")
    def _drying_is_a_part(self) -> Self:
        """Both are of the wet length; what dries by more than it shrinks in all would grow in the fire."""
        drying, whole = self.drying_percent or 0.0, self.shrinkage_percent
        if drying <= whole:
            return self
        if drying <= 100 * whole < 100:
            said = (
                f"it is less than what drying alone takes (`drying_percent`: {drying:g}), and holds the "
                f"fire's share as well; if a share of 1 is meant, write {100 * whole:g}"
            )
            raise at_keys(self, {"shrinkage_percent": BesideOthers(said)})
        unsaid = "" if "shrinkage_percent" in self.model_fields_set else ", since your config doesn't say it"
        said = (
            "it is more than the clay shrinks from wet to fired, and drying is a part of that "
            f"(`shrinkage_percent`: {whole:g}{unsaid}); which of the two is wrong?"
        )
        raise at_keys(self, {"drying_percent": BesideOthers(said)})


class Layers(Settings):
    """How layers are found: from motion, unless the file's own layer comments are named."""

    comment_pattern: Annotated[PlainText, AfterValidator(line_pattern)] | None = None
    """A regular expression; a line that matches it starts a layer. One that matches too often or never gives
    wrong layers or none. It takes the extra `gpost[pattern]`. Left out: layers come from motion."""


def _share(percent: float | None) -> float | None:
    return None if percent is None else percent / 100


class Reading(Settings):
    """How a sliced file is read."""

    most_piped_gb: Positive = 4.0
    """Size from which on standard input, a pipe, or what a packed file holds is refused: it is kept on the
    disk while it is read, since a job needs two looks at it. More than the disk holds fills it."""


class StepUse(Settings):
    """One entry of `steps:`: the step's name and its settings, not yet checked by the step."""

    name: str
    """The step's name."""
    settings: Mapping[str, Any] = {}
    """Its settings, as they stand in the config."""


class Replaced(NamedTuple):
    """A list that is not what an earlier config said."""

    text: str
    """A sentence, with both files and lines."""
    loses: bool
    """Whether something that the earlier one names isn't in the later one's."""


class Origin(NamedTuple):
    """What only the files know that a config was read from."""

    metering: str = ""
    """The file that gave `clay: metering`; "" if none did."""
    loosened: tuple[str, ...] = ()
    """A sentence for each thing in which a later file goes beyond what the studio's files say."""
    doubts: tuple[str, ...] = ()
    """A sentence for each value that can hardly be meant, with its file, line and column."""
    replaced: tuple[Replaced, ...] = ()
    """Lists that a later file replaces as a whole."""


class Config(Settings):
    """Everything a run needs to know beside the file."""

    machine: Machine = Machine()
    """What the machine is and may do: reach, feeds, dialect, how it waits. Only the studio's file may loosen
    it."""
    clay: Clay = Clay()
    """The clay, and how E meters it."""
    cartridge: Cartridge = Cartridge()
    """The cartridge and the hose behind it: when it runs empty, and when a change of clay shows."""
    clays: tuple[NamedClay, ...] = ()
    """The studio's clays: a list, each with its `name`, what colours it, and how it looks in pictures."""
    colours: Bands | None = None
    """Colour by height: the bands that the loaded clays are to give, with no pause for a colour. Left out:
    one clay, and what `swap` changes. The file of `gpost load --bands` holds the keys that stand here."""
    layers: Layers = Layers()
    """How layers are found."""
    reading: Reading = Reading()
    """How a sliced file is read."""
    sheet: TickList = TickList()
    """What to tick off before, during and after a print: it stands in the summary, and in no file to run."""
    steps: tuple[StepUse, ...] = ()
    """What is to be done to the file: a list of steps, each its name alone (`- cold`) or with its settings
    (`- refill: {prime_ml: 15}`). A list replaces the one of an earlier file whole."""
    _origin: Origin = PrivateAttr(Origin())

    @field_validator("clays")
    @classmethod
    def _once_each(cls, clays: tuple[NamedClay, ...]) -> tuple[NamedClay, ...]:
        names = [clay.name for clay in clays]
        twice = [name for name in names if names.count(name) > 1]
        if twice:
            raise ValueError(f"{twice[0]} is listed twice; give each clay once")
        return clays

    @property
    def spreads(self) -> Spreads:
        """How far its amounts may be off, as far as it says."""
        clay, cartridge = self.clay, self.cartridge
        return Spreads(
            _share(clay.metering.spread_percent),
            _share(clay.wet_density_spread_percent),
            cartridge.line_spread_ml,
            cartridge.reserve_spread_ml,
        )

    def beginning(self, first_ml: float | None, first_number: int = 1) -> Self:
        """The same with so much in the first cartridge, and what that is called; None: full."""
        first = {"first_ml": first_ml, "first_number": first_number}
        if all(getattr(self.cartridge, key) == value for key, value in first.items()):
            return self  # left alone: what no config says is judged less strictly
        return self.model_copy(update={"cartridge": self.cartridge.model_copy(update=first)})

    @property
    def origin(self) -> Origin:
        """What its files told beside the values; of a config that is made in Python nothing."""
        return self._origin

    def from_files(self, origin: Origin) -> Self:
        """The same with what its files told."""
        config = self.model_copy()
        config._origin = origin
        return config
