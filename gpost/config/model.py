"""The config as frozen, checked values: machine, clay, cartridge, layers and the list of steps."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Annotated, Any, Literal, NamedTuple

from pydantic import AfterValidator, Field, PrivateAttr, field_validator, model_validator

from gpost.clay import holdup
from gpost.clay.mixing import Hose
from gpost.config.commands import Place, StudioWord, kind_of, refusal, studio_word
from gpost.config.pattern import line_pattern
from gpost.config.settings import (
    MOST,
    BesideOthers,
    CommandNames,
    MachineCommand,
    MachineCommands,
    NotNegative,
    Percent,
    PlainText,
    Positive,
    Settings,
    at_keys,
)

_ROUND_STEPS = 3600


class Bed(Settings):
    """The area the nozzle may reach, in machine mm: a rectangle, or a round bed."""

    x_min_mm: float = 0.0
    x_max_mm: float = 280.0
    y_min_mm: float = 0.0
    y_max_mm: float = 280.0
    round: bool = False
    """The bed is the ellipse (a circle if the sides are equal) inside that rectangle."""

    @property
    def _halves(self) -> tuple[float, float, float, float]:
        """Middle and half the length, along x and y."""
        x, y = (self.x_min_mm + self.x_max_mm) / 2, (self.y_min_mm + self.y_max_mm) / 2
        return x, y, (self.x_max_mm - self.x_min_mm) / 2, (self.y_max_mm - self.y_min_mm) / 2

    def contains(self, other: Bed) -> bool:
        """Whether the whole of another bed lies on this one; of round beds to some thousandths of a mm."""
        x, y, half_x, half_y = other._halves
        corners = [(x + a * half_x, y + b * half_y) for a in (-1, 1) for b in (-1, 1)]
        if self.round and other.round:
            turn = [2 * math.pi * step / _ROUND_STEPS for step in range(_ROUND_STEPS)]
            return all(self.holds(x + half_x * math.cos(at), y + half_y * math.sin(at)) for at in turn)
        return all(self.holds(*corner) for corner in corners)

    @model_validator(mode="after")
    def _has_area(self) -> Bed:
        if self.x_max_mm <= self.x_min_mm or self.y_max_mm <= self.y_min_mm:
            raise ValueError("the bed's max must lie above its min, on x and on y")
        return self

    def holds(self, x_mm: float, y_mm: float) -> bool:
        """Whether the point lies on the bed."""
        if self.round:
            half_x, half_y = (self.x_max_mm - self.x_min_mm) / 2, (self.y_max_mm - self.y_min_mm) / 2
            u = (x_mm - self.x_min_mm) / half_x - 1
            v = (y_mm - self.y_min_mm) / half_y - 1
            return math.hypot(u, v) <= 1 + 1e-9
        return (
            self.x_min_mm - 1e-6 <= x_mm <= self.x_max_mm + 1e-6
            and self.y_min_mm - 1e-6 <= y_mm <= self.y_max_mm + 1e-6
        )


class Park(Settings):
    """The place beside the piece where the nozzle waits and is primed."""

    x_mm: float = 10.0
    y_mm: float = 10.0


class Home(Settings):
    """Where the machine stands after it has homed (G28)."""

    x_mm: float = 0.0
    y_mm: float = 0.0
    z_mm: float = 0.0


class PauseManner(Settings):
    """How the machine waits for the potter."""

    commands: MachineCommands = ("M0",)
    """What makes the machine wait."""
    message: Literal["before", "after", "none"] = "before"
    """Where the display message goes: before or after the waiting command, or nowhere."""
    hold: MachineCommands = ("M84 S0",)
    """Keeps the motors held, so that the nozzle comes back to the same place."""
    relieve_ml: NotNegative = 0.3
    """Clay drawn back before the lift, and given again at the end."""
    lift_mm: NotNegative = 10.0
    """Free height above the piece's top while moving to the park and back."""
    wipe_mm: NotNegative = 15.0
    """Length of the wiping move at the park, towards the middle of the bed; 0: none."""
    hold_again: bool = False
    """Wait a second time after the prime, to cut the string and look."""

    @field_validator("commands")
    @classmethod
    def _waits(cls, commands: tuple[str, ...]) -> tuple[str, ...]:
        if not commands:
            raise ValueError("a pause needs a command that makes the machine wait, such as M0")
        return commands


