"""What switches the auger: `machine: auger` of the config."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest

from gpost.config.auger import AugerCommands
from gpost.config.model import Config
from gpost.errors import ConfigError, PlanError
from gpost.write.sent import may_send
from tests.config_files import load_files


def loaded(*parts: dict[str, Any]) -> Config:
    """The config of some files, of which the first is the studio's."""
    files = {f"{number}.yaml": json.dumps(part) for number, part in enumerate(parts)}
    return load_files(files, studio=1).config


@pytest.mark.parametrize(
    ("on", "level", "said"),
    [
        ("M3 S<level>", 600.0, "M3 S600"),
        ("M3 S<level>", 250.125, "M3 S250.125"),
        ("M3 S<level>", 0.0, "M3 S0"),
        ("M3 S<level>", math.inf, "M3"),
        ("M3S<level>", math.inf, "M3"),
        ("M3", math.inf, "M3"),
        # by M3 alone some machines turn as fast as they can
        ("M3", 600.0, "M3 S600"),
        ("M42 P5 S<level>", 255.0, "M42 P5 S255"),
        ("M42 P5 S1", 1.0, "M42 P5 S1"),
        ("M101", math.inf, "M101"),
        ("SET_AUGER SPEED=<level> NOW=1", 1.5, "SET_AUGER SPEED=1.5 NOW=1"),
        ("SET_AUGER SPEED=<level> NOW=1", math.inf, "SET_AUGER NOW=1"),
    ],
)
def test_it_is_started_with_the_number_of_the_file(on: str, level: float, said: str) -> None:
    """As the file has it; without one, as the file said none."""
    assert AugerCommands(on=on, off="M5").at(level) == said


@pytest.mark.parametrize(
    ("auger", "wrong"),
    [
        ({"on": "M3 S<level>"}, "off"),
        ({"off": "M5"}, "on"),
        ({"on": "M5", "off": "M3"}, "it stops what pushes clay"),
        ({"on": "M103", "off": "M101"}, "it stops what pushes clay"),
        ({"on": "M106 S<level>", "off": "M107"}, "gpost follows M106 as a blower's"),
        ({"on": "M42 P5 S<level>", "off": "M42 P5 S9"}, "the auger runs at `off`"),
        ({"on": "M3 S<level>", "off": "M127"}, "switches the valve"),
        ({"on": "M42 P5 S<level>", "off": "M42 P6 S0"}, "switches pin 6"),
        ({"on": "M42 P4 S<level>", "off": "M42 P4 S0"}, "switched by one command"),
        ({"on": "G28", "off": "M5"}, "moves the machine"),
        ({"on": "SET_AUGER SPEED=<level>", "off": "M5"}, "allow_commands"),
        ({"on": "M3 P<level>", "off": "M5"}, "allow_commands"),
    ],
)
def test_what_can_t_be_meant_is_refused(auger: dict[str, str], wrong: str) -> None:
    """With what to say instead."""
    air = {"on": "M42 P4 S<level>", "off": "M42 P4 S0"}
    with pytest.raises(ConfigError, match="machine") as refused:
        loaded({"machine": {"air": air, "auger": auger}})
    assert wrong in str(refused.value)


@pytest.mark.parametrize(
    "auger",
    [
        {"on": "M3 S<level>", "off": "M5"},
        {"on": "M4", "off": "M5"},
        {"on": "M42 P5 S<level>", "off": "M42 P5 S0"},
        {"on": "M126", "off": "M127"},
        {"on": "M101", "off": "M103"},
    ],
)
def test_what_is_free_at_the_auger_is_so_nowhere_else(auger: dict[str, str]) -> None:
    """It gives back what the file itself has switched; a step, or another key, may not send it."""
    machine = loaded({"machine": {"auger": auger}}).machine
    for key in ("on", "off"):
        assert may_send(auger[key], f"auger.{key}", machine) == "clay"  # type: ignore[arg-type]
        plain = auger[key].replace("<level>", "9")
        for place in ("step", "beep", "pause.commands"):
            with pytest.raises(PlanError):
                may_send(plain, place, machine)  # type: ignore[arg-type]


def test_a_pin_of_the_auger_is_the_studio_s_word() -> None:
    """A recipe can't name another."""
    recipe: dict[str, Any] = {"machine": {"auger": {"on": "M42 P9 S<level>", "off": "M42 P9 S0"}}}
    with pytest.raises(ConfigError, match="allow_commands"):
        loaded({"machine": {"nozzle_mm": 4}}, recipe)


def test_a_studio_may_have_a_command_of_its_own() -> None:
    """What the machine knows by a name is allowed by the studio."""
    auger = {"on": "SET_AUGER SPEED=<level>", "off": "SET_AUGER SPEED=0"}
    machine = Config.model_validate({"machine": {"auger": auger, "allow_commands": ["SET_AUGER"]}}).machine
    assert may_send(auger["on"], "auger.on", machine) == "allowed"
