"""The machine as frozen, checked values: its reach, its feeds, its dialect, and how it waits."""

import math
from typing import Annotated, Literal, Self

from pydantic import Field, field_validator, model_validator

from gpost.config.auger import AugerCommands
from gpost.config.blower import blows, blows_as, same_thing
from gpost.config.commands import (
    LEVEL,
    CommandPlace,
    StudioWord,
    goes_on_at_once,
    is_timed,
    kind_of,
    may_wait,
    motors_held_s,
    refusal,
    studio_word,
)
from gpost.config.settings import (
    CommandNames,
    Count,
    MachineCommand,
    MachineCommands,
    NotNegative,
    Positive,
    Settings,
    SwitchNames,
)

_ROUND_STEPS = 3600
LEAST_HELD_S = 3600.0
"""Motors that let go sooner are not held: a wait may take so long. Common practice, no source."""


class Bed(Settings):
    """The area the nozzle may reach, in machine mm: a rectangle, or a round bed."""

    x_min_mm: float = 0.0
    """The lowest X that the nozzle may go to."""
    x_max_mm: float = 280.0
    """The highest X."""
    y_min_mm: float = 0.0
    """The lowest Y."""
    y_max_mm: float = 280.0
    """The highest Y. With an edge too far out the nozzle is sent against the machine's end stops; too far in,
    pieces that would fit are refused."""
    round: bool = False
    """The bed is the ellipse (a circle if the sides are equal) inside that rectangle."""

    @property
    def _halves(self) -> tuple[float, float, float, float]:
        """Middle and half the length, along x and y."""
        x, y = (self.x_min_mm + self.x_max_mm) / 2, (self.y_min_mm + self.y_max_mm) / 2
        return x, y, (self.x_max_mm - self.x_min_mm) / 2, (self.y_max_mm - self.y_min_mm) / 2

    def contains(self, other: Self) -> bool:
        """Whether the whole of another bed lies on this one; of round beds to some thousandths of a mm."""
        x, y, half_x, half_y = other._halves
        corners = [(x + a * half_x, y + b * half_y) for a in (-1, 1) for b in (-1, 1)]
        if self.round and other.round:
            turn = [2 * math.pi * step / _ROUND_STEPS for step in range(_ROUND_STEPS)]
            return all(self.holds(x + half_x * math.cos(at), y + half_y * math.sin(at)) for at in turn)
        return all(self.holds(*corner) for corner in corners)

    @model_validator(mode="after")
    def _has_area(self) -> Self:
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
    """Its X. Off the bed or over the piece it is refused."""
    y_mm: float = 10.0
    """Its Y. Beads beside the piece keep clear of it, as primed clay drops there."""


class Home(Settings):
    """Where the machine stands after it has homed (G28)."""

    x_mm: float = 0.0
    """X after homing."""
    y_mm: float = 0.0
    """Y after homing."""
    z_mm: float = 0.0
    """Z after homing. If one of these is wrong, so are times and places up to the file's first move to an
    absolute place, and all that comes after it in a file of relative moves alone."""


class PauseManner(Settings):
    """How the machine waits for the potter."""

    commands: MachineCommands = ("M0",)
    """What makes the machine wait for the potter, until somebody lets it go on: not G4, or M0 with a time
    alone. With one that it doesn't know it prints on without a pause: try it by hand first."""
    message: Literal["before", "after", "none"] = "before"
    """Where the display message goes: before or after the waiting command, or nowhere. A machine that shows
    nothing while it waits wants it before."""
    hold: MachineCommands = ("M84 S0",)
    """Keeps the motors held while the machine waits: M84 or M18 with S0, or with an hour or more. Without it
    many let go after some minutes, the nozzle can be pushed aside, and the wall goes on beside itself."""
    relieve_ml: NotNegative = 0.3
    """Clay drawn back before the lift, and given again at the end. Too little drips on the piece, too much
    lets air into the nozzle; no more than `max_relieve_ml`."""
    lift_mm: NotNegative = 10.0
    """Free height above the piece's top while moving to the park and back. Too little touches soft walls."""
    wipe_mm: NotNegative = 15.0
    """Length of the wiping move at the park, towards the middle of the bed; 0: none. Where there is no room
    for it, it goes another way or is left out."""
    settle_s: NotNegative = 0.0
    """How long the nozzle stands still at the park after the prime, before it is wiped, s: the hose oozes on
    for a while. Too short, and what still comes drops on the wall; 0: not at all."""
    retrace_mm: Annotated[float, Field(ge=0, le=200)] = 0.0
    """Length of the laid wall that the nozzle goes over again, at the height at which it was laid, before it
    goes on: it presses the joint. It lays nothing there. 0: it goes on where it stopped. Never more than half
    a layer, or half a turn where a layer has several."""
    retrace_gives: bool = False
    """Whether what was drawn back (`relieve_ml`) is given again along that length, and not in the last of the
    descent."""
    hold_again: bool = False
    """Wait a second time after the prime, to cut the string and look."""

    @field_validator("hold", "commands")
    @classmethod
    def _holds(cls, commands: tuple[str, ...]) -> tuple[str, ...]:
        for command in commands:
            held_s = motors_held_s(command)
            if 0 < held_s < LEAST_HELD_S:
                raise ValueError(_lets_go(command, held_s))
        return commands

    @field_validator("commands")
    @classmethod
    def _waits(cls, commands: tuple[str, ...]) -> tuple[str, ...]:
        if not commands:
            raise ValueError("a pause needs a command that makes the machine wait, such as M0")
        if not any(map(may_wait, commands)):
            raise ValueError(_never_waits(commands))
        if goes_on := goes_on_at_once(commands):
            raise ValueError(f"{goes_on} behind M25 lets the machine go on at once; leave {goes_on} out")
        return commands