class AirCommands(Settings):
    """How the blower is switched; `<level>` is replaced by 0 to `full`."""

    on: MachineCommand = "M106 S<level>"
    off: MachineCommand = "M107"
    full: Positive = 255.0
    decimals: Annotated[int, Field(ge=0, le=3)] = 0


class Machine(Settings):
    """The machine: reach, feeds, dialect and how it waits."""

    bed: Bed = Bed()
    ceiling_mm: Positive = 300.0
    park: Park = Park()
    home: Home = Home()
    nozzle_mm: Positive = 4.0
    """Inner diameter of the nozzle's tip."""
    body_clearance_mm: NotNegative = 20.0
    """Free room the extruder's body needs beside a wall when the nozzle is below the wall's top."""
    travel_feed_mm_min: Positive = 3000.0
    lift_feed_mm_min: Positive = 600.0
    prime_flow_ml_min: Positive = 20.0
    """How fast clay is pushed when it is primed or purged in place."""
    acceleration_mm_s2: Positive = 500.0
    corner_deviation_mm: Positive = 0.05
    """How far a rounded corner may leave the path; sets the speed through corners."""
    pause: PauseManner = PauseManner()
    display: MachineCommand | None = "M117"
    """The command that shows the rest of its line on the display; null: none."""
    beep: MachineCommands = ()
    air: AirCommands = AirCommands()
    allow_commands: Annotated[tuple[MachineCommand, ...], Field(max_length=100)] = ()
    """Commands that may be sent beside those that are free: whole ones, or a code or a name for any words."""
    dwell_p: Literal["milliseconds", "seconds"] = "milliseconds"
    """What the P of G4 counts; S is always seconds."""
    axis_mode_sets_e: bool = True
    """Whether G90/G91 also switches the E axis (M82/M83 later override it)."""
    arc_tolerance_mm: Positive = 0.02
    """How far the two radii of an arc may differ."""
    file_may_hold: CommandNames = ()
    """Commands beside the moves that are usual in this machine's files, as M92 or SET_PIN."""
    max_feed_mm_min: Positive | None = None
    """The fastest the nozzle may travel; None: not checked."""
    max_flow_ml_min: Positive | None = None
    """The most clay that the machine can push; None: not checked."""
    max_relieve_ml: Positive = 2.0
    """The most clay that one pressure relief may draw back: a slow ram can't follow a longer one."""

    @model_validator(mode="after")
    def _within_limits(self) -> Machine:
        """What is given keeps to the machine's limits; what is left at its default is lowered to them."""
        for key, limit_key in WITHIN.items():
            limit, value = getattr(self, limit_key), getattr(self, key)
            if limit is None or value <= limit:
                continue
            if key in self.model_fields_set:
                raise ValueError(_beyond(key, value, limit_key, limit))
            object.__setattr__(self, key, limit)  # frozen for all others; not marked as given
        relieve_ml = self.pause.relieve_ml
        if relieve_ml > self.max_relieve_ml:
            if "relieve_ml" in self.pause.model_fields_set:
                raise ValueError(
                    _beyond("pause.relieve_ml", relieve_ml, "max_relieve_ml", self.max_relieve_ml)
                )
            pause = self.pause.model_copy()
            object.__setattr__(pause, "relieve_ml", self.max_relieve_ml)
            object.__setattr__(self, "pause", pause)
        return self

    @property
    def word(self) -> StudioWord:
        """What this machine's studio allows to be sent."""
        return studio_word(self.allow_commands, (self.air.on, self.air.off))

    def refusal(self, command: str, place: Place = "step") -> str:
        """Why a command can't be sent from there; "" if it can, as far as its words tell."""
        return "" if kind_of(command, place, self.word) else refusal(command, place)


