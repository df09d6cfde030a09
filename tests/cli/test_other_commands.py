"""`gpost survey`, `steps`, `explain` and `demo`: what they print, and how they fail."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

Gpost = Callable[..., Result]


def test_survey(gpost: Gpost, sliced: Path, config: Path) -> None:
    """The layers of the sliced file, as a table."""
    result = gpost("survey", sliced, "-c", config)
    assert (result.exit_code, result.stderr) == (0, "")
    assert ", 6 layers\n" in result.stdout
    assert "M104 x 2" in result.stdout


def test_survey_as_json(gpost: Gpost, sliced: Path, config: Path) -> None:
    """The same as JSON, from standard input as well."""
    named = json.loads(gpost("survey", sliced, "-c", config, "--json").stdout)
    piped = json.loads(gpost("survey", "-", "-c", config, "--json", stdin=sliced.read_bytes()).stdout)
    assert (named.pop("source"), piped.pop("source")) == (str(sliced), "-")
    assert len(named["layers"]) == 6
    assert piped == named


def test_survey_of_an_empty_file(gpost: Gpost, config: Path) -> None:
    """Status 1: an empty file is refused with a sentence."""
    result = gpost("survey", "-", "-c", config)
    assert (result.exit_code, result.stdout) == (1, "")
    assert "is empty" in result.stderr


def test_survey_leaves_nothing(gpost: Gpost, sliced: Path, config: Path, tmp_path: Path) -> None:
    """A survey writes no file."""
    before = set(tmp_path.iterdir())
    gpost("survey", sliced, "-c", config)
    assert set(tmp_path.iterdir()) == before


def test_steps(gpost: Gpost, steps: Path) -> None:
    """The steps there are, those of a folder too."""
    result = gpost("steps", "--steps-from", steps)
    assert (result.exit_code, result.stderr) == (0, "")
    assert "look       Stops so that you can look.\n" in result.stdout


def test_stock_steps_are_installed(gpost: Gpost) -> None:
    """All the stock steps are there after an installation, and none is broken."""
    result = gpost("steps")
    listed = {line.split()[0] for line in result.stdout.splitlines() if line[:1].isalpha()}
    assert {"cold", "purge", "swap", "refill", "fan", "taper", "stand", "tally"} <= listed
    assert "can't be used" not in result.stdout


@pytest.mark.parametrize("step", ["cold", "purge", "swap", "refill", "fan", "taper", "stand", "tally"])
def test_every_stock_step_is_explained(gpost: Gpost, step: str) -> None:
    """Each stock step has words and an example, and each of its settings a default and a description."""
    result = gpost("explain", step)
    assert result.exit_code == 0
    assert f"\n      - {step}" in result.stdout
    entries = re.split(r"\n +(?=[a-z0-9_]+\n)", result.stdout.partition("Settings:")[2].partition("\n\n")[0])
    assert len(entries) > 1
    assert all(len(entry.splitlines()) >= 3 for entry in entries[1:])


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("machine", "  travel_feed_mm_min\n      a number greater than 0, in mm/min; if left out: 3000.0\n"),
        ("machine.air", "\n  off\n      a text; if left out: M107\n"),
        ("clay.metering", '"plunger"; must be given'),
        ("cartridge.line_ml", "cartridge.line_ml\n\nClay between"),
        ("line_ml", "cartridge.line_ml\n\nClay between"),
        ("dwell_p", '"milliseconds" or "seconds"; if left out: milliseconds\n'),
        ("bore_mm", "  gpost explain clay.metering.bore_mm\n  gpost explain cartridge.bore_mm\n"),
        ("steps", "There are: base, cold, "),
        ("loaded_from", "The end at which the cartridge is filled"),
    ],
)
def test_keys_are_explained(gpost: Gpost, key: str, said: str) -> None:
    """Each key of the config and of the bands has its words, unit, limits, choices and default."""
    result = gpost("explain", key)
    assert (result.exit_code, result.stderr) == (0, "")
    assert said in result.stdout


def test_explain_lists_where_to_begin(gpost: Gpost, steps: Path) -> None:
    """Alone it lists the first keys and all steps."""
    result = gpost("explain", "--steps-from", steps)
    assert (result.exit_code, result.stderr) == (0, "")
    begun = {line.split()[0] for line in result.stdout.splitlines() if line[:1].isalpha()}
    assert {
        "machine",
        "clay",
        "cartridge",
        "layers",
        "reading",
        "steps",
        "colours",
        "cold",
        "tally",
        "look",
    } <= begun


def test_a_step_that_is_named_as_a_key_is_stays_a_step(gpost: Gpost, tmp_path: Path) -> None:
    """Somebody's step of the name of a key is explained as it always was; the key by its whole path."""
    (tmp_path / "more.py").write_text(
        "from gpost.api import Settings, Step, hookimpl\n"
        'class Beep(Step[Settings]):\n    "Beeps."\n    name = "beep"\n    Settings = Settings\n'
        "    def plan(self, survey, plan):\n        return []\n"
        "@hookimpl\ndef gpost_steps():\n    return [Beep]\n"
    )
    assert gpost("explain", "beep", "--steps-from", tmp_path).stdout.startswith("beep\n\nBeeps.\n")
    assert gpost("explain", "beep").stdout.startswith("machine.beep\n")
    assert gpost("explain", "machine.beep", "--steps-from", tmp_path).stdout.startswith("machine.beep\n")


