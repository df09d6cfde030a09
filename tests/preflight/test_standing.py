"""Where the file stands still by itself for longer than its rim may wait (`clay: rim_min`).

G4 stands for a time (NIST RS274/NGC report, section 3.5.4), M0 with a time by common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from gpost_plugins.fan import AirBand, Fan, FanSettings

from gpost.config.model import Config
from gpost.plan.plan import Plan
from gpost.preflight.checks import Preflight
from gpost.preflight.model import Finding
from gpost.read.source import Source
from gpost.read.words import read_block
from gpost.survey.build import SurveyBuilder

Check = Callable[..., dict[str, Finding]]
EIGHT = {"clay": {"rim_min": 8}}
RING = [f"G1 X{x} Y{y} E1" for x, y in ((140, 100), (140, 140), (100, 140), (100, 100))]
START = ["G28", "G90", "M83", "G1 X100 Y100 Z2 F1200"]


def between(*lines: str, start: tuple[str, ...] = ()) -> str:
    """Two rings with lines between them, from line 8 on (counted from 0) where nothing more stands before."""
    return "\n".join([*START, *start, *RING, *lines, "G1 Z4", *RING, ""])


@pytest.mark.parametrize(
    ("lines", "first_line", "said"),
    [
        (["G4 S900"], 8, "stands still for 15 min in the middle of the wall"),
        (["G4 P481000"], 8, "stands still for 8.02 min"),
        (["M0 S900 Look at the rim"], 8, "stands still for 15 min"),
        (["G1 X120 M0 S600"], 8, "stands still for 10 min"),
        # five and four minutes, with a move that goes nowhere between them
        (["G4 S300", "G1 X100", "M0 S240"], 8, "stands still for 9 min"),
        (["G1 Z3", "G4 S500", "G1 Z3.5", "G4 S600"], 9, "stands still for up to 10 min"),
    ],
)
def test_a_long_one_is_told(check: Check, lines: list[str], first_line: int, said: str) -> None:
    """How long, how long the rim may wait, and what to do."""
    finding = check(between(*lines), EIGHT)["cold-rim"]
    assert (finding.severity, finding.line) == ("warning", first_line)
    assert finding.count == (2 if "up to" in said else 1)
    assert said in finding.text
    assert "the rim may wait for 8 min (`rim_min`): make it shorter" in finding.text


@pytest.mark.parametrize(
    "text",
    [
        between("G4 S480"),
        # the machine moves on in between
        between("G4 S300", "G1 X101", "G4 S300"),
        # waits for the potter, who is told how long it may last
        between("M0"),
        # before there is a wall, and after the last of it
        "G4 S900\n" + between(),
        between() + "G4 S900\n",
    ],
)
def test_what_harms_no_rim_is_not(check: Check, text: str) -> None:
    """Nor is it where the config doesn't say how long a rim may wait."""
    assert "cold-rim" not in check(text, EIGHT)
    assert "cold-rim" not in check(between("G4 S900"))


@pytest.mark.parametrize(
    ("start", "before", "percent", "blown"),
    [
        ("M106 S128", [], None, True),
        ("M106 S128", ["M107"], None, False),
        ("M106 S128", [], 0, False),
        ("M107", [], 50, True),
    ],
)
def test_a_blower_that_is_on_is_told_too(
    check: Check, start: str, before: list[str], percent: float | None, blown: bool
) -> None:
    """By the file's commands, or by the step that has taken them out."""
    bands = (AirBand(from_layer=1, level_percent=percent or 0),)
    steps = [] if percent is None else [Fan(FanSettings(bands=bands))]
    finding = check(between(*before, "G4 S900", start=(start,)), EIGHT, steps)["cold-rim"]
    assert ("with the blower on, which dries it sooner" in finding.text) == blown


def found(path: Path, chunk_bytes: int) -> list[Finding]:
    """What is found in a file that is read in pieces of so many bytes."""
    clay = {"rim_min": 8, "metering": {"unit": "ml", "ml_per_unit": 1}}
    config = Config.model_validate({"clay": clay})
    preflight, source = Preflight(config), Source(path, chunk_bytes=chunk_bytes)
    builder = SurveyBuilder(source, config, [preflight.observe])
    for chunk in source.chunks():
        builder.add(read_block(chunk))
    return [each for each in preflight.findings(Plan(builder.finish(), config)) if each.name == "cold-rim"]


def test_where_blocks_are_cut_can_t_be_seen(tmp_path: Path) -> None:
    """Five lines that stand for two minutes each, and a long one behind a move, at any cut."""
    path = tmp_path / "pot.gcode"
    path.write_text(between(*["G4 S120"] * 5, "G1 X101", "G4 S30", "G4 S700", "G1 X102", "G4 S2"))
    whole = found(path, 10_000)
    assert (whole[0].line, whole[0].count) == (8, 2)
    assert all(found(path, size) == whole for size in (8, 16, 24, 33, 60, 100))
