"""The file's own lines that switch the blower as the studio's config says."""

from __future__ import annotations

import numpy as np
import pytest

from gpost.config.machine import AirCommands
from gpost.config.model import Config
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.motion.studioair import StudioAir
from gpost.read.source import Chunk
from gpost.read.words import read_block

PIN = {"on": "M42 P4 S<level>", "off": "M42 P4 S0", "full": 1}


def followed(text: str, air: dict[str, object], state: MachineState | None = None) -> Follower:
    """The machine's way through a text, from line 100 of a file on."""
    config = Config.model_validate({"machine": {"air": air, "allow_commands": ["M104", "M3"]}})
    block = read_block(Chunk(text.encode(), 0, 100))
    return Follower(block, state or MachineState(relative=False), config.machine, config.clay.metering)


@pytest.mark.parametrize(
    ("line", "level"),
    [("M42 P4 S0.5", 0.5), ("M42 S1 P4", 1), ("m42p4s0", 0), ("M42 P4", 1), ("N3 M42 P4 S1*7", 1)],
)
def test_a_line_of_the_pin_sets_its_level(line: str, level: float) -> None:
    """In whatever order and spelling; without S it blows as hard as it can. It is carried to the next block."""
    follower = followed(f"G1 X5\n{line}\n", PIN)
    lines, levels = follower.studio_air_levels
    assert (lines.tolist(), levels.tolist(), follower.end.studio_air) == ([101], [level], level)
    assert followed("G1 X5\n", PIN, follower.end).end.studio_air == level
    code = 1060 if level else 1070
    assert [tuple(each)[:2] for each in follower.commands] == [(b"M", code)]


@pytest.mark.parametrize("line", ["M42 P5 S1", "M42 S1", "M43 P4 S1", "M42 P4.5 S1", "M104 S200"])
def test_other_lines_are_as_ever(line: str) -> None:
    """Another pin, no pin, another code."""
    follower = followed(f"{line}\n", PIN)
    assert not len(follower.studio_air_levels[0])
    assert 1060 not in follower.commands["code_x10"]


def test_what_is_followed_as_something_else_stays_that() -> None:
    """A config whose blower hangs on the heater's code silences no heat; M106 is followed anyway."""
    assert not StudioAir(AirCommands())
    assert not StudioAir(AirCommands(on="M104 S<level>", off="M104 S0"))
    assert not StudioAir(AirCommands(on="SET_AIR VALUE=<level>", off="SET_AIR VALUE=0"))
    assert StudioAir(AirCommands(on="M106 S<level>", off="M42 P4 S0"))


def test_a_relay_that_is_turned_about() -> None:
    """Where S255 stops it, S0 lets it blow."""
    follower = followed("M42 P4 S0\nM42 P4 S255\n", {"on": "M42 P4 S0", "off": "M42 P4 S255"})
    lines, levels = follower.studio_air_levels
    assert lines.tolist() == [100, 101]
    assert np.flatnonzero(levels).tolist() == [0]