WITHIN = {
    "travel_feed_mm_min": "max_feed_mm_min",
    "lift_feed_mm_min": "max_feed_mm_min",
    "prime_flow_ml_min": "max_flow_ml_min",
}
"""What gpost moves and pushes with by itself, and the limit that it keeps to."""


def _beyond(key: str, value: float, limit_key: str, limit: float) -> str:
    return f"{key} is {value:g}, and the machine does no more than {limit:g} ({limit_key}); lower it"


class Filament(Settings):
    """One unit of E is 1 mm of a virtual round strand of this diameter."""

    unit: Literal["filament"]
    diameter_mm: Positive


class CubicMillimetres(Settings):
    """One unit of E is 1 mm^3 of clay."""

    unit: Literal["mm3"]


class Plunger(Settings):
    """One unit of E is 1 mm of plunger travel in a cartridge of this bore."""

    unit: Literal["plunger"]
    bore_mm: Positive


class Millilitres(Settings):
    """One unit of E is so many ml, from a trial."""

    unit: Literal["ml"]
    ml_per_unit: Positive


class PathSection(Settings):
    """The file has no E: clay runs with every G1 move, path times the bead's section."""

    unit: Literal["path"]


Metering = Annotated[
    Filament | CubicMillimetres | Plunger | Millilitres | PathSection, Field(discriminator="unit")
]


class Clay(Settings):
    """The clay and how E meters it."""

    metering: Metering = Filament(unit="filament", diameter_mm=1.75)
    bead_width_mm: Positive | None = None
    """Width of the wall's bead, for the cross-check; None: 1.5 nozzle diameters."""
    wet_density_g_ml: Annotated[float, Field(ge=1, le=3)] = 1.86
    """Between water's and that of dry clay matter."""
    water_percent: Percent = 25.0
    """Water in the wet clay, percent of the wet mass."""
    shrinkage_percent: Percent = 14.0
    """Linear, wet to fired."""
    shrinkage_z_percent: Percent | None = None
    """The same upwards, where it differs from that along the bed; None: it doesn't."""
    colour: PlainText = "first clay"
    """Name of the clay in the first cartridge."""
    least_layer_s: Positive | None = None
    """The least time the wall needs before the next layer lies on it; None: what a step says, if one does."""
    working_min: Positive = 60.0
    """How long the clay may stay in cartridge and line: common practice, no source."""


