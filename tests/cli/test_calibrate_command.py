"""`gpost calibrate`: one kind of trial, the lines for the config, and how it fails."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from gpost.config.load import load_config
from gpost.demo.gcode import class_pieces
from gpost.supply.sure import to_load_ml
from gpost.workbook.trial.tube import PRIME_ML, TubeWishes, tube_gcode
from tests.sliced import write_piece

Gpost = Callable[..., Result]

CONFIGS = Path(__file__).parents[2] / "configs"
STUDIO = ("-c", CONFIGS / "studio.yaml")
DRY = ("--measured", "dry", "--drying-percent", "6")


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
    assert re.search(
        r"Have \d+ ml \(\d+ g\) or more in the cartridge, its reserve counted",
        " ".join(result.stdout.split()),
    )
    again = gpost(*args)
    assert again.exit_code == 1
    assert "exists already" in again.stderr
    assert json.loads(gpost(*args, "--overwrite", "--json").stdout)["e"] == [4200, 8400]
    assert (tmp_path / "strip.gcode").read_text() == text


def test_colour_in_ml(gpost: Gpost) -> None:
    """Hold-up with its spread, and stages, from ml pushed, with lines for the config; none from one "
    "change."""
    trials = ("--colour", "40=95", "--colour", "40.5=94.5", "--colour", "40.2=95.2")
    result = gpost("calibrate", *STUDIO, *trials)
    assert result.exit_code == 0
    assert "\ncartridge:\n  line_ml: 65.1\n  line_spread_ml: 0.13\n  mixing_stages: 15.1\n" in result.stdout
    found = json.loads(gpost("calibrate", *STUDIO, "--colour", "40=95", "--json").stdout)
    assert found["trials"] == [{"began_ml": 40, "ended_ml": 95}]
    assert (found["line_spread_ml"], found["config_lines"], found["measured"]) == (None, [], None)


@pytest.mark.parametrize(
    ("measured", "left"),
    [((), 1.0), (("--measured", "wet"), 1.0), (("--measured", "fired"), 0.87), (DRY, 0.94)],
)
def test_colour_by_height(gpost: Gpost, tmp_path: Path, measured: tuple[str, ...], left: float) -> None:
    """Heights of a printed piece become ml by its own file and recipe: plug flow is found again, from the wet
    piece and from what is left of its heights when it is dry or fired.

    After the recipe's pause blue shows when 55 ml have been pushed, at 110.1 mm; so a change seen from
    109.1 to 110.9 mm has begun before, and ended after that. The studio's clay shrinks by 13 %.
    """
    write_piece(tmp_path / "bottle.gcode", *class_pieces()["twisted-bottle"])
    seen = f"{109.1 * left:.3f}={110.9 * left:.3f}"
    args = ("--piece", "bottle.gcode", "--colour", seen, *measured, "--json")
    found = json.loads(gpost("calibrate", *STUDIO, "-c", CONFIGS / "two-colours.yaml", *args).stdout)
    assert found["trials"][0]["began_ml"] < 55 < found["trials"][0]["ended_ml"]
    assert found["line_ml"] == pytest.approx(55, abs=1)
    assert (found["measured"], found["measured_assumed"]) == ((measured or ("", "wet"))[1], not measured)


def test_a_fired_piece_that_is_taken_as_wet_is_asked_about(gpost: Gpost, tmp_path: Path) -> None:
    """The same heights off the fired piece, without a word: the hose comes out far too small, or the change
    began before its clay was loaded; either way shrinkage is named.
    """
    write_piece(tmp_path / "bottle.gcode", *class_pieces()["twisted-bottle"])
    args = ("calibrate", *STUDIO, "-c", CONFIGS / "two-colours.yaml", "--piece", "bottle.gcode")
    result = gpost(*args, "--colour", f"{109.1 * 0.87:.2f}={110.9 * 0.87:.2f}")
    assert result.exit_code == 0
    said = " ".join(result.stdout.split())
    assert "the heights are taken as wet" in said
    assert "The likeliest cause is that the piece was dry or fired" in said
    result = gpost(*args, "--colour", "40=42")
    assert result.exit_code == 2
    assert "Was the piece dry or fired when you measured it? Then say --measured" in result.stderr


def test_slump(gpost: Gpost) -> None:
    """A small cylinder that sinks gives a yield stress; one that hardly does says what would do."""
    result = gpost("calibrate", *STUDIO, "--slump", "60=12")
    assert result.exit_code == 0
    assert "Yield stress" in result.stdout
    found = json.loads(gpost("calibrate", *STUDIO, "--slump", "60=12", "--json").stdout)
    assert found["yield_pa"] == found["yields_pa"][0]
    result = gpost("calibrate", *STUDIO, "--slump", "100=2")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "912 Pa, is the top of what such a cylinder can show" in result.stderr


