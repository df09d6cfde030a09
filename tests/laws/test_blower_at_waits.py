"""Law: if the blower is to rest it is off at every wait, the file's own too, and else as the plan has it."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from gpost.config.model import Config
from gpost.plan.intentions import Air, AirInPause, Intention, Pause, Silence
from gpost.plan.plan import Plan
from gpost.read.source import Source
from gpost.spot import Spot
from gpost.survey.build import survey_source
from gpost.write.rewriter import Rewriter
from tests.reference.interpreter import run
from tests.reference.outputs import move_differences

RINGS = [
    line
    for z in range(2, 8)
    for line in (f"G1 X100 Y140 Z{z} F1500", f"G1 X180 E{z}1", f"G1 Y180 E{z}2", f"G1 X100 E{z}3")
]
WAITS = ("M0", "M1 look", "M25", "M226", "M600", "m00 (look)", "N7 M0", "BREATHE")
CONFIG = Config.model_validate(
    {"machine": {"pause": {"commands": ["BREATHE"]}, "allow_commands": ["BREATHE"]}}
)
LEVELS = {0.0: "M107", 0.4: "M106 S102", 1.0: "M106 S255"}
"""Each level as it is sent: 40 % of 255 is 102."""


def printed(
    lines: Sequence[str],
    wishes: Sequence[Intention],
    path: Path,
    chunk_bytes: int,
    config: Config = CONFIG,
) -> list[str]:
    """Lines of the output."""
    path.write_text("\n".join([*lines, ""]))
    source = Source(path, chunk_bytes=chunk_bytes)
    plan = Plan(survey_source(source, config), config).adding("test", wishes)
    file = io.BytesIO()
    Rewriter(source, plan, "(test)").write(file)
    return file.getvalue().decode().splitlines()


def is_wait(line: str) -> bool:
    """Whether a line is one at which the machine waits."""
    return line in WAITS


def is_bead(line: str) -> bool:
    """Whether a line is one of the rings'."""
    return line.startswith("G1") and "E" in line and "Z" not in line


def blown(lines: Sequence[str]) -> list[tuple[str, str]]:
    """Each wait and each bead, with what was sent last to the blower by then."""
    found, sent = list[tuple[str, str]](), "M107"
    for line in lines:
        if line.startswith(("M106", "M107")):
            sent = line
        if is_wait(line) or is_bead(line):
            found.append((line, sent))
    return found


@given(
    waits=st.dictionaries(st.integers(0, len(RINGS)), st.sampled_from(WAITS), min_size=1, max_size=5),
    airs=st.lists(st.tuples(st.integers(0, 40), st.sampled_from(sorted(LEVELS))), max_size=5),
    paused=st.one_of(st.none(), st.integers(2, 25)),
    chunk_bytes=st.sampled_from([40, 150, 1 << 18]),
)
@example(waits={5: "M0", 6: "M600"}, airs=[(3, 0.4), (7, 1.0), (8, 0.4)], paused=None, chunk_bytes=40)
@example(waits={5: "M0"}, airs=[(3, 0.4), (7, 0.0)], paused=7, chunk_bytes=1 << 18)
@example(waits={len(RINGS): "M0"}, airs=[(3, 0.4)], paused=None, chunk_bytes=1 << 18)
def test_off_at_every_wait_and_as_planned_at_every_bead(
    tmp_path_factory: pytest.TempPathFactory,
    waits: dict[int, str],
    airs: list[tuple[int, float]],
    paused: int | None,
    chunk_bytes: int,
) -> None:
    """Whatever stands beside a wait, and wherever the file is cut; the machine goes where the file sends it."""
    lines = ["G28", *RINGS]
    for at in sorted(waits, reverse=True):
        lines.insert(1 + at, waits[at])
    wishes: list[Intention] = [Air(Spot(min(line, len(lines))), level) for line, level in airs]
    if paused is not None:
        wishes.append(Pause(Spot(paused), "refill", "empty", "Refill"))
    output = printed(
        lines, [AirInPause(True), *wishes], tmp_path_factory.mktemp("air") / "a.gcode", chunk_bytes
    )
    planned = []
    for number in range(len(lines)):
        level = [level for at, level in sorted(airs, key=lambda air: air[0]) if at <= number]
        planned.append(LEVELS[level[-1]] if level else "M107")
    beads = [each for each in zip(lines, planned, strict=True) if is_bead(each[0])]
    assert [each for each in blown(output) if each[0] in lines and is_bead(each[0])] == beads
    at_waits = [sent for line, sent in blown(output) if is_wait(line)]
    assert at_waits == ["M107"] * (len(waits) + (paused is not None))


def test_the_same_as_the_machine_sees_it(tmp_path: Path) -> None:
    """By the reference interpreter all moves are the file's own, and the level is where the file had it."""
    lines = ["G28", "M106 S90.5", *RINGS[:8], "M0", *RINGS[8:16], "M107", "M600", *RINGS[16:]]
    output = printed(lines, [AirInPause(True)], tmp_path / "a.gcode", 60)
    before, after = (run("\n".join([*each, ""]).encode()) for each in (lines, output))
    pairs = zip(*([event for event in each if event.kind == "move"] for each in (before, after)), strict=True)
    assert not any(move_differences(mine, theirs) for mine, theirs in pairs)
    assert [text for text in output if not text.startswith(";")] == [
        *lines[:10],
        "M107",
        "M0",
        "M106 S90.5",
        *lines[11:],
    ]


