"""`gpost calibrate`: one kind of trial, the lines for the config, and how it fails."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from gpost.demo.gcode import class_pieces
from tests.sliced import write_piece

Gpost = Callable[..., Result]

CONFIGS = Path(__file__).parents[2] / "configs"
STUDIO = ("-c", CONFIGS / "studio.yaml")


def test_weighings(gpost: Gpost, tmp_path: Path) -> None:
    """Weighings on the command line and in a file are fitted together, with the config's density."""
    (tmp_path / "more.csv").write_text("E,grams\n12000,55.8\n16000,74.4\n")
    result = gpost(
        "calibrate", *STUDIO, "--weighing", "4000=18.6", "--weighing", "8000=37.2", "--weighings", "more.csv"
    )
    assert (result.exit_code, result.stderr) == (0, "")
    assert "0.0025 ml per unit of E, from 4 weighings" in result.stdout
    assert "\nclay:\n  metering: {unit: ml, ml_per_unit: 0.0025, spread_percent: " in result.stdout


def test_weighings_as_json(gpost: Gpost) -> None:
    """The same as JSON; a density on the command line goes before the config's."""
    args = ("--weighing", "1000=5", "--weighing", "2000=10", "--density", "2", "--json")
    found = json.loads(gpost("calibrate", *STUDIO, *args).stdout)
    assert (found["ml_per_unit"], found["density_g_ml"]) == (pytest.approx(0.0025), 2.0)
    assert found["flow_percent"] == pytest.approx(96.2112750)
    assert (found["outliers"], found["config_lines"]) == ([], [])
    assert "so few weighings" in found["no_line"]


def test_morning(gpost: Gpost) -> None:
    """What came today beside what was due by the config: 1.75 mm is 2.4052818754 mm^2."""
    result = gpost("calibrate", *STUDIO, "--morning", "16800=72", "--morning", "16800=72.3")
    assert (result.exit_code, result.stderr) == (0, "")
    assert "For today: either set the machine's flow to 104 %" in result.stdout
    found = json.loads(gpost("calibrate", *STUDIO, "--morning", "16800=72", "--json").stdout)
    assert found["off_percent"] == pytest.approx(100 * (72 / (16800 * 0.0024052818754 * 1.86) - 1))


def test_measure(gpost: Gpost) -> None:
    """Fillings give the wet density and its spread; two give no line."""
    fillings = ("--measure", "100=185", "--measure", "100=187", "--measure", "100=186")
    result = gpost("calibrate", *STUDIO, *fillings)
    assert (result.exit_code, result.stderr) == (0, "")
    assert "\nclay:\n  wet_density_g_ml: 1.86\n  wet_density_spread_percent: " in result.stdout
    found = json.loads(gpost("calibrate", *STUDIO, *fillings[:4], "--json").stdout)
    assert found["config_lines"] == []
    assert "can't say how sure" in found["no_line"]


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


def test_dried(gpost: Gpost) -> None:
    """Water from lumps, without a word about a config that is not needed."""
    result = gpost("calibrate", "--dried", "1000=750", "--dried", "500=376", "--dried", "800=600")
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.endswith("\nclay:\n  water_percent: 24.96\n")
    args = ("--dried", "1000=750", "--dry-density", "2.6", "--density", "1.8", "--json")
    found = json.loads(gpost("calibrate", *args).stdout)
    assert found["lumps"] == [{"wet_g": 1000, "dry_g": 750, "water_percent": 25}]
    assert found["water_of_dry_percent"] == pytest.approx(33.3333333)
    assert found["wet_density_g_ml"] == pytest.approx(1.8571428571)
    assert (found["weighed_density_g_ml"], found["dry_density_g_ml"]) == (1.8, 2.6)
    assert found["weighed_water_percent"] == pytest.approx(100 - 100 * 0.8 * 1.625 / 1.8)
    assert json.loads(gpost("calibrate", "--dried", "4=3", "--json").stdout)["wet_density_g_ml"] is None


