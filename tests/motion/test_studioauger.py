"""The file's own lines that switch the auger as the studio's config says.

M3, M4, M5 and S: NISTIR 6556, sections 3.6.2 and 3.7.2. M42, M126 and names: common practice, no source.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from gpost.config.model import Config
from gpost.errors import SourceError
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.read.source import Chunk
from gpost.read.words import read_block

SPINDLE = {"on": "M3 S<level>", "off": "M5"}
BARE = {"on": "M3", "off": "M5"}
PIN = {"on": "M42 P5 S<level>", "off": "M42 P5 S0"}
RELAY = {"on": "M42 P5 S0", "off": "M42 P5 S1"}
VALVE = {"on": "M126", "off": "M127"}
NAMED = {"on": "SET_AUGER SPEED=<level>", "off": "SET_AUGER SPEED=0"}
CODES = {"on": "M101", "off": "M103"}
ALLOWED = ["SET_AUGER"]


def followed(text: str, auger: dict[str, str], state: MachineState | None = None, unit: str = "path") -> Follower:
    """The machine's way through a text, from line 100 of a file on."""
    metering = {"unit": "path", "bead_height_mm": 2} if unit == "path" else {"unit": "mm3"}
    config = Config.model_validate(
        {"machine": {"auger": auger, "allow_commands": ALLOWED}, "clay": {"metering": metering}}
    )
    block = read_block(Chunk(text.encode(), 0, 100))
    return Follower(block, state or MachineState(relative=False), config.machine, config.clay.metering)


@pytest.mark.parametrize(
    ("auger", "lines", "runs", "number"),
    [
        (SPINDLE, ["M3 S600"], True, 600),
        (SPINDLE, ["m03s600"], True, 600),
        (SPINDLE, ["M3"], True, math.inf),
        (SPINDLE, ["M3 S600", "M5"], False, 600),
        (SPINDLE, ["M3 S600", "M5", "M3"], True, 600),
        (SPINDLE, ["S300", "M3"], True, 300),
        (SPINDLE, ["M3 S600", "G1 X5 S70"], True, 70),
        (SPINDLE, ["M3 S600", "M106 S9", "G4 S2"], True, 600),
        (SPINDLE, ["M3 S600", "M3 S0"], True, 0),
        # turned the other way it draws clay back
        (SPINDLE, ["M3 S600", "M4 S80"], False, 80),
        (SPINDLE, ["M42 P5 S255"], False, math.inf),
        (BARE, ["M3 S600"], True, 600),
        (PIN, ["M42 P5 S255"], True, 255),
        (PIN, ["M42 S128 P5", "M42 P5 S0"], False, 128),
        (PIN, ["M42 P4 S255", "M3 S600"], False, math.inf),
        (PIN, ["M42 P5 S200", "S9"], True, 200),
        (RELAY, ["M42 P5 S0"], True, math.inf),
        (RELAY, ["M42 P5 S0", "M42 P5 S1"], False, math.inf),
        (VALVE, ["M126"], True, math.inf),
        (VALVE, ["M126", "M127"], False, math.inf),
        (NAMED, ["SET_AUGER SPEED=1.5"], True, 1.5),
        (NAMED, ["SET_AUGER SPEED=1.5", "set_auger speed=0"], False, 1.5),
        (CODES, ["M101"], True, math.inf),
        (CODES, ["M101", "M103"], False, math.inf),
    ],
)
def test_how_it_runs(auger: dict[str, str], lines: list[str], runs: bool, number: float) -> None:
    """By the last command, at the number that was said last; the same wherever the file is cut."""
    whole = followed("\n".join([*lines, ""]), auger).end
    assert (whole.auger_runs, whole.auger_number) == (runs, number)
    state = MachineState(relative=False)
    for line in lines:
        state = followed(f"{line}\n", auger, state).end
    assert (state.auger_runs, state.auger_number) == (runs, number)


