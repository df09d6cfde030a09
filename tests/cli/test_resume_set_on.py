"""`gpost resume --lost z --set-on bed`: the height of what lies at the park, bare bed or slab."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.test_resume_checks import CONFIG, checks, ok, opening, rings, tower
from tests.resuming import resume

ON_SLAB = CONFIG.replace("steps: [", "steps: [{slab: {thickness_mm: 8, SIZE, x_mm: 150, y_mm: 150}}, ")
"""A tower of 40 by 40 mm round x 150, y 150 mm on a slab 8 mm thick; the park lies at x 15, y 15 mm."""
UNDER_PARK = "x_size_mm: 280, y_size_mm: 280"
"""From 10 to 290 mm."""
ROUND = "diameter_mm: 299"
"""A circle: the park, 191 mm from its middle (geometry), lies beside it, though inside the square round it."""
BESIDE = "x_size_mm: 200, y_size_mm: 200"


@pytest.mark.parametrize(
    ("size", "paper_above_mm", "on", "shown"),
    [
        (UNDER_PARK, "8.1", "the slab", "Tip on slab: go on"),
        (ROUND, "0.1", "the bare bed", "Tip on bed: go on"),
        (BESIDE, "0.1", "the bare bed", "Tip on bed: go on"),
    ],
)
def test_the_nozzle_is_taken_for_as_high_as_what_it_is_set_on(
    tmp_path: Path, size: str, paper_above_mm: str, on: str, shown: str
) -> None:
    """A sheet of paper, 0.1 mm, over it: that is what the machine is told, and what the page says."""
    folder = tower(tmp_path, rings(), ON_SLAB.replace("SIZE", size))
    ok(resume(folder, "--from-layer", 5, "--lost", "z", "--set-on", "bed"))
    lines = opening(folder)
    assert [line for line in lines if line.startswith("G92 Z")] == [f"G92 Z{paper_above_mm}"]
    assert f"M117 {shown}" in lines
    height = float(paper_above_mm) - 0.1
    assert f"x 15.0, y 15.0 mm, wiped clean: the height of {on} there is {height:.2f} mm" in checks(folder)
    assert f"the tip must be on {on.replace('bare ', '')}:" in " ".join(lines)


@pytest.mark.parametrize("args", [["--rehearse"], ["--lost", "all"]])
def test_it_is_shown_on_a_small_display(tmp_path: Path, args: list[object]) -> None:
    """Of 20 letters."""
    homes = ON_SLAB.replace("SIZE", UNDER_PARK).replace("machine:\n", "machine:\n  home_with_piece: xy\n")
    folder = tower(tmp_path, rings(), homes)
    ok(resume(folder, "--from-layer", 5, "--lost", "z", *args, "--set-on", "bed", name="rehearsal"))
    said = next(line for line in opening(folder, "rehearsal") if line.startswith("M117 "))
    assert len(said.removeprefix("M117 ")) <= 20
    assert "slab" in said
    assert "homes XY" in said or "REHEARSAL" in said


def test_a_slab_elsewhere_changes_no_rim(tmp_path: Path) -> None:
    """The rim is as high as the file has it: four layers of 2 mm on 8 mm of slab and 0.1 mm of gap."""
    folder = tower(tmp_path, rings(), ON_SLAB.replace("SIZE", UNDER_PARK))
    ok(resume(folder, "--from-layer", 5, "--lost", "z"))
    assert "G92 Z16.2" in opening(folder)  # and a sheet of paper
    assert "whose height is 16.10 mm" in checks(folder)
