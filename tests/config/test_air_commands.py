"""What a blower is switched by: `on` lets it blow, `off` stops it.

M7 and M8 let air or mist blow, M9 stops it (NISTIR 6556, section 3.6.4). M106 lets a blower blow as hard as its S says,
or as hard as it can, M107 stops it; what a pin does is the studio's to say: common practice, no source.
"""

from __future__ import annotations

import json

import pytest
from pydantic import ValidationError

from gpost.config.machine import AirCommands
from gpost.errors import ConfigError
from tests.config_files import load_files


@pytest.mark.parametrize(
    ("on", "off"),
    [
        ("M106 S<level>", "M107"),
        ("M106 S<level>", "M106 S0"),
        ("M106 P1 S<level>", "M106 P1 S0"),
        ("M106", "M107"),
        ("M106 S255", "M106 S0"),
        ("M7", "M9"),
        ("M8", "M09"),
        ("M42 P4 S<level>", "M42 P4 S0"),
        # a relay that is on when its pin is low
        ("M42 P4 S0", "M42 P4 S1"),
        ("M42 P4 M1 S<level>", "M42 S0 P04"),
        ("M106 P0 S<level>", "M107"),
        ("M106 S<level>", "M107 P0"),
        ("M106 P1 S<level>", "M107 P1"),
        ("M3 S<level>", "M5"),
        ("M126", "M127"),
        ("AIR V=<level>", "AIR V=0"),
        ("SET_AIR FAN=a V=<level>", "set_air v=0 fan=a"),
        # whether that stops it can't be told
        ("AIR_ON", "AIR_OFF"),
        ("AIR_ON", "M107"),
        ("M42 P4 S<level>", "AIR_OFF"),
        ("M1234 P1", "M1234 P0"),
        ("M1234 S<level>", "M107"),
        ("M106 S<level>", "M1234"),
        ("AIR STATE=on", "AIR STATE=off"),
        ("AIR STATE=on V=<level>", "AIR STATE=off V=0"),
        ("AIR ON=1 V=<level>", "AIR ON=0 V=0"),
        ("AIR FAN=a V=<level>", "AIR STOP=1"),
        ("AIR FAN=a V=<level> RAMP=2", "AIR FAN=a V=0 RAMP=1"),
        ("AIR MODE=blow V=<level>", "AIR MODE=idle V=0"),
    ],
)
def test_a_blower_that_can_be_switched_on_and_off_is_taken(on: str, off: str) -> None:
    """By code, by pin, or by name."""
    assert not refused(on, off)


def refused(on: str, off: str) -> str:
    """What is said of such an air in the file of a studio that allows all of it; "" if nothing is."""
    machine = {"air": {"on": on, "off": off}, "allow_commands": [on, off]}
    try:
        load_files([("studio.yaml", json.dumps({"machine": machine}))])
    except ConfigError as error:
        return str(error)
    return ""


@pytest.mark.parametrize(
    ("on", "off", "said"),
    [
        ("M107", "M106", "it stops a blower"),
        ("M106 S0", "M107", "it stops a blower"),
        ("m9", "M7", "it stops a blower"),
        ("M106 S<level>", "M106", "it lets a blower blow"),
        ("M106 S<level>", "M106 S255", "it lets a blower blow"),
        ("M106 P1 S<level>", "m106p1s.5", "it lets a blower blow"),
        ("M7", "M8", "it lets a blower blow"),
        ("M42 P4 S<level>", "M42 S1 P4", "blows at `off`, M42 S1 P4, as at `on`"),
        ("M42 P4 S1", "M42  P4 S1", "blows at `off`, M42  P4 S1, as at `on`"),
        ("AIR_ON", "air_on", "blows at `off`, air_on, as at `on`"),
    ],
)
def test_one_that_is_swapped_or_never_off_is_refused(on: str, off: str, said: str) -> None:
    """It would blow on the base, and while the machine waits."""
    with pytest.raises(ValidationError, match=said):
        AirCommands(on=on, off=off)


@pytest.mark.parametrize(
    ("on", "off", "switched", "instead"),
    [
        # M107 and M106 without a P are those of blower 0
        ("M106 P1 S<level>", "M107", "blower 0, and `on`, M106 P1 S<level>, blower 1", "M107 P1"),
        ("M106 S<level>", "M107 P1", "blower 1, and `on`, M106 S<level>, blower 0", "M107"),
        ("M106 S<level>", "M106 P1 S0", "blower 1, and `on`, M106 S<level>, blower 0", "M107"),
        ("M106 P1 S<level>", "m106p2s0", "blower 2, and `on`, M106 P1 S<level>, blower 1", "M107 P1"),
        ("M106 S<level>", "M9", "the coolant, and `on`, M106 S<level>, blower 0", "M107"),
        ("M106 S<level>", "M42 P4 S0", "pin 4, and `on`, M106 S<level>, blower 0", "M107"),
        ("M42 P4 S<level>", "M107", "blower 0, and `on`, M42 P4 S<level>, pin 4", "M42 P4 S0"),
        ("M42 P4 S<level>", "M42 P5 S0", "pin 5, and `on`, M42 P4 S<level>, pin 4", "M42 P4 S0"),
        ("M42 P4 S0", "M42 P5 S1", "pin 5, and `on`, M42 P4 S0, pin 4", "M42 P4 S1"),
        ("M42 P4 S<level>", "M42 S0", "a pin without a number, and", "M42 P4 S0"),
        ("M7", "M5", "the spindle, and `on`, M7, the coolant", "M9"),
    ],
)
def test_one_whose_off_switches_something_else_is_refused(
    on: str, off: str, switched: str, instead: str
) -> None:
    """Both commands are right for themselves, and the blower would blow on the base all the same."""
    said = refused(on, off)
    assert f"`off`, {off}, switches {switched}" in said
    assert f"such as {instead}\n" in said
    assert not refused(on, instead)


@pytest.mark.parametrize("on", ["M42 P4 S<level>", "M42 P4 S255"])
def test_a_pin_that_is_given_no_level_is_refused(on: str) -> None:
    """Nothing is written to it then."""
    said = refused(on, "M42 P4")
    assert "`off`, M42 P4, says no level (S) and switches nothing; say one, such as M42 P4 S0" in said


@pytest.mark.parametrize(
    ("on", "off"),
    [
        ("SET_AIR FAN=a VALUE=<level>", "SET_AIR FAN=b VALUE=0"),
        ("SET_AIR VALUE=<level> FAN=a", "set_air fan=b value=0.0"),
    ],
)
def test_one_whose_off_names_another_blower_is_refused(on: str, off: str) -> None:
    """One name and another word beside the level."""
    said = refused(on, off).lower()
    assert f"`off`, {off.lower()}, says fan=b, and `on`, {on.lower()}, fan=a" in said
    assert "; say fan=a at `off`, too" in said


def test_an_off_that_is_left_out_is_m107() -> None:
    """Which stops blower 0 alone; the line is that of `on`."""
    with pytest.raises(ConfigError, match=r"s.yaml:2:[0-9]+: machine.air.on: .* `off`, M107, switches blower 0"):
        load_files([("s.yaml", 'machine:\n  air: {on: "M42 P4 S<level>"}\n')])