class AirCommands(Settings):
    """How the blower is switched; `<level>` is replaced by 0 to `full`."""

    on: MachineCommand = "M106 S<level>"
    """Lets it blow; `<level>` stands for how hard. For a relay on a pin: `M42 P4 S<level>`."""
    off: MachineCommand = "M107"
    """Stops it. A command that the machine doesn't know leaves the air on while the base has to grip."""
    full: Positive = 255.0
    """The level at which it blows hardest; 1 for a relay. Too low a number leaves it weak, too high a one may
    be refused by the machine."""
    decimals: Annotated[int, Field(ge=0, le=3)] = 0
    """Decimals of the level; a machine whose full level is 1 needs 2, or it is on or off and nothing
    between."""

    @field_validator("on")
    @classmethod
    def _lets_blow(cls, command: str) -> str:
        if blows(command) is False:
            raise ValueError("it stops a blower; say here what lets it blow, and `off` what stops it")
        return command

    @field_validator("off")
    @classmethod
    def _stops(cls, command: str) -> str:
        if blows(command):
            raise ValueError("it lets a blower blow; say here what stops it, such as M107 or S0")
        return command

    @model_validator(mode="after")
    def _differ(self) -> Self:
        if blows_as(self.off, self.on):
            raise ValueError(f"the blower blows at `off`, {self.off}, as at `on`; say there what stops it")
        return self

    def sent(self, level: float) -> float:
        """What the machine is sent of a level from 0 (off) to 1 (full), as such a level: what can be said."""
        if level <= 0 or LEVEL not in self.on:
            return float(level > 0)
        return round(level * self.full, self.decimals) / self.full


