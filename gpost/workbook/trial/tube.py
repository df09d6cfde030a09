"""The G-code of a plain tube that is printed until it folds."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from gpost import __version__
from gpost.clay.bead import area_mm2
from gpost.clay.holdup import MM3_PER_ML
from gpost.config.metering import bead_width_mm, ml_per_unit
from gpost.config.model import Config, Machine
from gpost.config.settings import one_command
from gpost.errors import ConfigError
from gpost.write.script import E_DECIMALS, LONGEST_MESSAGE, POSITION_DECIMALS, number, plain
from gpost.write.sent import check_configured, may_send

BEADS_ACROSS = 10
"""Diameter of the tube in widths of its bead, unless another is asked for."""
LEAST_BEADS, MOST_BEADS = 4, 16
"""A narrower tube leans before its foot yields, a wider one dents (common practice, no source)."""
SIDES = 72
SAID_EVERY_MM = 5.0
LEAST_FREE_MM = 10.0
PRIME_ML = 10.0
"""Clay run out at the park before the tube, so that the hose is under pressure."""


@dataclass(frozen=True, slots=True)
class TubeWishes:
    """What the trial should be."""

    diameter_mm: float | None = None
    """To the middle of the wall; None: ten widths of the bead."""
    rise_mm_min: float = 10.0
    height_mm: float | None = None
    """None: as high as the machine and the first cartridge go."""
    first: tuple[str, ...] = ()
    """Commands to send first."""


@dataclass(frozen=True, slots=True)
class Tube:
    """A plain tube of one wall: a level turn, and from there one that rises evenly."""

    diameter_mm: float
    width_mm: float
    layer_mm: float
    rise_mm_min: float
    height_mm: float

    @property
    def turn_mm(self) -> float:
        """Path of a level turn; the tube has flat sides."""
        return SIDES * self.diameter_mm * math.sin(math.pi / SIDES)

    @property
    def feed_mm_min(self) -> float:
        """The feed at which it rises as asked."""
        return math.hypot(self.turn_mm, self.layer_mm) * self.rise_mm_min / self.layer_mm

    @property
    def ml_per_mm(self) -> float:
        """Clay for a mm of path."""
        return float(area_mm2(self.width_mm, self.layer_mm)) / MM3_PER_ML

    @property
    def clay_ml(self) -> float:
        """Clay of the whole wall."""
        return self.ml_per_mm * self.turn_mm * self.height_mm / self.layer_mm


def tube_of(config: Config, wishes: TubeWishes) -> Tube:
    """The tube that is asked for. Raises ConfigError where it tells nothing, or has no room or too little "
    "clay."""
    machine, width_mm = config.machine, bead_width_mm(config)
    layer_mm = machine.nozzle_mm / 2
    diameter_mm = BEADS_ACROSS * width_mm if wishes.diameter_mm is None else wishes.diameter_mm
    if not LEAST_BEADS * width_mm <= diameter_mm <= MOST_BEADS * width_mm:
        raise ConfigError(
            f"a tube of {diameter_mm:g} mm with a wall of {width_mm:g} mm tells nothing: narrower than "
            f"{LEAST_BEADS * width_mm:g} mm it leans over, wider than {MOST_BEADS * width_mm:g} mm it dents, "
            "before its foot yields; leave --tube-diameter-mm out"
        )
    tube = Tube(diameter_mm, width_mm, layer_mm, wishes.rise_mm_min, layer_mm)
    room_mm = machine.ceiling_mm - _free_mm(machine)
    primed_ml = 0.0 if ml_per_unit(config.clay.metering) is None else PRIME_ML
    clay_ml = config.cartridge.usable_of_ml(config.cartridge.first_ml) - primed_ml
    clay_mm = clay_ml / tube.clay_ml * layer_mm
    most_mm = min(room_mm, clay_mm)
    height_mm = math.floor(most_mm / layer_mm) * layer_mm if wishes.height_mm is None else wishes.height_mm
    if not 2 * layer_mm <= height_mm <= most_mm:
        why = "the machine's ceiling" if room_mm <= clay_mm else "the clay of the first cartridge"
        raise ConfigError(
            f"a tube of {height_mm:g} mm can't be printed: it needs {2 * layer_mm:g} mm at the least, and "
            f"{why} leaves {max(most_mm, 0):.0f} mm"
        )
    return Tube(diameter_mm, width_mm, layer_mm, wishes.rise_mm_min, height_mm)


