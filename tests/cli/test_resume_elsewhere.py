"""`gpost resume`: a step's colour that shows elsewhere than asked for is said before it is let go."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.cli.test_resume_clay import LAYER_ML
from tests.cli.test_resume_command import CONFIG
from tests.resuming import resume, summary, vase_ran

ASKED_MM, LAYER_MM = 34.0, 2.0
ELSEWHERE = re.compile(r"blue, asked for from 34 mm on, shows from layer (\d+) \((\d+\.\d) mm\) on")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A vase of 25 layers of 2 mm, whose blue is put on in layer 11 or so, to show from 34 mm on."""
    return vase_ran(tmp_path_factory.mktemp("elsewhere"), CONFIG)


def said(folder: Path, *args: object) -> list[re.Match[str]]:
    """What is said of it."""
    result = resume(folder, "--from-layer", 14, *args, "--overwrite")
    assert result.exit_code == 0, result.output
    return [found for text in summary(folder)["resume"]["checks"] if (found := ELSEWHERE.match(text))]


@pytest.mark.parametrize("out_ml", [4.0, 5.0])
def test_a_colour_on_its_way_comes_earlier_by_what_is_run_out(folder: Path, out_ml: float) -> None:
    """By hand: so many layers' clay have left the hose at the park, to within the layer in which it changes."""
    [found] = said(folder, "--run-out", out_ml)
    assert float(found[2]) == pytest.approx(ASKED_MM - out_ml / LAYER_ML * LAYER_MM, abs=LAYER_MM)


def test_less_than_planned_lets_it_come_later(folder: Path) -> None:
    """Three layers at 30 % leave the blue by two layers' clay or more behind its place."""
    result = resume(folder, "--from-layer", 16, "--turned", "flow=30@13", name="turned")
    assert result.exit_code == 0, result.output
    [found] = [found for text in summary(folder, "turned")["resume"]["checks"] if (found := ELSEWHERE.match(text))]
    assert float(found[2]) >= ASKED_MM + 2 * LAYER_MM


@pytest.mark.parametrize("args", [[], ["--run-out", 1]])
def test_what_is_less_than_a_layer_off_is_as_asked(folder: Path, args: list[object]) -> None:
    """Nobody sees it."""
    assert said(folder, *args) == []


def test_one_that_has_shown_is_not_told(folder: Path) -> None:
    """In layer 20 all of the hose is blue."""
    result = resume(folder, "--from-layer", 20, "--run-out", 6, name="blue")
    assert result.exit_code == 0, result.output
    assert not [text for text in summary(folder, "blue")["resume"]["checks"] if ELSEWHERE.match(text)]


@pytest.mark.parametrize(("out_ml", "shows_mm", "is_said"), [(0, 46, False), (2, 44, False), (4, 40, True)])
def test_one_that_is_still_due_is_told_if_its_pause_moves(
    tmp_path: Path, out_ml: float, shows_mm: float, is_said: bool
) -> None:
    """What is run out lets the cartridge end sooner, with which the change of colour is joined then.

    Where it shows is what the visit says of it.
    """
    config = CONFIG.replace("volume_ml: 90", "volume_ml: 54").replace("at_height_mm: 34", "at_height_mm: 46")
    folder = vase_ran(tmp_path, config)
    result = resume(folder, "--from-layer", 4, "--run-out", out_ml)
    assert result.exit_code == 0, result.output
    found = summary(folder)
    assert [p["shows_at_height_mm"] for p in found["pauses"] if p["colour"] == "blue"] == [shows_mm]
    texts = [text for text in found["resume"]["checks"] if text.startswith("blue, asked for from 46 mm on")]
    assert [f"({shows_mm:.1f} mm) on" in text for text in texts] == [True] * is_said
