"""The file's own lines that switch the blower as the studio's config says."""

from __future__ import annotations

import numpy as np
import pytest

from gpost.config.machine import AirCommands
from gpost.config.model import Config
from gpost.errors import SourceError
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.motion.studioair import StudioAir
from gpost.read.source import Chunk
from gpost.read.words import read_block

PIN = {"on": "M42 P4 S<level>", "off": "M42 P4 S0", "full": 1}


def followed(text: str, air: dict[str, object], state: MachineState | None = None) -> Follower:
    """The machine's way through a text, from line 100 of a file on."""
    config = Config.model_validate({"machine": {"air": air, "allow_commands": ["M104", "M3", "M64", "M65"]}})
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
    assert StudioAir(AirCommands(on="M106 S<level>", off="M42 P4 S0"))


def test_a_relay_that_is_turned_about() -> None:
    """Where S255 stops it, S0 lets it blow."""
    follower = followed("M42 P4 S0\nM42 P4 S255\n", {"on": "M42 P4 S0", "off": "M42 P4 S255"})
    lines, levels = follower.studio_air_levels
    assert lines.tolist() == [100, 101]
    assert np.flatnonzero(levels).tolist() == [0]


VALVE = {"on": "M64 P0", "off": "M65 P0", "full": 1}


@pytest.mark.parametrize(
    ("line", "air", "names"),
    [
        ("M42 P4 S1 M42 P7 S1", PIN, "M42 and M42"),
        ("M42 P7 S1 M42 P4 S0", PIN, "M42 and M42"),
        ("M106 S255 M42 P7 S1", {}, "M106 and M42"),
        ("M107 M42 P7 S0", {}, "M107 and M42"),
        ("M300 S440 P100 M106", {}, "M300 and M106"),
        ("M104 S200 M82 M106 S9", {}, "M104 and M82 and M106"),
        ("M64 P0 M64 P1", VALVE, "M64 and M64"),
        # the dwell's P (NIST RS274/NGC report, section 3.5.4) would be a blower's number, its S a level
        ("G4 P5 M106 S255", {}, "G4 and M106"),
        ("M106 G4 S2", {}, "G4 and M106"),
        ("G4 P500 M107", {}, "G4 and M107"),
        ("G4 P4 M42 S1", PIN, "G4 and M42"),
        ("M64 P0 M65 P1", VALVE, "M64 and M65"),
    ],
)
def test_whose_words_they_are_must_be_plain(line: str, air: dict[str, object], names: str) -> None:
    """A letter stands once on a line (NIST RS274/NGC report, section 3.3.5), and it isn't said whose it is."""
    sentence = f"{names} stand on one line.*put each command on a line of its own"
    with pytest.raises(SourceError, match=sentence) as said:
        followed(f"G1 X5\n{line}\n", air)
    assert said.value.line == 101


@pytest.mark.parametrize(
    ("line", "level"),
    [
        ("M82 M106 S9", 9),
        ("M106 S9 M400", 9),
        ("M106 S9 M117 M42 P4 S0", 9),
        ("M5 M9 M106 S9", 9),
        # M107 has no S, so that this one is the heater's
        ("M104 S200 M107", 0),
        ("M104 S0 M140 S0", 0),
        ("G90 M106 S9", 9),
        ("G4 S2 M107", 0),
    ],
)
def test_beside_what_has_no_such_words_it_is_plain(line: str, level: float) -> None:
    """Modes, messages, coolant, and M107 beside a temperature; without the blower it is nobody's question."""
    assert followed(f"{line}\n", PIN).end.air == level


FAN = {"on": "M106 P1 S<level>", "off": "M107 P1"}


@pytest.mark.parametrize(
    ("lines", "air", "blowing"),
    [
        # the studio's own is P1: by M106 with S0 it is off too
        (["M106 P1 S90"], FAN, (0, (), 90)),
        (["M106 P1 S90", "M106 P0 S0", "M107", "M107 P2"], FAN, (0, (), 90)),
        (["M106 P1 S90", "M107 P1"], FAN, (0, (), 0)),
        (["M106 P1", "M106 P1 S0"], FAN, (0, (), 0)),
        (["M106 P1"], FAN, (0, (), 255)),
        (["M106 P1 S0"], {"on": "M106 P1 S255", "off": "M107 P1"}, (0, (), 0)),
        (["M106 P0 S9", "M106 P3 S5", "M106 P2 S4"], FAN, (9, ((2, 4), (3, 5)), 0)),
        # M107 without a P stops the studio's own where the config says so
        (["M106 P1 S90", "M107"], {"on": "M106 P1 S<level>", "off": "M107"}, (0, (), 0)),
        (["M106 P0 S9"], {"on": "M106 P0 S<level>", "off": "M107 P0"}, (9, (), 0)),
        (["M106 P0 S9", "M106 P1 S0"], {}, (9, (), 0)),
        (["M106 S9", "M107 P1"], {}, (9, (), 0)),
        (["M106 P1 S9", "M107"], {}, (0, ((1, 9),), 0)),
        (["M106 P1 S9", "M107 P1"], {}, (0, (), 0)),
        # what is no number of a blower says nothing
        (["M106 P1000 S9", "M106 P1.5 S8"], {}, (8, (), 0)),
    ],
)
def test_blowers_by_number_are_kept_apart(
    lines: list[str], air: dict[str, object], blowing: tuple[float, tuple[tuple[int, float], ...], float]
) -> None:
    """M106 without a P is P0 (common practice, no source); in one block, and from one to the next."""
    whole = followed("\n".join([*lines, "G1 X5"]), air)
    assert whole.blowing(len(lines)) == blowing
    assert whole.blowing(0) == (0, (), 0)
    state = MachineState(relative=False)
    for line in lines:
        state = followed(f"{line}\n", air, state).end
    assert (state.air, state.other_air, state.studio_air) == blowing
    assert (whole.end.air, whole.end.other_air, whole.end.studio_air) == blowing