def tube_gcode(config: Config, wishes: TubeWishes) -> str:
    """The whole file. Raises ConfigError as `tube_of`, PlanError for a command that may not be sent."""
    tube, machine = tube_of(config, wishes), config.machine
    check_configured(machine)
    for command in wishes.first:
        try:
            one_command(command)
        except ValueError as error:
            raise ConfigError(f"{command!r} can't be sent first: {error}") from error
        may_send(command, "first", machine)
    lines = [f"; gpost {__version__}: a plain tube, printed until it folds", "G21", "G90", "M83", "G28"]
    lines += [*wishes.first, *_start(config), *_wall(config, tube), *_end(config, tube)]
    return "\n".join([*lines, ""])


def _free_mm(machine: Machine) -> float:
    """Height over slab and tube at which the nozzle goes to and from the park."""
    return max(machine.pause.lift_mm, LEAST_FREE_MM)


def _start(config: Config) -> Iterator[str]:
    """Run some clay out at the park, and let the potter wipe the nozzle and stand by."""
    machine, unit_ml = config.machine, ml_per_unit(config.clay.metering)
    lift, travel = (number(feed, 1) for feed in (machine.lift_feed_mm_min, machine.travel_feed_mm_min))
    yield f"G0 Z{number(_free_mm(machine), POSITION_DECIMALS)} F{lift}"
    yield f"G0 X{number(machine.park.x_mm, 3)} Y{number(machine.park.y_mm, 3)} F{travel}"
    if unit_ml is not None:
        feed = number(machine.prime_flow_ml_min / unit_ml, 1)
        yield f"G1 E{number(PRIME_ML / unit_ml, E_DECIMALS)} F{feed}"
    yield from machine.pause.hold
    yield from _said(config, "Wipe the nozzle. Stand by to stop")
    yield from machine.pause.commands


def _wall(config: Config, tube: Tube) -> Iterator[str]:
    """From the middle of the bed's right, turn by turn; the display says height and clock."""
    machine, unit_ml = config.machine, ml_per_unit(config.clay.metering)
    bed = machine.bed
    x_mm, y_mm = (bed.x_min_mm + bed.x_max_mm) / 2, (bed.y_min_mm + bed.y_max_mm) / 2
    radius_mm = tube.diameter_mm / 2
    yield f"G0 X{number(x_mm + radius_mm, 3)} Y{number(y_mm, 3)} F{number(machine.travel_feed_mm_min, 1)}"
    yield f"G0 Z{number(tube.layer_mm, 3)} F{number(machine.lift_feed_mm_min, 1)}"
    feed, e_words = f" F{number(tube.feed_mm_min, 1)}", _e_words(tube, unit_ml)
    said_mm = 0.0
    sides = round(SIDES * tube.height_mm / tube.layer_mm)
    for side in range(1, sides + 1):
        turn = 2 * math.pi * side / SIDES
        z_mm = max(tube.layer_mm, side * tube.layer_mm / SIDES)
        x, y = x_mm + radius_mm * math.cos(turn), y_mm + radius_mm * math.sin(turn)
        yield f"G1 X{number(x, 3)} Y{number(y, 3)} Z{number(z_mm, 3)}{next(e_words)}{feed}"
        feed = ""
        if z_mm >= said_mm + SAID_EVERY_MM:
            said_mm = z_mm // SAID_EVERY_MM * SAID_EVERY_MM
            yield from _said(config, f"Tube {said_mm:g} mm at {clock(60 * z_mm / tube.rise_mm_min)}")


def _e_words(tube: Tube, unit_ml: float | None) -> Iterator[str]:
    """The E of each side, differences of a rounded total, so that rounding never adds up."""
    total, side_mm = 0.0, tube.turn_mm / SIDES
    side = 0
    while True:
        if unit_ml is None:
            yield ""
            continue
        side += 1
        now = round(side * side_mm * tube.ml_per_mm / unit_ml, E_DECIMALS)
        yield f" E{number(now - total, E_DECIMALS)}"
        total = now


def _end(config: Config, tube: Tube) -> Iterator[str]:
    """Up and to the park: it stood."""
    machine = config.machine
    top_mm = tube.height_mm + _free_mm(machine)
    yield f"G0 Z{number(top_mm, 3)} F{number(machine.lift_feed_mm_min, 1)}"
    park = machine.park
    yield f"G0 X{number(park.x_mm, 3)} Y{number(park.y_mm, 3)} F{number(machine.travel_feed_mm_min, 1)}"
    yield from _said(config, f"It stood to {tube.height_mm:g} mm")


def _said(config: Config, text: str) -> Iterator[str]:
    if config.machine.display is not None:
        yield f"{config.machine.display} {plain(text, LONGEST_MESSAGE)}"


def clock(seconds: float) -> str:
    """`9:30`, or `1:02:30`."""
    whole = round(seconds)
    hours, minutes, rest = whole // 3600, whole // 60 % 60, whole % 60
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"