def test_without_anything_to_switch_nothing_is_changed(tmp_path: Path) -> None:
    """No blower in file or plan, none that is to rest, or a wait that is silenced: not a byte more."""
    lines = ["G28", *RINGS[:8], "M0", *RINGS[8:]]
    assert printed(lines, [AirInPause(True)], tmp_path / "a.gcode", 60) == lines
    blowing = [lines[0], "M106 S200", *lines[1:]]
    assert printed(blowing, [AirInPause(False)], tmp_path / "a.gcode", 60) == blowing
    quiet = Silence(np.array([10]), "no waiting")
    assert not [
        line
        for line in printed(blowing, [AirInPause(True), quiet], tmp_path / "a.gcode", 60)
        if line.startswith("M107")
    ]


PINS = [
    # (on, off, the file's lines that let it blow and stop it, and two that are none of the blower's)
    ("M42 P4 S<level>", "M42 P4 S0", "M42 S0.5 P4", "M42 P4 S0", "M42 P5 S1", "M42 P5 S0"),
    (
        "M42 P4 S0",
        "M42 P4 S255",
        "M42 P4 S0",
        "M42 P4 S255",
        "M42 P14 S0",
        "M42 S255",
    ),  # a relay turned about
    ("M3 S<level>", "M5", "M3 S0.5", "M5", "M42 P4 S1", "M42 P4 S0"),
    ("M126", "M127", "M126", "M127", "M126 P1", "M127 P1"),
    ("M8", "M9", "M8", "M9", "M7", "M5"),
    (
        "SET_AIR AT=air VALUE=<level>",
        "SET_AIR AT=air VALUE=0",
        "set_air value=0.5 at=air",
        "SET_AIR AT=air VALUE=0.0",
        "SET_AIR AT=light VALUE=1",
        "SET_AIR AT=airlock VALUE=0",
    ),
    ("AIR_ON", "AIR_OFF", "AIR_ON", "AIR_OFF", "AIR_ONLY", "AIR"),
]


@pytest.mark.parametrize(("on", "off", "blows", "stops", "other", "other_off"), PINS)
@pytest.mark.parametrize("chunk_bytes", [40, 1 << 18])
def test_a_blower_on_a_pin_rests_as_any_other(
    tmp_path: Path, on: str, off: str, blows: str, stops: str, other: str, other_off: str, chunk_bytes: int
) -> None:
    """The file's own commands for the pin that the config names are its blower's; those of other pins aren't."""
    words = {
        "air": {"on": on, "off": off, "full": 1, "decimals": 2},
        "allow_commands": ["M3", "M5", "M8", "M9", "M126", "M127", "SET_AIR", "AIR_ON", "AIR_OFF"],
    }
    config = Config.model_validate({"machine": words})
    lines = [
        "G28",
        other,
        blows,
        *RINGS[:8],
        "M0",
        *RINGS[8:16],
        stops,
        "M600",
        *RINGS[16:20],
        other_off,
        "M0",
    ]
    lines += [*RINGS[20:]]
    again = on.replace("<level>", "0.5")
    wait = 3 + 8
    expected = [*lines[:wait], off, "M0", again, *lines[wait + 1 :]]
    output = printed(lines, [AirInPause(True)], tmp_path / "a.gcode", chunk_bytes, config)
    assert [text for text in output if not text.startswith(";")] == expected


def test_both_blowers_rest(tmp_path: Path) -> None:
    """Where the file has M106 and the pin blow, both are switched off, and both on as they were."""
    config = Config.model_validate({"machine": {"air": {"on": "M42 P4 S<level>", "off": "M42 P4 S0"}}})
    lines = ["G28", "M106 S90", "M42 P4 S30", *RINGS[:8], "M0", *RINGS[8:]]
    output = printed(lines, [AirInPause(True)], tmp_path / "a.gcode", 60, config)
    inserted = ["M107", "M42 P4 S0", "M0", "M106 S90", "M42 P4 S30"]
    assert [text for text in output if not text.startswith(";")] == [*lines[:11], *inserted, *lines[12:]]


@pytest.mark.parametrize("chunk_bytes", [40, 1 << 18])
def test_blowers_by_number_rest_each_by_its_own(tmp_path: Path, chunk_bytes: int) -> None:
    """M106 with a P is another blower (common practice); P1 is the studio's here, P0 the one without a P."""
    words = {"air": {"on": "M106 P1 S<level>", "off": "M107 P1"}}
    config = Config.model_validate({"machine": words})
    start = ["G28", "M106 P2 S90", "M106 P1 S30", "M106 P3 S9", "M106 P0 S50", "M107 P3"]
    lines = [*start, *RINGS[:8], "M0", *RINGS[8:16], "M106 P1 S0", "M107", "M107 P2", "M600", *RINGS[16:]]
    output = printed(lines, [AirInPause(True)], tmp_path / "a.gcode", chunk_bytes, config)
    off, on = ["M107", "M106 P2 S0", "M107 P1"], ["M106 S50", "M106 P2 S90", "M106 P1 S30"]
    assert [text for text in output if not text.startswith(";")] == [
        *lines[:14],
        *off,
        "M0",
        *on,
        *lines[15:],
    ]