@pytest.mark.parametrize(
    ("auger", "on", "off"),
    [(SPINDLE, "M3 S600", "M5"), (PIN, "M42 P5 S9", "M42 P5 S0"), (NAMED, "SET_AUGER SPEED=3", "SET_AUGER SPEED=0")],
)
@pytest.mark.parametrize("unit", ["path", "mm3"])
def test_where_it_is_off_the_path_lays_nothing(auger: dict[str, str], on: str, off: str, unit: str) -> None:
    """Every G1 along while it runs does, by the path; by E nothing hangs on it."""
    text = f"G1 X5 F900\n{on}\nG1 X10\nG0 X15\nG1 X20 E1\n{off}\nG1 X30\nG1 X40 E2\n"
    laying = followed(text, auger, unit=unit).moves.laying.tolist()
    assert laying == (
        [False, True, False, True, False, False] if unit == "path" else [False, False, False, True, False, True]
    )


def test_on_the_line_of_a_move_it_is_switched_before_that() -> None:
    """NISTIR 6556, section 3.8: the spindle, and only then the motion."""
    moves = followed("G1 X5 F900 M3 S600\nG1 X10\nG1 X15 M5\n", SPINDLE).moves
    assert moves.laying.tolist() == [True, True, False]


def test_at_no_speed_nothing_is_laid() -> None:
    """S0 stands still, whoever says it."""
    moves = followed("M3 S600\nG1 X5 F900\nS0\nG1 X9\nS50\nG1 X12\nM3 S0\nG1 X15\n", SPINDLE).moves
    assert moves.laying.tolist() == [True, False, True, False]


def test_it_stands_as_m101_and_m103() -> None:
    """Among all commands, so that who asks whether clay is switched finds it, with what the file has written."""
    follower = followed("M3 S600\nM5\nM106 S9\nM42 P3 S1\n", SPINDLE)
    assert follower.commands["code_x10"].tolist() == [1010, 1030, 1060, 420]
    assert [(said.code_x10, said.stands_as) for said in follower.as_written] == [(30, 1010), (50, 1030)]
    named = followed("SET_AUGER SPEED=3\n", NAMED)
    assert named.commands["code_x10"].tolist() == [1010]
    assert [tuple(said) for said in named.as_written] == [(0, "SET_AUGER", 1010)]


@pytest.mark.parametrize(
    ("auger", "line"),
    [
        (PIN, "M42 P5 S255 M280 P1 S9"),
        (PIN, "M42 P5 S255 G4 P100"),
        (SPINDLE, "M3 S600 G4 S2"),
        (SPINDLE, "M3 M106 S255"),
    ],
)
def test_whose_number_it_is_must_be_plain(auger: dict[str, str], line: str) -> None:
    """A letter stands once on a line (NIST RS274/NGC report, section 3.3.5)."""
    with pytest.raises(SourceError, match=r"can't be kept apart.*line of its own"):
        followed(f"{line}\n", auger)


@pytest.mark.parametrize("line", ["M5 G4 P200", "M3 G4 P200", "M5 M107", "M3 M8", "M3 S600 M8", "G1 X5 F900 M3 S600"])
def test_what_is_no_doubt_is_read(line: str) -> None:
    """The spindle has no P, and M8 no words at all."""
    assert followed(f"{line}\n", SPINDLE).end.auger_runs == line.startswith(("M3", "G1"))


def test_without_the_key_all_is_as_ever() -> None:
    """Nothing is followed, and every G1 lays by the path."""
    config = Config.model_validate({"clay": {"metering": {"unit": "path", "bead_height_mm": 2}}})
    block = read_block(Chunk(b"G1 X5 F900\nM3 S600\nG1 X10\nM5\nG1 X20\n", 0, 0))
    follower = Follower(block, MachineState(), config.machine, config.clay.metering)
    assert np.all(follower.moves.laying)
    assert follower.auger is None
    assert not follower.end.auger_runs


def test_a_flag_of_another_command_is_no_matter() -> None:
    """A P without a number says nothing of the auger."""
    assert followed("M3 S600\nM25 P\nM84 S\n", SPINDLE).end.auger_number == 600
