"""A config is asked for wherever the answer hangs on one, and nowhere else."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from tests.cli.conftest import Gpost

PLANNING = {
    "run vase.gcode -o out.gcode": "machine, clay and cartridge",
    "check vase.gcode": "machine, clay and cartridge",
    "load vase.gcode --bands bands.yaml": "machine, clay and cartridge",
    "batch in -o out": "machine, clay and cartridge",
    "watch in -o out": "machine, clay and cartridge",
    "day in": "machine, clay and cartridge",
    "day in -o out": "machine, clay and cartridge",
    "calibrate --weighing 400=1.9 --weighing 800=3.8": "machine, clay and cartridge",
    "calibrate --morning 400=1.9": "machine, clay and cartridge",
    "calibrate --strip strip.gcode": "machine, clay and cartridge",
    "calibrate --tube tube.gcode": "machine, clay and cartridge",
    "calibrate --colour 20=30 --colour 22=33": "machine, clay and cartridge",
    "calibrate --tube-folded 216@10:48@foot": "clay's density",
    "calibrate --slump 100=12": "clay's density",
    "calibrate --dry-density 2.6": "clay's density",
    "stain --wet-g 1000 --add blue=1": "clay's water",
}
"""Commands, and what of the studio their answers hang on."""
BY_ITSELF = (
    "calibrate --cone 20 --cone 21",
    "calibrate --dried 100=78 --dried 101=79",
    "calibrate --shrank 100=94=86.5 --shrank 100=94=86.6",
    "calibrate --measure 100=186 --measure 100=187",
    "calibrate --slump 100=12 --density 1.8",
    "calibrate --dry-density 2.6 --density 1.8",
    "stain --wet-g 1000 --add blue=1 --water-percent 25",
)
OTHER = """
machine: {bed: {x_max_mm: 150, y_max_mm: 150}, nozzle_mm: 2, travel_feed_mm_min: 900}
clay: {metering: {unit: plunger, bore_mm: 58}, wet_density_g_ml: 1.5, water_percent: 40}
cartridge: {volume_ml: 90, line_ml: 12}
"""
"""As unlike gpost's own numbers as can be."""


@pytest.fixture
def shop(sliced: Path, tmp_path: Path) -> Path:
    """A folder with one sliced file in it, and another studio's config."""
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "pot.gcode").write_bytes(sliced.read_bytes())
    (tmp_path / "other.yaml").write_text(OTHER)
    (tmp_path / "bands.yaml").write_text("bands: [{to_mm: 6, clay: white}, {clay: blue}]\n")
    return tmp_path


@pytest.mark.parametrize("line", PLANNING)
def test_what_plans_for_a_studio_asks_for_it(line: str, gpost: Gpost, shop: Path) -> None:
    """Without -c it is refused with what the answer hangs on and what to do, and nothing is written."""
    before = sorted(shop.rglob("*"))
    result = gpost(*shlex.split(line))
    said = " ".join(result.stderr.split())
    assert result.exit_code == 2
    assert f"no config was named: gpost can't know your {PLANNING[line]}, and would plan for a studio" in said
    assert "with -c (gpost init makes one)" in said
    assert "--no-config" in said
    assert result.stdout == ""
    assert sorted(shop.rglob("*")) == before


@pytest.mark.parametrize("line", [line for line in PLANNING if not line.startswith(("watch", "calibrate --tube-"))])
def test_gpost_s_own_numbers_are_taken_where_they_are_meant(line: str, gpost: Gpost, shop: Path) -> None:
    """With --no-config it is done, and no more is said of it."""
    result = gpost(*shlex.split(line), "--no-config")
    assert "no config was named" not in result.output.lower()
    assert "Usage" not in result.output
    assert result.stdout != "" or "Error: " in result.stderr


@pytest.mark.parametrize("line", BY_ITSELF)
def test_what_hangs_on_no_config_needs_none(line: str, gpost: Gpost, shop: Path) -> None:
    """It is answered without a word about configs, and a config as unlike as can be changes no letter of the answer."""
    alone, other = gpost(*shlex.split(line)), gpost(*shlex.split(line), "-c", "other.yaml")
    assert (alone.exit_code, alone.stderr) == (0, "")
    assert alone.stdout == other.stdout


def test_a_survey_needs_none_and_says_what_hangs_on_it(gpost: Gpost, sliced: Path, shop: Path) -> None:
    """Layers are the file's own, whatever the config; clay and time are not, and it is said on standard error."""
    alone, other = gpost("survey", sliced), gpost("survey", sliced, "-c", "other.yaml")
    assert alone.exit_code == 0
    assert "layers and heights are the file's own; clay and time are told with gpost's own numbers" in " ".join(alone.stderr.split())
    assert alone.stdout != other.stdout
    layers = [re.findall(r"^ +(\d+) +([\d.]+) +(level|rises)", result.stdout, re.MULTILINE) for result in (alone, other)]
    assert layers[0] == layers[1] != []
    assert gpost("survey", sliced, "--no-config").stderr == ""


def test_a_log_asks_for_it_when_it_has_something_to_learn_from(gpost: Gpost, shop: Path, sliced: Path) -> None:
    """What `log fit` gives hangs on how the config counts clay."""
    (shop / "own.yaml").write_text("clay: {metering: {unit: filament, diameter_mm: 1.75}}\n")
    assert gpost("run", sliced, "-c", "own.yaml", "-o", "out.gcode", "--json", "s.json").exit_code == 0
    assert gpost("log", "add", "s.json", "-c", "own.yaml", "--grams", 100).exit_code == 0
    result = gpost("log", "fit")
    assert result.exit_code == 2
    assert "gpost can't know your machine, clay and cartridge" in " ".join(result.stderr.split())
    asked = gpost("log", "fit", "--no-config")
    assert "no config was named" not in asked.output.lower()
    assert "Usage" not in asked.output