class Cartridge(Settings):
    """The cartridge and the line behind it."""

    volume_ml: Positive = 1000.0
    reserve_ml: NotNegative = 50.0
    """Clay left in the cartridge that must not be counted on."""
    first_ml: Positive | None = None
    """Clay in the first cartridge, its reserve included, if it is part-used; None: full."""
    line_ml: NotNegative = 60.0
    """Clay between the cartridge's outlet and the nozzle tip; from the hose, if that is given instead."""
    hose_bore_mm: Positive | None = None
    """Inner diameter of the hose, another way to give `line_ml`; None: that is given as it is."""
    hose_length_mm: Positive | None = None
    """Length of the hose, from the cartridge's outlet to the auger."""
    auger_ml: NotNegative = 0.0
    """Clay behind the hose, in auger and nozzle; counted only with the hose."""
    bore_mm: Positive | None = None
    """Inner diameter of the cartridge; None: lengths of clay in it are not given."""
    mixing_stages: Annotated[float, Field(ge=1)] | None = None
    """How sharply one clay follows another through the line, from a trial; None: as a plug, not mixed."""
    plug_part: Annotated[float, Field(ge=0, lt=1)] = 0.0
    """Share of the line that moves as a plug all the same; the rest mixes in stages."""

    @model_validator(mode="after")
    def _usable(self) -> Cartridge:
        if self.reserve_ml >= self.volume_ml:
            raise ValueError("reserve_ml must be less than volume_ml, or nothing is left to print with")
        wrong = self.misfit(self.first_ml)
        if wrong:
            raise at_keys(self, {"first_ml": BesideOthers(f"it {wrong}")})
        return self

    @model_validator(mode="after")
    def _line_from_hose(self) -> Cartridge:
        """One way alone may say what the line holds; a hose says it by its bore and length."""
        hose = (self.hose_bore_mm, self.hose_length_mm)
        if hose == (None, None):
            if self.auger_ml:
                raise ValueError("auger_ml is counted with a hose; give hose_bore_mm and hose_length_mm too")
            return self
        if self.hose_bore_mm is None or self.hose_length_mm is None:
            raise ValueError("hose_bore_mm and hose_length_mm say together what the hose holds; give both")
        if "line_ml" in self.model_fields_set:
            raise ValueError(
                "line_ml and the hose both say what the line holds; take line_ml out, or hose_bore_mm, "
                "hose_length_mm and auger_ml"
            )
        held_ml = holdup.line_ml(self.hose_bore_mm, self.hose_length_mm, self.auger_ml)
        if held_ml > MOST:
            raise ValueError("a hose that holds so much can't be meant; give its bore and length in mm")
        object.__setattr__(self, "line_ml", held_ml)  # frozen for all others; not marked as given
        return self

    @property
    def hose(self) -> Hose:
        """Hose and auger, as clay runs through them."""
        return Hose(self.line_ml, self.mixing_stages, self.plug_part)

    def misfit(self, held_ml: float | None) -> str:
        """What is wrong with so much clay in a cartridge, its reserve included; "" if nothing. None: full."""
        if held_ml is None or self.reserve_ml < held_ml <= self.volume_ml:
            return ""
        if held_ml > self.volume_ml:
            return f"is more than the {self.volume_ml:g} ml that a cartridge holds (cartridge: volume_ml)"
        return (
            f"is all reserve, of which {self.reserve_ml:g} ml stay behind (cartridge: reserve_ml); load more"
        )

    def usable_of_ml(self, held_ml: float | None) -> float:
        """What may be counted on of so much clay in a cartridge, its reserve included; None: full."""
        return self.usable_ml if held_ml is None else max(held_ml - self.reserve_ml, 0.0)

    @property
    def usable_ml(self) -> float:
        """Clay of a full cartridge that may be counted on."""
        return self.volume_ml - self.reserve_ml


class Layers(Settings):
    """How layers are found: from motion, unless the file's own layer comments are named."""

    comment_pattern: Annotated[PlainText, AfterValidator(line_pattern)] | None = None
    """A regular expression; a line that matches it starts a layer."""


class Reading(Settings):
    """How a sliced file is read."""

    most_piped_gb: Positive = 4.0
    """Size in GB from which on standard input or a pipe is refused: it is kept on the disk while it is read,
    since a job needs two looks at it."""


class StepUse(Settings):
    """One entry of `steps:`: the step's name and its settings, not yet checked by the step."""

    name: str
    settings: Mapping[str, Any] = {}


class Origin(NamedTuple):
    """What only the files know that a config was read from."""

    metering: str = ""
    """The file that gave `clay: metering`; "" if none did."""
    loosened: tuple[str, ...] = ()
    """A sentence for each thing in which a later file goes beyond what the studio's files say."""


class Config(Settings):
    """Everything a run needs to know beside the file."""

    machine: Machine = Machine()
    clay: Clay = Clay()
    cartridge: Cartridge = Cartridge()
    layers: Layers = Layers()
    reading: Reading = Reading()
    steps: tuple[StepUse, ...] = ()
    _origin: Origin = PrivateAttr(Origin())

    @property
    def origin(self) -> Origin:
        """What its files told beside the values; of a config that is made in Python nothing."""
        return self._origin

    def from_files(self, origin: Origin) -> Config:
        """The same with what its files told."""
        config = self.model_copy()
        config._origin = origin
        return config