class Machine(Settings):
    """The machine: reach, feeds, dialect and how it waits."""

    bed: Bed = Bed()
    """Where the nozzle may go; what leaves it is refused."""
    ceiling_mm: Positive = 300.0
    """The highest that the nozzle may go. Too high a number sends it against the frame in a pause near the
    top."""
    park: Park = Park()
    """Where the nozzle waits and is primed: on the bed, clear of every piece."""
    home: Home = Home()
    """Where the machine stands after it has homed (G28)."""
    home_with_piece: Literal["none", "xy", "all_up"] = "none"
    """What may home while a piece stands on the bed, where a stopped print goes on: nothing; X and Y alone;
    or all axes, of a machine whose Z homes upwards (`all_up`). Said of one whose Z homes downwards, the
    nozzle goes into the piece."""
    nozzle_mm: Positive = 4.0
    """Inner diameter of the nozzle's tip. Widths and heights of beads are judged by it, and beside the piece
    they are laid by it."""
    body_clearance_mm: NotNegative = 20.0
    """Free room the extruder's body needs beside a wall when the nozzle is below the wall's top. Too little,
    and the body pushes the wall over."""
    travel_feed_mm_min: Positive = 3000.0
    """How fast the nozzle flies to the park, to beads beside the piece, and back."""
    lift_feed_mm_min: Positive = 600.0
    """How fast it is lifted and lowered. Too fast for the machine's Z, steps are lost and all that follows is
    laid at a wrong height."""
    prime_flow_ml_min: Positive = 20.0
    """How fast clay is pushed when it is primed or purged in place. Too fast stalls ram or auger, and less
    comes than is counted."""
    acceleration_mm_s2: Positive = 500.0
    """How fast the machine gets under way, from its own settings. Only times hang on it: clocks, least layer
    times, ages of clay."""
    corner_deviation_mm: Positive = 0.05
    """How far a rounded corner may leave the path; sets the speed through corners. Only times hang on it."""
    pause: PauseManner = PauseManner()
    """How the machine waits for the potter."""
    display_letters: Count = 20
    """How many letters the display shows on one line: gpost cuts its own words to that. A message of yours is
    shown up to 60 letters long, without accents and apostrophes, and of its marks with . , : + - = / _ alone:
    no machine takes those for a command."""
    display: MachineCommand | None = "M117"
    """The command that shows the rest of its line on the display; null for none. Without one, only the
    summary says what a pause is for."""
    beep: MachineCommands = ()
    """What calls you when the machine waits, such as `M300 S880 P500`."""
    air: AirCommands = AirCommands()
    """How the blower is switched. The file's own lines with these codes and the same P, or with these names
    and the words that say which blower, are its blower's, as M106 and M107 always are: a step that sets the
    blower silences them, and lets it rest at waits. A code that does something else, such as M104, is not
    taken for it."""
    auger: AugerCommands | None = None
    """How the file switches what pushes its clay by commands of its own, beside E or in its place. It is off
    wherever the nozzle waits or leaves the wall, and runs again at the wall as the file had it; where clay is
    metered by the path, moves while it is off lay none. Left out: nothing but M101 and M103 switches clay."""
    pushes_no_clay: SwitchNames = ()
    """What switches something else than the auger, as `M42 P6` a light: no warning that it runs on at waits.
    M42 alone stands for all pins, also for one that is the auger's."""
    allow_commands: Annotated[tuple[MachineCommand, ...], Field(max_length=100)] = ()
    """Commands that may be sent beside those that are free: whole ones, or a code or a name for any words.
    gpost can't know what these do to the machine; only the studio's own file may say so."""
    dwell_p: Literal["milliseconds", "seconds"] = "milliseconds"
    """What the P of G4 counts, and that of an M0 with a time; S is always seconds. The wrong one makes each
    of the file's dwells count for a thousand times, or a thousandth, of its time: clocks, ages of clay and
    layer times are wrong then."""
    axis_mode_sets_e: bool = True
    """Whether G90 and G91 switch the E axis too (M82 and M83 later override it). If it is wrong, E is counted
    from the wrong place in files that use G91: far too much clay or none, and primes that push it."""
    arc_tolerance_mm: Positive = 0.02
    """How far the two radii of an arc may differ; one whose radii differ by more is refused, as by the
    machine. Files with few decimals need more."""
    file_may_hold: CommandNames = ()
    """Commands beside the moves that are usual in this machine's files, as M92 or SET_AIR: no warning, and
    known by name. What is named here without need is no longer looked at."""
    max_feed_mm_min: Positive | None = None
    """The fastest the nozzle may travel; a file or a step that goes faster is refused. Left out: not
    checked."""
    max_flow_ml_min: Positive | None = None
    """The most clay that the machine can push; more is refused. Left out: not checked, and walls laid faster
    than clay comes are thin."""
    max_relieve_ml: Positive = 2.0
    """The most clay that one pressure relief may draw back: a slow ram can't follow a longer one. The file's
    own longer ones are warned of."""

    @model_validator(mode="after")
    def _within_limits(self) -> Self:
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
        auger = () if self.auger is None else (self.auger.on, self.auger.off)
        return studio_word(self.allow_commands, (self.air.on, self.air.off), auger)

    @model_validator(mode="after")
    def _auger_apart(self) -> Self:
        if self.auger is not None and same_thing(self.auger.on, self.air.on):
            raise ValueError(
                f"`auger` and `air` are switched by one command, {self.air.on}; say at each its own"
            )
        return self

    def refusal(self, command: str, place: CommandPlace = "step") -> str:
        """Why a command can't be sent from there; "" if it can, as far as its words tell."""
        return "" if kind_of(command, place, self.word) else refusal(command, place)


WITHIN = {
    "travel_feed_mm_min": "max_feed_mm_min",
    "lift_feed_mm_min": "max_feed_mm_min",
    "prime_flow_ml_min": "max_flow_ml_min",
}
"""What gpost moves and pushes with by itself, and the limit that it keeps to."""


def _lets_go(command: str, held_s: float) -> str:
    return (
        f"{command} lets the motors go after {held_s:g} s while the machine waits, and the nozzle can be "
        f"pushed aside; S0 holds them for as long as it takes, S{LEAST_HELD_S:g} for an hour"
    )


def _never_waits(commands: tuple[str, ...]) -> str:
    timed = " and ".join(filter(is_timed, commands))
    if not timed:
        return f"nothing waits for you by {' and '.join(commands)}; add what does, such as M0"
    return (
        f"the machine goes on by itself when the time of {timed} is over, and your hands may be in it; "
        "have it wait until you let it go on, by M0 for instance"
    )


def _beyond(key: str, value: float, limit_key: str, limit: float) -> str:
    return f"{key} is {value:g}, and the machine does no more than {limit:g} ({limit_key}); lower it"
