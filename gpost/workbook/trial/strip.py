"""The G-code of a trial to weigh: known lengths of E, one after the other, into a cup at the park."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from gpost import __version__
from gpost.config.metering import ml_per_unit
from gpost.config.model import Config, Machine
from gpost.config.settings import one_command
from gpost.errors import ConfigError
from gpost.plan.layers import SAME_ML
from gpost.supply.sure import counted_on_ml, to_load_ml
from gpost.write.script import E_DECIMALS, LONGEST_MESSAGE, number, plain
from gpost.write.sent import check_configured, may_send

TIDY_ML = 0.01
"""No amount of less is proposed."""


@dataclass(frozen=True, slots=True)
class StripWishes:
    """What the trial should be."""

    amount_ml: float = 10.0
    """Clay of the first extrusion, about, after the present config; the second is twice that, and so on."""
    extrusions: int = 4
    cup_mm: float = 60.0
    """Height of the nozzle above zero, so that a cup goes under it."""
    first: tuple[str, ...] = ()
    """Commands to send first, such as one that lets a cold extruder move."""


def amounts_e(config: Config, wishes: StripWishes) -> list[float]:
    """Units of E of each extrusion. Raises ConfigError when the config has no E."""
    unit_ml = ml_per_unit(config.clay.metering)
    if unit_ml is None:
        raise ConfigError("clay is metered by path, so there is no E to try; set clay: metering first")
    first = _tidy(wishes.amount_ml / unit_ml)
    return [round(place * first, E_DECIMALS) for place in range(1, wishes.extrusions + 1)]


def _tidy(value: float) -> float:
    """Two digits, so that it is easily written down; at least the last place of an E word."""
    tidy = round(value, 1 - math.floor(math.log10(value)))
    return max(tidy, 10.0**-E_DECIMALS)


def load_ml(config: Config, wishes: StripWishes) -> float:
    """What must be in the cartridge for all of it, its reserve included, by what the config says of E, ml.

    Raises ConfigError when so much isn't in it, or doesn't go into it: the last cups would hold air.
    """
    unit_ml, amounts = ml_per_unit(config.clay.metering), amounts_e(config, wishes)
    assert unit_ml is not None
    need_ml, first_ml = unit_ml * (amounts[0] + sum(amounts)), config.cartridge.first_ml
    gives_ml = counted_on_ml(config, first_ml)
    if need_ml > gives_ml + SAME_ML:
        fits_ml = gives_ml * wishes.amount_ml / need_ml
        held_ml = config.cartridge.volume_ml if first_ml is None else first_ml
        raise ConfigError(
            f"the trial pushes {need_ml:.0f} ml, and of {held_ml:g} ml in the cartridge {gives_ml:.0f} can "
            "be counted on: the last cups would hold air, and density and E come out wrong. Ask for less "
            f"with --amount-ml {_fewer(fits_ml):g}, or with --extrusions"
        )
    return to_load_ml(config, need_ml)


def _fewer(value: float) -> float:
    """Two digits, and so much less that tidying what follows from it doesn't make it too much."""
    step = 10.0 ** (math.floor(math.log10(max(value, TIDY_ML))) - 1)
    return round(math.floor(0.95 * value / step) * step, 9)


def strip(config: Config, wishes: StripWishes) -> str:
    """The whole file. Raises ConfigError when the park or the cup can't be reached, or a limit is loosened,
    or the cartridge doesn't hold so much.

    Raises PlanError for a command that may not be sent.
    """
    machine = config.machine
    if config.origin.loosened:
        raise ConfigError("\n".join(config.origin.loosened))
    _check(machine, wishes)
    load_ml(config, wishes)
    lines = [f"; gpost {__version__}: a trial to weigh, from E to grams", "G21", "G90", "M83", "G28"]
    lines += wishes.first
    lines += _to_cup(machine, wishes.cup_mm)
    lines += _trial(config, amounts_e(config, wishes))
    return "\n".join([*lines, ""])


def _check(machine: Machine, wishes: StripWishes) -> None:
    check_configured(machine)
    if not machine.bed.holds(machine.park.x_mm, machine.park.y_mm):
        raise ConfigError("the park lies off the bed, so the trial can't be done there; fix machine: park")
    if not 0 < wishes.cup_mm <= machine.ceiling_mm:
        raise ConfigError(f"the nozzle can't stand {wishes.cup_mm:g} mm high under {machine.ceiling_mm:g} mm")
    for command in wishes.first:
        try:
            one_command(command)
        except ValueError as error:
            raise ConfigError(f"{command!r} can't be sent first: {error}") from error
        may_send(command, "first", machine)


def _to_cup(machine: Machine, cup_mm: float) -> Iterator[str]:
    """Over to the park, at the higher of where homing ends and where the cup needs it."""
    lift, travel = (number(feed, 1) for feed in (machine.lift_feed_mm_min, machine.travel_feed_mm_min))
    if machine.home.z_mm < cup_mm:
        yield f"G0 Z{number(cup_mm, 3)} F{lift}"
    yield f"G0 X{number(machine.park.x_mm, 3)} Y{number(machine.park.y_mm, 3)} F{travel}"
    if machine.home.z_mm > cup_mm:
        yield f"G0 Z{number(cup_mm, 3)} F{lift}"


def _trial(config: Config, amounts: Sequence[float]) -> Iterator[str]:
    """The first amount goes to waste, so that each weighing starts with the same pressure in the line."""
    machine = config.machine
    unit_ml = ml_per_unit(config.clay.metering)
    assert unit_ml is not None
    feed = number(machine.prime_flow_ml_min / unit_ml, 1)
    yield f"G1 E{number(amounts[0], E_DECIMALS)} F{feed}"
    for place, amount in enumerate(amounts, 1):
        e = number(amount, E_DECIMALS)
        yield from _wait(machine, f"Cut, empty cup under nozzle, {place} of {len(amounts)}")
        yield f"G1 E{e} F{feed}"
        yield from _wait(machine, f"Cut, weigh and write down: E {e}")


def _wait(machine: Machine, text: str) -> Iterator[str]:
    yield from machine.pause.hold
    if machine.display is not None:
        yield f"{machine.display} {plain(text, LONGEST_MESSAGE)}"
    yield from machine.pause.commands