def test_dry_matter_of_a_slip(gpost: Gpost) -> None:
    """From its density; left out, the config's counts."""
    found = json.loads(gpost("calibrate", "--dry-density", "2.5", "--density", "1.75", "--json").stdout)
    assert found["dry_g_per_litre"] == pytest.approx(1250)
    assert found["water_g_per_litre"] == pytest.approx(500)
    assert found["water_of_dry_percent"] == pytest.approx(40)
    assert "A litre weighs 1860 g" in gpost("calibrate", *STUDIO, "--dry-density", "2.6").stdout


def test_shrank(gpost: Gpost) -> None:
    """Shrinkage from bars, and what to print."""
    result = gpost("calibrate", *(("--shrank", "100=94=86.5") * 3))
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.endswith("\nclay:\n  shrinkage_percent: 13.5\n")
    found = json.loads(gpost("calibrate", "--shrank", "100=94=86", "--json").stdout)
    assert found["bars"][0]["fired_mm"] == 86
    assert found["print_for_100_mm"] == pytest.approx(116.2790698)
    assert (found["shrinkage_percent"], found["volume_percent"]) == (
        pytest.approx(14),
        pytest.approx(36.3944),
    )
    assert (found["drying_percent"], found["firing_of_wet_percent"]) == (pytest.approx(6), pytest.approx(8))
    assert found["firing_of_dry_percent"] == pytest.approx(100 * 8 / 94)


@pytest.mark.parametrize(
    ("args", "words"),
    [
        ((), "say which trial"),
        (("--slump", "60=12", "--colour", "4=5"), "one kind alone"),
        (("--weighing", "60"), "is no pair of numbers"),
        (("--weighing", "1=nan"), "'nan' is no ordinary number (in '1=nan', a pair of numbers"),
        (("--weighing", "4200=18,6"), "'18,6' is no number; write a point, not a comma: 18.6"),
        (("--morning", "1"), "is no pair of numbers"),
        (("--morning", "0=5"), "no matter of the day"),
        (("--morning", "4=5", "--weighing", "4=5"), "one kind alone"),
        (("--weighing", "1=2=3"), "is no pair of numbers"),
        (("--weighing", "0=5"), "above 0"),
        (("--weighings", "none.csv"), "none.csv can't be read"),
        (("--colour", "9=4"), "ends after it began"),
        (("--slump", "60=60"), "less than the cylinder's height"),
        (("--weighing", "4=5", "--density", "0"), "--density"),
        (("--measure", "100=86"), "clay in it without the measure"),
        (("--measure", "0=86"), "write the ml of the measure first"),
        (("--dried", "5=6"), "no less than wet"),
        (("--dried", "5=4=3"), "is no pair of numbers"),
        (("--dried", "5=4", "--density", "1.8"), "give --dry-density"),
        (("--dried", "5=4", "--shrank", "100=94=86"), "one kind alone"),
        (("--shrank", "100=94"), "is no row of three numbers"),
        (("--shrank", "100=inf=9"), "'inf' is no ordinary number"),
        (("--shrank", "100=94=101"), "the fired bar is longer than the wet one"),
        (("--slump", "60=12", "--dry-density", "2.6"), "--dry-density goes with"),
        (("--dry-density", "1", "--density", "1.8"), "--dry-density"),
        (("--dry-density", "2.6", "--density", "3"), "can't weigh 3 g per ml"),
        (("--strip", "a.gcode", "--cup-mm", "999"), "can't stand 999 mm high"),
    ],
)
def test_wrong_usage(gpost: Gpost, args: tuple[str, ...], words: str) -> None:
    """Status 2 with a sentence, and nothing on standard output."""
    result = gpost("calibrate", *STUDIO, *args)
    assert (result.exit_code, result.stdout) == (2, "")
    assert words in result.stderr
