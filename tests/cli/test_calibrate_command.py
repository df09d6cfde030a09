"""`gpost calibrate`: one kind of trial, the lines for the config, and how it fails."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from gpost.demo.gcode import class_pieces, write_piece

Gpost = Callable[..., Result]

CONFIGS = Path(__file__).parents[2] / "configs"
STUDIO = ("-c", CONFIGS / "studio.yaml")


def test_weighings(gpost: Gpost, tmp_path: Path) -> None:
    """Weighings on the command line and in a file are fitted together, with the config's density."""
    (tmp_path / "more.csv").write_text("E,grams\n3000,13.95\n")
    result = gpost(
        "calibrate", *STUDIO, "--weighing", "1000=4.65", "--weighing", "2000=9.3", "--weighings", "more.csv"
    )
    assert (result.exit_code, result.stderr) == (0, "")
    assert "0.0025 ml per unit of E, from 3 weighings" in result.stdout
    assert result.stdout.endswith("\nclay:\n  metering: {unit: ml, ml_per_unit: 0.0025}\n")


def test_weighings_as_json(gpost: Gpost) -> None:
    """The same as JSON; a density on the command line goes before the config's."""
    args = ("--weighing", "1000=5", "--weighing", "2000=10", "--density", "2", "--json")
    found = json.loads(gpost("calibrate", *STUDIO, *args).stdout)
    assert (found["ml_per_unit"], found["density_g_ml"], found["outliers"]) == (0.0025, 2.0, [])
    assert found["flow_percent"] == pytest.approx(96.2112750)


def test_strip(gpost: Gpost, tmp_path: Path) -> None:
    """The trial's file is written, and the command for its weighings is shown; never over another file."""
    args = ("calibrate", *STUDIO, "--strip", "strip.gcode", "--extrusions", "2", "--first", "M302 P1")
    result = gpost(*args)
    assert (result.exit_code, result.stderr) == (0, "")
    assert "--weighing 4200=GRAMS --weighing 8400=GRAMS" in " ".join(result.stdout.split())
    text = (tmp_path / "strip.gcode").read_text()
    assert text.count("\nM0\n") == 4
    again = gpost(*args)
    assert again.exit_code == 1
    assert "exists already" in again.stderr
    assert json.loads(gpost(*args, "--overwrite", "--json").stdout)["e"] == [4200, 8400]
    assert (tmp_path / "strip.gcode").read_text() == text


def test_colour_in_ml(gpost: Gpost) -> None:
    """Hold-up and stages from ml pushed, with lines for the config."""
    result = gpost("calibrate", *STUDIO, "--colour", "40=95", "--colour", "42=90")
    assert result.exit_code == 0
    assert "\ncartridge:\n  line_ml: 64.6\n  mixing_stages: 16.8\n" in result.stdout
    found = json.loads(gpost("calibrate", *STUDIO, "--colour", "40=95", "--json").stdout)
    assert found["trials"] == [{"began_ml": 40, "ended_ml": 95}]


def test_colour_by_height(gpost: Gpost, tmp_path: Path) -> None:
    """Heights of a printed piece become ml by its own file and recipe: plug flow is found again.

    After the recipe's pause blue shows when 55 ml have been pushed, at 112.6 mm; so a change seen from
    111.6 to 113.4 mm has begun before, and ended after that.
    """
    write_piece(tmp_path / "bottle.gcode", *class_pieces()["twisted-bottle"])
    args = ("--piece", "bottle.gcode", "--colour", "111.6=113.4", "--json")
    found = json.loads(gpost("calibrate", *STUDIO, "-c", CONFIGS / "two-colours.yaml", *args).stdout)
    assert found["trials"][0]["began_ml"] < 55 < found["trials"][0]["ended_ml"]
    assert found["line_ml"] == pytest.approx(55, abs=1)


def test_slump(gpost: Gpost) -> None:
    """A small cylinder that sinks gives a yield stress."""
    result = gpost("calibrate", *STUDIO, "--slump", "60=12")
    assert result.exit_code == 0
    assert "Yield stress" in result.stdout
    found = json.loads(gpost("calibrate", *STUDIO, "--slump", "60=12", "--json").stdout)
    assert found["yield_pa"] == found["yields_pa"][0]


@pytest.mark.parametrize(
    ("args", "words"),
    [
        ((), "say which trial"),
        (("--slump", "60=12", "--colour", "4=5"), "one kind alone"),
        (("--weighing", "60"), "is no pair of numbers"),
        (("--weighing", "1=nan"), "holds what is no number"),
        (("--weighing", "1=2=3"), "is no pair of numbers"),
        (("--weighing", "0=5"), "above 0"),
        (("--weighings", "none.csv"), "none.csv can't be read"),
        (("--colour", "9=4"), "ends after it began"),
        (("--slump", "60=60"), "less than the cylinder's height"),
        (("--weighing", "4=5", "--density", "0"), "--density"),
        (("--strip", "a.gcode", "--cup-mm", "999"), "can't stand 999 mm high"),
    ],
)
def test_wrong_usage(gpost: Gpost, args: tuple[str, ...], words: str) -> None:
    """Status 2 with a sentence, and nothing on standard output."""
    result = gpost("calibrate", *STUDIO, *args)
    assert (result.exit_code, result.stdout) == (2, "")
    assert words in result.stderr
