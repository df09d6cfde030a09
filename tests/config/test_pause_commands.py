"""What a pause is waited by: a command that waits until somebody goes on.

G4 stands still for a time (NIST RS274/NGC report, section 3.5.4), M0 and M1 until somebody goes on (3.6.1). That these
take a time as P or S on some machines, and what the others do: common practice, no source.
"""

from __future__ import annotations

import json
import re

import pytest
from pydantic import ValidationError

from gpost.config.machine import Machine
from gpost.errors import ConfigError
from tests.config_files import load_files


def machine(*commands: str) -> Machine:
    """Of a studio whose word is that all of them are harmless."""
    return Machine.model_validate({"pause": {"commands": commands}, "allow_commands": commands})


@pytest.mark.parametrize(
    "commands",
    [
        ("M0",),
        ("m00",),
        ("M0 Load clay",),
        ("M0 Schritt 3",),
        ("M0 Spin 3 times",),
        ("M0 S0 Look",),
        ("M0 Look S30",),
        ("M1",),
        ("M0 S0",),
        ("M25",),
        ("M226 P5 S1",),
        ("M600",),
        ("LOOK",),
        ("LOOK SECONDS=5",),
        # no codes, though they look so
        ("WAIT_FOR_ALARM3",),
        ("LOOK ROOM=M24",),
        ('M98 P"/macros/M24.g"',),
        ("M0 Bowl for room5",),
        ("G4 P1", "M0"),
        ("M0", "G4 S5"),
        ("M0 S5", "M226 P5"),
        ("M400", "M300 S440", "M117 Look", "M601"),
    ],
)
def test_what_waits_for_somebody_or_may_is_taken(commands: tuple[str, ...]) -> None:
    """What gpost doesn't know is there by the studio's word; a dwell may stand beside what waits."""
    assert machine(*commands).pause.commands == commands


@pytest.mark.parametrize(
    ("commands", "timed"),
    [
        (("G4 P1",), "G4 P1"),
        (("g04 s600",), "g04 s600"),
        (("M0 S5",), "M0 S5"),
        (("M0 S30 Look",), "M0 S30 Look"),
        (("M0 P60000 Cut the string",), "M0 P60000 Cut the string"),
        (("m01 s5 go",), "m01 s5 go"),
        (("m00 p5000",), "m00 p5000"),
        (("M1 P0 S5",), "M1 P0 S5"),
        (("M0 S10, look",), "M0 S10, look"),
        (("M0 P5S3 Look",), "M0 P5S3 Look"),
        (("M300 S440", "G4 S600", "M84 S0"), "G4 S600"),
        (("G4 S1", "M0 S5"), "G4 S1 and M0 S5"),
    ],
)
def test_what_goes_on_by_itself_alone_is_refused(commands: tuple[str, ...], timed: str) -> None:
    """A cartridge would be changed while the machine sets off."""
    with pytest.raises(ValidationError, match=f"goes on by itself when the time of {timed} is over"):
        machine(*commands)


@pytest.mark.parametrize(
    "commands",
    [
        ("M300 S440",),
        ("M84 S0",),
        ("M107",),
        ("M400",),
        ("M117 Look", "M118 go"),
        ("M24",),
        ("m108",),
        ("M76",),
        ("M75", "M77"),
        ("M42 P4 S1",),
        ("M280 P0 S90", "M150 R255"),
        ("M8", "M109 S40"),
    ],
)
def test_what_doesn_t_wait_alone_is_refused(commands: tuple[str, ...]) -> None:
    """It beeps, tells, lets go on, stops the job's clock or waits for moves to end; the print goes on."""
    with pytest.raises(ValidationError, match=f"nothing waits for you by {' and '.join(commands)}; add"):
        machine(*commands)


@pytest.mark.parametrize("key", ["hold", "commands"])
@pytest.mark.parametrize("command", ["M84 S0", "M18 S0", "m084s0", "M84 S3600", "M18 S7200"])
def test_what_holds_the_motors_is_taken(key: str, command: str) -> None:
    """S says after how many seconds at rest they let go, 0 is never; an hour is longer than clay waits."""
    pause = {"commands": ["M0"], key: [command, "M0"]}
    assert command in getattr(Machine.model_validate({"pause": pause}).pause, key)


@pytest.mark.parametrize("key", ["hold", "commands"])
@pytest.mark.parametrize("command", ["M84 S5", "M18 S600", "m084s1", "M84 S3599", "M84 X Y S5", "M84 S+5"])
def test_what_lets_them_go_meanwhile_is_refused(key: str, command: str) -> None:
    """The nozzle can be pushed aside then, and the wall goes on beside itself."""
    with pytest.raises(ValidationError, match=f"{re.escape(command)} lets the motors go after [0-9]+ s"):
        Machine.model_validate({"pause": {"commands": ["M0"], key: [command, "M0"]}})


@pytest.mark.parametrize("commands", [("M25", "M24"), ("M025", "M300 S440", "m24"), ("M24", "M25", "M24")])
def test_a_pause_that_is_ended_at_once_is_refused(commands: tuple[str, ...]) -> None:
    """M25 stops reading the file, M24 has it read on."""
    with pytest.raises(ValidationError, match=f"{commands[-1]} behind M25 lets the machine go on at once"):
        machine(*commands)


@pytest.mark.parametrize(
    "commands",
    [
        ("M24", "M25"),
        ("M0", "M24"),
        ("M0", "M108"),
        ("M76", "M0", "M75"),
        ("M25", "M0", "M24"),
        ("M25", "LOOK", "M24"),
        ("M25", "LOOK_IN_ROOM24"),
    ],
)
def test_what_lets_go_on_may_stand_beside_what_waits(commands: tuple[str, ...]) -> None:
    """Before it, or behind what isn't passed before somebody has let go on."""
    assert machine(*commands).pause.commands == commands


@pytest.mark.parametrize("key", ["hold", "commands"])
@pytest.mark.parametrize("command", ["M84 S-1", "M84 S", "m18s", "M18 S -5"])
def test_a_hold_without_a_time_is_refused(key: str, command: str) -> None:
    """Machines make of it what they like: at once, or never."""
    keys = {"pause": {"commands": ["M0"], key: ["M0", command]}, "allow_commands": [command]}
    with pytest.raises(ConfigError, match=rf"machine.pause.{key}\[2\]: .* it doesn't say after how many seconds"):
        load_files([("studio.yaml", json.dumps({"machine": keys}))])
