"""`gpost resume` of a print that has stopped before."""

from __future__ import annotations

from pathlib import Path

import pytest

from gpost.demo.gcode import Piece
from tests.cli.test_resume_command import CONFIG
from tests.resuming import ran, resume, summary, tail, vase_ran
from tests.sliced import write_piece


def lines_of(job: Path, name: str) -> list[str]:
    """The lines of a file in the folder."""
    return (job / f"{name}.gcode").read_text().splitlines()


def starts(job: Path, name: str) -> list[int]:
    """The lines, counted from 1, on which it calls the potter."""
    found = enumerate(lines_of(job, name), 1)
    return [at for at, line in found if line.startswith("; gpost: remind: ")]


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


def test_a_pause_that_came_at_the_second_start_comes_once(tmp_path: Path) -> None:
    """It was due where the first rest began, and has been when that stops just behind it."""
    job = vase_ran(tmp_path, CONFIG + "  - remind: {at_heights_mm: [12, 40], how: pause, text: Look}\n")
    assert resume(job, "--from-line", starts(job, "print")[0]).exit_code == 0
    lines, first = lines_of(job, "rest"), starts(job, "rest")[0]
    wait = lines.index("M0", first) + 1
    for line, comes in ((first, 2), (wait, 2), (wait + 1, 1), (lines.index("; gpost: remind ends") + 1, 1)):
        result = resume(job, "--from-line", line, "--overwrite", of="rest", name="again")
        assert result.exit_code == 0, result.output
        assert len(starts(job, "again")) == comes


def test_of_two_equal_pauses_at_one_place_each_comes_once(tmp_path: Path) -> None:
    """Two heights in one layer, and nothing that keeps calls apart."""
    own = "  - remind: {at_heights_mm: [12.5, 13, 40], how: pause, text: Look, clear_mm: 0}\n  - tally\n"
    job = vase_ran(tmp_path, CONFIG + own)
    lines, (first, second, last) = lines_of(job, "print"), starts(job, "print")
    for line, comes in ((first, 3), (second - 1, 2), (second, 2), (last - 1, 1)):
        result = resume(job, "--from-line", line, "--overwrite")
        assert result.exit_code == 0, result.output
        assert len(starts(job, "rest")) == comes
    assert lines[second - 2] == "; gpost: remind ends", "they are at one place"


@pytest.mark.parametrize("run_out_ml", [0, 2])
def test_of_an_earlier_start_only_what_was_run_out_may_be_missing(tmp_path: Path, run_out_ml: int) -> None:
    """Nothing is loaded where a print goes on, and nobody was called for anything."""
    job = vase_ran(tmp_path, CONFIG)
    assert resume(job, "--from-layer", 9, "--left-ml", 71.5, "--run-out", run_out_ml).exit_code == 0
    begins = len(lines_of(job, "rest")) - len(tail(job / "rest.gcode"))
    result = resume(job, "--from-line", begins, of="rest", name="again")
    assert result.exit_code == 0, result.output
    said = [text for text in summary(job, "again")["resume"]["checks"] if "is not repeated" in text]
    assert said == [
        "The pause that is due there is not repeated (resume: 2 ml to run out; if they have not been yet, say "
        "--came-ml 0 --run-out 2): do now what it was for."
    ] * bool(run_out_ml)


@pytest.mark.parametrize("first", [["--from-layer", 9], ["--from-layer", 9, "--shift", 16.4], ["--from-height", 15.5, "--at", "150,175"]])
@pytest.mark.parametrize("where", ["first line", "wait", "clock"])
def test_a_start_that_nobody_let_go_is_begun_anew(tmp_path: Path, first: list[object], where: str) -> None:
    """Up to its wait nothing has moved: what is run out then is still due, and the same clay is in it.

    Line by line it is the same file again but for its first comment, and for how high it is lifted, since the
    nozzle may stand on the way up by now.
    """
    job = vase_ran(tmp_path, CONFIG)
    asked = ["--left-ml", 71.5, "--run-out", 2, "--hose-holds", "white"]
    assert resume(job, *first, *asked).exit_code == 0
    lines = lines_of(job, "rest")
    wait = lines.index("M0") + 1
    again = {"first line": ["--from-line", 1], "wait": ["--from-line", wait], "clock": ["--from-clock", "0:00"]}[where]
    result = resume(job, *again, of="rest", name="again")
    assert result.exit_code == 0, result.output
    mine = lines_of(job, "again")
    assert tail(job / "again.gcode") == tail(job / "rest.gcode")
    assert [one for one in mine[2:] if not one.startswith("G0 Z")] == [one for one in lines[2:] if not one.startswith("G0 Z")]
    before, after = summary(job, "rest"), summary(job, "again")
    assert after["cartridges"] == before["cartridges"]
    assert after["clay_ml"] == before["clay_ml"]
    assert not any("not repeated" in text for text in after["resume"]["checks"])
    assert resume(job, "--from-line", wait + 1, of="rest", name="let-go").exit_code == 0
    assert any("2 ml to run out; if they have not been yet" in text for text in summary(job, "let-go")["resume"]["checks"])
    for of in ("rest", "again"):  # and what comes after it is told alike
        assert resume(job, "--from-layer", 20, of=of, name=f"last-of-{of}").exit_code == 0
    last, of_again = summary(job, "last-of-rest"), summary(job, "last-of-again")
    assert of_again["cartridges"] == last["cartridges"]
    assert tail(job / "last-of-again.gcode") == tail(job / "last-of-rest.gcode")


def test_what_is_run_out_at_such_a_start_may_be_said_anew(tmp_path: Path) -> None:
    """In the place of what was due; of clay that is too old meanwhile the whole hose."""
    job = vase_ran(tmp_path, CONFIG)
    assert resume(job, "--from-layer", 9, "--left-ml", 71.5, "--run-out", 2).exit_code == 0
    for said, ml in ((["--run-out", 3], 3), (["--run-out", 0], 0), (["--waited", 600], 12), ([], 2)):
        result = resume(job, "--from-line", 2, *said, "--overwrite", of="rest", name="again")
        assert result.exit_code == 0, result.output
        assert [stop["run_out_ml"] for stop in summary(job, "again")["resume"]["stops"]] == [0, ml]
