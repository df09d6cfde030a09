"""What of the file's own commands is sent again where a stopped print goes on, and what is not."""

from __future__ import annotations

from pathlib import Path

import pytest

from gpost.config.model import Config
from gpost.plan.plan import Plan
from gpost.plan.setup import MOST, set_up_of, zero_moved
from gpost.read.source import Source
from gpost.spot import Spot
from gpost.survey.build import survey_source

WALL = "G1 X10 E5 F900\nG1 Y10 E10\nG1 X0 E15\nG1 Y0 E20\n"


def planned(folder: Path, *lines: str) -> tuple[Plan, Spot]:
    """A file that begins with these lines, and the place behind them."""
    path = folder / "pot.gcode"
    path.write_text("\n".join([*lines, ""]) + WALL)
    config = Config()
    return Plan(survey_source(Source(path), config), config), Spot(len(lines))


@pytest.mark.parametrize(
    ("line", "again"),
    [
        ("M201 X500 Y500", ["M201 X500 Y500"]),
        ("N7 M92 E420.5 ; steps", ["M92 E420.5"]),
        ("M420 S1 Z10", ["M420 S1 Z10"]),
        ("M302 P1", ["M302 P1"]),
        ("M906 E700", ["M906 E700"]),
    ],
)
def test_what_sets_a_value_is_sent_again(tmp_path: Path, line: str, again: list[str]) -> None:
    """Steps, pace, currents, levelling in use: saying it twice changes nothing."""
    plan, spot = planned(tmp_path, line)
    assert list(set_up_of(plan, spot).again) == again


@pytest.mark.parametrize(
    "line", ["G28", "G29", "M104 S200", "M190 S60", "M0", "M206 X5", "M851 Z-1", "M502", "M500", "T1", "M80"]
)
def test_what_moves_heats_waits_or_shifts_is_not(tmp_path: Path, line: str) -> None:
    """It is named among what is left out."""
    plan, spot = planned(tmp_path, line)
    found = set_up_of(plan, spot)
    assert (found.again, found.left_out) == ((), (line.split()[0],))


def test_of_the_same_the_last_counts_and_modes_come_from_the_state(tmp_path: Path) -> None:
    """Nothing is sent twice; units, offsets, factors and air are known from the place itself."""
    lines = ["G21", "M201 X500", "M106 S9", "M201 Y400", "M201 X500", "M220 S90", "G92 E0", "G28", "G28 X"]
    plan, spot = planned(tmp_path, *lines)
    found = set_up_of(plan, spot)
    assert found.again == ("M201 Y400", "M201 X500")
    assert found.left_out == ("G28 (2)",)


def test_lengths_said_in_inches_are_left_out_and_named(tmp_path: Path) -> None:
    """A rest is in millimetres: a controller would take steps and speeds by length for others there. What is no length goes on."""
    plan, spot = planned(tmp_path, "M92 X80", "G20", "M92 X2032", "M203 X10", "M906 E700", "M302 P1", "G21", "M204 S500")
    found = set_up_of(plan, spot)
    assert found.again == ("M92 X80", "M906 E700", "M302 P1", "M204 S500")
    assert found.left_out == ("M92", "M203")


def test_of_very_many_the_last_ones_are_sent_and_the_others_named(tmp_path: Path) -> None:
    """Files that set their pace at every turn have more of them than lines that are sent again."""
    lines = ["M92 E400", *["M204 S500", "M204 S800"] * 60, "M204 S300", "M906 E700"]
    plan, spot = planned(tmp_path, *lines)
    assert set_up_of(plan, spot) == (("M92 E400", "M204 S500", "M204 S800", "M204 S300", "M906 E700"), ())
    plan, spot = planned(tmp_path, "M92 E400", *(f"M204 S{pace}" for pace in range(100, 100 + MOST)))
    found = set_up_of(plan, spot)
    assert len(found.again) == MOST
    assert found.again[-1] == f"M204 S{99 + MOST}"
    assert found.left_out == ("M92",)


@pytest.mark.parametrize(
    ("line", "moved"), [("G92 E0", False), ("G92 Z5", True), ("G92.1", True), ("G92", True), ("M117 G92 Z5", False)]
)  # fmt: skip
def test_a_zero_that_moves_later_is_seen(tmp_path: Path, line: str, moved: bool) -> None:
    """After the place and before the last bead; E alone is none."""
    path = tmp_path / "pot.gcode"
    path.write_text(f"G92 Z0\n{WALL}{line}\n{WALL}")
    config = Config()
    plan = Plan(survey_source(Source(path), config), config)
    assert zero_moved(plan, Spot(1)) == (5 if moved else None)
