"""`gpost resume --from-height` on a wall that climbs all the time: what may be missing or laid twice."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest

from tests.cli.test_resume_checks import CONFIG, ok
from tests.resuming import ran, resume, summary, tail

POINTS, RADIUS_MM, RISE_MM, FLAT_MM = 48, 30, 2.0, 2.0
TURN_MM = POINTS * math.hypot(2 * RADIUS_MM * math.sin(math.pi / POINTS), RISE_MM / POINTS)
"""Of the helix: chords that climb (geometry)."""
PAPER_MM = 0.1
"""By so much a bound may be wider: nobody measures better (common practice, no source)."""


def helix(turns: int = 10) -> str:
    """A level ring at 2 mm, and turns that climb by 2 mm each, from x 180 mm on."""
    lines = ["G28", "G21", "G90", "M83", "G0 Z10 F900", "G0 X180 Y150 F3000", "G0 Z2 F900"]
    for at in range(1, POINTS * (turns + 1) + 1):
        angle, z = 2 * math.pi * at / POINTS, FLAT_MM + max(at - POINTS, 0) * RISE_MM / POINTS
        x, y = 150 + RADIUS_MM * math.cos(angle), 150 + RADIUS_MM * math.sin(angle)
        lines.append(f"G1 X{x:.4f} Y{y:.4f} Z{z:.5f} E4 F1200")
    return "\n".join(lines) + "\n"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder with a run of it."""
    found = tmp_path_factory.mktemp("climb")
    (found / "helix.gcode").write_text(helix())
    return ran(found, "helix.gcode", CONFIG)


@pytest.mark.parametrize("height_mm", [2.0, 2.7, 9.5, 9.99, 10.0, 10.01, 10.5, 10.9, 11.5, 19.2])
def test_the_joint_is_bounded_wherever_the_rim_was_measured(folder: Path, height_mm: float) -> None:
    """By hand: the rim is as high as the end of the bead, or up to one turn's climb lower.

    So the bead ends between that height and one turn above. What of it lies before the place where the rest
    begins is missing, what lies behind it is laid twice, at most.
    """
    name = f"rest{height_mm}"
    ok(resume(folder, "--from-height", height_mm, name=name))
    said = summary(folder, name)["resume"]
    first = next(line for line in tail(folder / f"{name}.gcode") if line.startswith("G1"))
    z_mm = float(first.split("Z")[1].split()[0]) - said["stops"][0]["shift_mm"]
    begins = (z_mm - FLAT_MM) / RISE_MM - 1 / POINTS
    earliest = (height_mm - FLAT_MM) / RISE_MM
    latest = earliest + 1
    missing_mm, twice_mm = (TURN_MM * max(turns, 0.0) for turns in (begins - earliest, latest - begins))
    wider_mm = PAPER_MM / RISE_MM * TURN_MM + 0.1
    assert said["joint_at_most"]
    assert twice_mm - 0.1 <= said["overlap_mm"] <= twice_mm + wider_mm
    if height_mm > 2.9:  # below it is a level ring, of which any part may be laid
        assert missing_mm - 0.1 <= said["gap_mm"] <= missing_mm + wider_mm
    assert "This wall climbs within its turns" in said["joint"]


@pytest.mark.parametrize("height_mm", [9.2, 9.99, 10.5, 10.9])
@pytest.mark.parametrize("off_mm", [-0.6, -0.3, 0.3, 0.6])
def test_a_wall_that_stands_otherwise_is_bounded_by_what_is_said(
    folder: Path, height_mm: float, off_mm: float
) -> None:
    """By hand: a wall that has sunk by so much ends so much higher by the file. It is said what each 0.1 mm does."""
    name = f"off{height_mm}{off_mm}"
    ok(resume(folder, "--from-height", height_mm, name=name))
    said = summary(folder, name)["resume"]
    [along] = [text for text in said["checks"] if text.startswith("Along the bead")]
    more_mm = float(re.search(r"lower ([\d.]+) mm more", along)[1]) * 10
    assert "within 0.1 mm of the file's heights" in along
    begins = height_mm - said["stops"][0]["shift_mm"]
    earliest_mm = height_mm - off_mm
    gap_mm, twice_mm = (TURN_MM / RISE_MM * mm for mm in (begins - earliest_mm, earliest_mm + RISE_MM - begins))
    lower_mm, higher_mm = max(-off_mm, 0.0), max(off_mm, 0.0)
    assert gap_mm <= said["gap_mm"] + higher_mm * more_mm + 0.5
    assert twice_mm <= said["overlap_mm"] + lower_mm * more_mm + 0.5
    assert more_mm == pytest.approx(TURN_MM / RISE_MM, abs=0.6)


@pytest.mark.parametrize("height_mm", [7.0, 11.0, 11.004])
def test_a_top_half_way_is_one_that_the_file_passes(folder: Path, height_mm: float) -> None:
    """Two turns begin equally near to it: it goes on with one of them, and the other is named."""
    ok(resume(folder, "--from-height", height_mm, name=f"half{height_mm}"))
    said = summary(folder, f"half{height_mm}")["resume"]
    assert abs(said["stops"][0]["shift_mm"]) == pytest.approx(RISE_MM / 2, abs=0.006)
    assert "the bead may have ended in the turn at" in said["joint"]


def test_the_rest_of_a_turn_above_which_nothing_is_left_is_told(folder: Path) -> None:
    """In the last turn no more can be laid twice than is left of it."""
    ok(resume(folder, "--from-height", 20.0, name="last"))
    assert summary(folder, "last")["resume"]["overlap_mm"] == pytest.approx(TURN_MM, abs=0.1)


def test_by_its_place_nothing_is_missing(folder: Path) -> None:
    """A quarter of a turn behind the seam the bead is found again: no gap, and nothing laid twice."""
    ok(resume(folder, "--from-height", 10.5, "--at", "150,180", name="placed"))
    said = summary(folder, "placed")["resume"]
    assert (said["gap_mm"], said["overlap_mm"], said["joint_at_most"]) == (0, 0, False)
    assert said["stops"][0]["shift_mm"] == pytest.approx(0, abs=0.01)