def test_explain_unknown_step(gpost: Gpost, steps: Path) -> None:
    """Status 2: a step that is not there is refused with the nearest name."""
    result = gpost("explain", "lok", "--steps-from", steps)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "there is no step, key or finding lok; " in result.stderr
    assert "look" in result.stderr


def test_steps_from_a_file(gpost: Gpost, sliced: Path) -> None:
    """Status 2: what is no folder can't hold steps."""
    result = gpost("steps", "--steps-from", sliced)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "is no folder" in result.stderr


def test_unknown_command(gpost: Gpost) -> None:
    """Status 2: a command that is not there."""
    result = gpost("glaze")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "there is no command 'glaze'" in result.stderr


def test_demo(gpost: Gpost, tmp_path: Path) -> None:
    """The demo writes the sliced file, the recipe, the file to print and both summaries."""
    result = gpost("demo", "try", "--wall", "flat")
    assert (result.exit_code, result.stderr) == (0, "")
    assert {path.name for path in (tmp_path / "try").iterdir()} == {
        *("twisted-bottle.gcode", "twisted-bottle-print.gcode", "recipe.yaml"),
        *("summary.txt", "summary.json"),
    }
    assert (tmp_path / "try" / "summary.txt").read_text() == result.stdout


def test_demo_twice(gpost: Gpost, tmp_path: Path) -> None:
    """Status 1: a second demo in the folder is refused, unless it may overwrite."""
    (tmp_path / "try").mkdir()
    (tmp_path / "try" / "summary.txt").write_text("mine")
    result = gpost("demo", "try")
    assert (result.exit_code, result.stdout) == (1, "")
    assert "summary.txt exists already" in result.stderr
    assert [path.name for path in (tmp_path / "try").iterdir()] == ["summary.txt"]
    assert gpost("demo", "try", "--overwrite").exit_code == 0


def test_demo_of_a_wrong_size(gpost: Gpost, tmp_path: Path) -> None:
    """Status 2: a bottle that the demo machine can't print is refused."""
    result = gpost("demo", "try", "--size", "2000")
    assert (result.exit_code, result.stdout) == (2, "")
    assert not (tmp_path / "try").exists()


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("rum", "there is no command 'rum'; did you mean run?"),
        ("surveys", "there is no command 'surveys'; did you mean survey?"),
        ("new_step", "there is no command 'new_step'; did you mean new-step?"),
        ("x", "there is no command 'x'; `gpost --help` lists those that there are"),
    ],
)
def test_a_mistyped_command_gets_the_nearest(gpost: Gpost, typed: str, said: str) -> None:
    """Status 2: the nearest command is named, or where they are listed."""
    result = gpost(typed, "pot.gcode")
    assert (result.exit_code, result.stdout) == (2, "")
    assert said in result.stderr