def test_tube(gpost: Gpost, tmp_path: Path) -> None:
    """The file is that of the trial; never over another file; its commands can be those that the studio "
    "has."""
    args = ("calibrate", *STUDIO, "--tube", "tube.gcode", "--tube-height-mm", "40", "--first", "M302 P1")
    result = gpost(*args)
    assert (result.exit_code, result.stderr) == (0, "")
    assert "--tube-folded HEIGHT@CLOCK@PLACE" in " ".join(result.stdout.split())
    text = (tmp_path / "tube.gcode").read_text()
    wishes = TubeWishes(height_mm=40, first=("M302 P1",))
    assert text == tube_gcode(load_config([CONFIGS / "studio.yaml"]).config, wishes)
    again = gpost(*args)
    assert again.exit_code == 1
    assert "exists already" in again.stderr
    again = json.loads(gpost(*args, "--overwrite", "--json").stdout)
    config = load_config([CONFIGS / "studio.yaml"]).config
    assert again["height_mm"] == 40
    assert again["load_ml"] == to_load_ml(config, again["clay_ml"] + PRIME_ML)
    assert f"Have {again['load_ml']} ml ({again['load_g']} g) or more" in " ".join(result.stdout.split())


@pytest.mark.parametrize(
    ("machine", "args", "words"),
    [
        ("{max_flow_ml_min: 5}", (), "too-much-clay"),
        ("{max_feed_mm_min: 900}", (), "too-fast"),
        ("{bed: {x_max_mm: 50, y_max_mm: 50}}", (), "outside-bed"),
    ],
)
def test_a_tube_is_judged_as_any_file(
    gpost: Gpost, tmp_path: Path, machine: str, args: tuple[str, ...], words: str
) -> None:
    """What the machine can't do is refused with the finding's name, and nothing is written."""
    (tmp_path / "studio.yaml").write_text(f"machine: {machine}\n")
    result = gpost("calibrate", "-c", "studio.yaml", "--tube", "tube.gcode", *args)
    assert (result.exit_code, result.stdout) == (1, "")
    assert words in result.stderr
    assert not (tmp_path / "tube.gcode").exists()


def test_a_tube_is_not_written_over_a_config(gpost: Gpost, tmp_path: Path) -> None:
    """Not with --overwrite either."""
    (tmp_path / "studio.yaml").write_text("machine: {}\n")
    result = gpost("calibrate", "-c", "studio.yaml", "--tube", "studio.yaml", "--overwrite")
    assert result.exit_code == 1
    assert "is a config that is read here" in result.stderr
    assert (tmp_path / "studio.yaml").read_text() == "machine: {}\n"


def test_tubes_that_folded(gpost: Gpost) -> None:
    """Two tubes give lines for `stand`: 2000 Pa and 0.5 Pa/s at 20 and 5 mm/min fold at 216 and 420 mm (derived,
    1.9 g/ml).
    """
    args = ("--tube-folded", "216@10:48@foot", "--tube-folded", "420.4@1:24:05@foot", "--density", "1.9")
    result = gpost("calibrate", *args)
    assert result.exit_code == 0
    assert result.stdout.rpartition("\n\n")[2].startswith("steps:\n  - stand:\n      yield_stress_pa: 1700")
    found = json.loads(gpost("calibrate", *args, "--json").stdout)
    assert found["yield_stress_pa"]["middle"] == pytest.approx(2000, rel=2e-3)
    assert found["tubes"][1]["age_s"] == 5045


def test_cone(gpost: Gpost) -> None:
    """A cone's depths, with its mass and angle."""
    args = ("--cone", "10", "--cone-mass-g", "60", "--cone-angle", "60", "--json")
    found = json.loads(gpost("calibrate", *args).stdout)
    assert found["yield_pa"] == pytest.approx(1588.7, rel=1e-4)
    assert (found["low_pa"], found["high_pa"]) == pytest.approx((1000, 2648), rel=1e-3)


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
        (("--slump", "60=12", "--tube-folded", "140@9:30@foot"), "one kind alone"),
        (("--tube-folded", "140@9:30"), "no tube that folded: write its height"),
        (("--tube-folded", "140@9:30@top"), "(foot, wall, leant, stood)"),
        (("--tube-folded", "140@570@foot"), "no clock: write minutes and seconds, such as 9:30"),
        (("--tube-folded", "14cm@9:30@foot"), "write 140, in mm"),
        (("--tube-folded", "0@9:30@foot"), "must be above 0"),
        (("--tube-folded", "140@0:00@foot"), "must be above 0"),
        (("--tube", "a.gcode", "--tube-diameter-mm", "200"), "it dents"),
        (("--cone", "2"), "heavier or sharper"),
        (("--cone", "1,5"), "write a point"),
        (("--cone", "10", "--cone-angle", "45"), "45"),
        (("--colour", "40=95", "--measured", "dry"), "amounts in ml don't shrink"),
        (("--colour", "4=5", "--piece", "bottle.gcode", "--measured", "dry"), "--drying-percent"),
        (("--colour", "4=5", "--drying-percent", "6"), "goes with nothing else"),
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
        (("--strip", "a.gcode", "--amount-ml", "500"), "the last cups would hold air"),
    ],
)
def test_wrong_usage(gpost: Gpost, tmp_path: Path, args: tuple[str, ...], words: str) -> None:
    """Status 2 with a sentence, and nothing on standard output."""
    (tmp_path / "bottle.gcode").write_text("G28\n")
    result = gpost("calibrate", *STUDIO, *args)
    assert (result.exit_code, result.stdout) == (2, "")
    assert words in result.stderr