def test_of_several_blowers_the_highest_level_is_shown() -> None:
    """For the picture of how hard it blows."""
    text = "M106 P2 S50\nM106 S90\nM107\nM106 P3 S60\nM106 P3 S0\nM107 P2\n"
    lines, levels = followed(text, {}).air_levels
    assert (lines.tolist(), levels.tolist()) == ([*range(100, 106)], [50, 90, 50, 60, 50, 0])


@pytest.mark.parametrize(
    ("lines", "levels"),
    [
        (["M8"], [1]),
        (["m08 ; air", "M09"], [1, 0]),
        # S is the spindle's, since M7, M8 and M9 have no words (NISTIR 6556, section 3.6.4)
        (["M3 S900 M8", "M9 M5"], [1, 0]),
        (["M7"], []),
    ],
)
def test_air_by_a_code_without_words(lines: list[str], levels: list[float]) -> None:
    """M7, M8 and M9, where the config says so: the code alone tells."""
    follower = followed("\n".join([*lines, ""]), {"on": "M8", "off": "M9", "full": 1})
    assert follower.studio_air_levels[1].tolist() == levels
    assert follower.end.studio_air == (levels[-1] if levels else 0)
    air = [code for code in follower.commands["code_x10"].tolist() if code in (1060, 1070)]
    assert air == [1060 if level else 1070 for level in levels]


SET_AIR = {"on": "SET_AIR AT=air VALUE=<level>", "off": "SET_AIR AT=air VALUE=0", "full": 1, "decimals": 2}
SPOKEN = {"on": "AIR_ON", "off": "AIR_OFF", "full": 1}
TOLD = {"on": "AIR STATE=1", "off": "AIR STATE=0", "full": 1}


@pytest.mark.parametrize(
    ("line", "air", "level"),
    [
        ("SET_AIR AT=air VALUE=0.5", SET_AIR, 0.5),
        ("set_air value=1 at=air ; blow", SET_AIR, 1),
        ("SET_AIR AT=air VALUE=0.00", SET_AIR, 0),
        ("SET_AIR AT=air VALUE=1 EVERY=0.1", SET_AIR, 1),
        # a comment is none of its words, nor is the sign by which a machine may skip the line
        ("(blow) SET_AIR AT=air VALUE=0.5", SET_AIR, 0.5),
        ("SET_AIR(blow)AT=air VALUE=0.5(more)", SET_AIR, 0.5),
        ("/SET_AIR AT=air VALUE=0", SET_AIR, 0),
        # no level that can be read: as hard as it can
        ("SET_AIR AT=air", SET_AIR, 1),
        ("SET_AIR AT=air VALUE=inf", SET_AIR, 1),
        ("AIR_ON", SPOKEN, 1),
        ("air_off", SPOKEN, 0),
        # the name is the same for both, and what differs says which
        ("AIR STATE=1", TOLD, 1),
        ("AIR STATE=0.0", TOLD, 0),
        # another pin, another name; a name's words are told apart by their case
        ("SET_AIR AT=light VALUE=1", SET_AIR, None),
        ("SET_AIR AT=airlock VALUE=1", SET_AIR, None),
        ("SET_AIR AT=AIR VALUE=1", SET_AIR, None),
        ("SET_AIR VALUE=1", SET_AIR, None),
        ("SET_DRUM AT=air VALUE=1", SET_AIR, None),
        ("AIR_ONLY", SPOKEN, None),
        ("M117 AIR_ON", SPOKEN, None),
        ("; AIR_ON", SPOKEN, None),
    ],
)
def test_air_by_a_name(line: str, air: dict[str, object], level: float | None) -> None:
    """The name and the words that on and off have alike are the blower; `<level>` says how hard it blows."""
    names = ["SET_AIR", "AIR", "AIR_ON", "AIR_OFF"]
    config = Config.model_validate({"machine": {"air": air, "allow_commands": names}})
    block = read_block(Chunk(f"G1 X5\n{line}\nG1 X6\n".encode(), 0, 100))
    state = MachineState(relative=False, studio_air=0.25)
    follower = Follower(block, state, config.machine, config.clay.metering)
    found = follower.studio_air_levels
    assert (found[0].tolist(), found[1].tolist()) == (([101], [level]) if level is not None else ([], []))
    assert follower.end.studio_air == (0.25 if level is None else level)
    assert [follower.blowing(at).studio for at in (1, 2)] == [0.25, 0.25 if level is None else level]
    air_codes = [tuple(each) for each in follower.commands if each["code_x10"] in (1060, 1070)]
    assert air_codes == ([] if level is None else [(b"M", 1060 if level else 1070, 101)])


def test_code_and_name_are_followed_in_the_order_of_the_lines() -> None:
    """Whichever of them comes last holds."""
    air = {"on": "AIR_ON", "off": "M42 P4 S0", "full": 1}
    config = Config.model_validate({"machine": {"air": air, "allow_commands": ["AIR_ON"]}})
    for text, level in (("M42 P4 S0\nAIR_ON\n", 1), ("AIR_ON\nM42 P4 S0\n", 0)):
        block = read_block(Chunk(text.encode(), 0, 0))
        end = Follower(block, MachineState(), config.machine, config.clay.metering).end
        assert end.studio_air == level
