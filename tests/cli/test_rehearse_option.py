"""`--rehearse`: what the potter gets, by what it is known, and what is refused."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest
from click.testing import Result

from tests.reference.interpreter import run
from tests.shipped_schema import published_schema

Gpost = Callable[..., Result]


def test_it_is_marked_in_its_first_line_and_in_the_summary(run_vase: Gpost, tmp_path: Path) -> None:
    """Nobody loads clay for it: no amounts, no wait to come to; and the JSON says how far up it is."""
    result = run_vase("-o", "vase-rehearsal.gcode", "--rehearse", "20", "--json", "vase.json")
    assert result.exit_code == 0, result.output
    written = (tmp_path / "vase-rehearsal.gcode").read_bytes()
    first, second = written.splitlines()[:2]
    assert first.startswith(b"; gpost wrote this file (")
    assert b", a REHEARSAL 20 mm up: load no clay, from vase.gcode" in first
    assert second == b"M117 Rehearsal 20 mm up, no clay"
    text = " ".join(result.stdout.split())
    assert "This is a REHEARSAL 20 mm up: load no clay." in text
    assert "To load" not in text
    assert " ml" not in text
    assert "When to be at the machine" not in text
    summary = json.loads((tmp_path / "vase.json").read_text())
    jsonschema.Draft202012Validator(published_schema()).validate(summary)
    assert (summary["rehearsal_mm"], summary["clay_ml"], summary["cartridges"]) == (20.0, 0.0, [])
    assert all(event.e_delta_mm == 0 for event in run(written) if event.kind == "move")


def test_its_summary_has_no_card(run_vase: Gpost, tmp_path: Path) -> None:
    """Nothing comes of it to weigh or time; that of the real one ends with a card."""
    run_vase("-o", "vase-rehearsal.gcode", "--rehearse", "20", "--summary", "rehearsal.txt")
    run_vase("-o", "vase-run.gcode", "--summary", "run.txt")
    assert "Card for the print" not in (tmp_path / "rehearsal.txt").read_text()
    assert "Card for the print" in (tmp_path / "run.txt").read_text()


def test_the_height_may_be_left_out(run_vase: Gpost, tmp_path: Path) -> None:
    """30 mm, and what follows is another option."""
    assert run_vase("--rehearse", "-o", "rehearsal.gcode").exit_code == 0
    assert b"REHEARSAL 30 mm up" in (tmp_path / "rehearsal.gcode").read_bytes().splitlines()[0]


@pytest.mark.parametrize(
    ("args", "status", "sentence"),
    [
        (("-o", "vase-run.gcode"), 2, "say `rehearsal` in it, such as vase-run-rehearsal.gcode"),
        (("--in-place",), 2, "a rehearsal can't take the sliced file's place"),
    ],
)
def test_it_can_t_be_mistaken_for_the_real_one(
    run_vase: Gpost, tmp_path: Path, args: tuple[str, ...], status: int, sentence: str
) -> None:
    """The machine shows a name and nothing else."""
    result = run_vase(*args, "--rehearse")
    assert (result.exit_code, sentence in " ".join(result.stderr.split())) == (status, True), result.stderr
    assert not (tmp_path / "vase-run.gcode").exists()


def test_the_ceiling_is_checked_with_the_raise(run_vase: Gpost, gpost: Gpost, tmp_path: Path) -> None:
    """By `run` and by `check`, in the same words; nothing is written."""
    result = run_vase("-o", "rehearsal.gcode", "--rehearse", "5000")
    checked = gpost("check", "vase.gcode", "-c", "studio.yaml", "--steps-from", "steps", "--rehearse", "5000")
    for each in (result, checked):
        assert each.exit_code == 1
        assert "5000 mm up the piece would reach" in " ".join(each.output.split())
    assert not (tmp_path / "rehearsal.gcode").exists()


def test_it_is_not_done_again_and_not_logged(run_vase: Gpost, gpost: Gpost) -> None:
    """A rehearsal is an output like any other; and nothing was printed in it."""
    assert run_vase("-o", "rehearsal.gcode", "--rehearse", "--json", "rehearsal.json").exit_code == 0
    again = gpost("run", "rehearsal.gcode", "-c", "studio.yaml", "--steps-from", "steps", "-o", "out.gcode")
    assert (again.exit_code, "already written by gpost" in again.stderr) == (1, True)
    logged = gpost("log", "add", "rehearsal.json", "-c", "studio.yaml", "--grams", "100")
    assert (logged.exit_code, "the summary of a rehearsal" in logged.stderr) == (2, True)


def test_without_the_option_nothing_is_a_rehearsal(run_vase: Gpost, tmp_path: Path) -> None:
    """The JSON says null."""
    assert run_vase("-o", "out.gcode", "--json", "out.json").exit_code == 0
    assert json.loads((tmp_path / "out.json").read_text())["rehearsal_mm"] is None


@pytest.mark.parametrize("height", ["0", "-5", "nan", "inf", "vase.gcode"])
def test_a_height_is_a_number_above_0(run_vase: Gpost, height: str) -> None:
    """Anything else is refused before the file is read."""
    assert run_vase("-o", "rehearsal.gcode", f"--rehearse={height}").exit_code == 2
