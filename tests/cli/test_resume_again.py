"""`gpost resume` of a print that has stopped before."""

from __future__ import annotations

from pathlib import Path

import pytest

from gpost.demo.gcode import Piece
from tests.cli.test_resume_command import CONFIG
from tests.resuming import ran, resume, tail
from tests.sliced import write_piece


def lines_of(job: Path, name: str) -> list[str]:
    """The lines of a file in the folder."""
    return (job / f"{name}.gcode").read_text().splitlines()


@pytest.mark.parametrize("lost", [[], ["--lost", "z"], ["--lost", "all"]])
@pytest.mark.parametrize("homes", [False, True])
def test_a_line_of_a_rest_is_found_behind_all_that_it_begins_with(
    tmp_path: Path, lost: list[str], homes: bool
) -> None:
    """However many lines that was: what is set up again, the place that is taken; it may home only now."""
    write_piece(tmp_path / "vase.gcode", Piece(height_mm=50, radius_mm=25, segments=36, base_layers=1))
    own = "M201 X500\nM203 X200\nM92 E420\nM906 E700\n"
    (tmp_path / "vase.gcode").write_text(own + (tmp_path / "vase.gcode").read_text())
    job = ran(tmp_path, "vase.gcode", CONFIG)
    assert resume(job, "--from-layer", 9, *lost).exit_code == 0
    first = tail(job / "rest.gcode")
    if homes:
        config = (job / "studio.yaml").read_text()
        (job / "studio.yaml").write_text(config.replace("machine:", "machine:\n  home_with_piece: xy"))
    begins = len(lines_of(job, "rest")) - len(first)
    for place in (2, 50):
        result = resume(job, "--from-line", begins + place, "--overwrite", of="rest", name="again")
        assert result.exit_code == 0, result.output
        assert tail(job / "again.gcode") == first[place - 1 :]
