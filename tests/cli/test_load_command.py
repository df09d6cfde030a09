"""`gpost load`: the loading sheet and its picture."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

Gpost = Callable[..., Result]


@pytest.fixture
def bands(tmp_path: Path) -> Path:
    """White, then blue, on the small cylinder of 12 mm."""
    path = tmp_path / "bands.yaml"
    path.write_text("bands:\n  - {to_mm: 6, clay: white}\n  - {clay: blue}\n")
    return path


@pytest.fixture
def studio(tmp_path: Path) -> Path:
    """A small line, a known bore, a purge."""
    path = tmp_path / "load.yaml"
    path.write_text(
        "cartridge: {line_ml: 10, bore_mm: 60}\nsteps: [{purge: {volume_ml: 5, bead_width_mm: 6}}]\n"
    )
    return path


def test_the_sheet_and_the_picture(
    gpost: Gpost, sliced: Path, studio: Path, bands: Path, tmp_path: Path
) -> None:
    """Words on standard output, the picture in its file, nothing else written."""
    result = gpost("load", sliced, "-c", studio, "--bands", bands, "--svg", "sheet.svg")
    assert (result.exit_code, result.stderr) == (0, "")
    assert "Cartridge 1, filled from the plunger's end" in result.stdout
    assert "blue from" in result.stdout
    assert (tmp_path / "sheet.svg").read_text().startswith("<svg ")
    assert {path.name for path in tmp_path.iterdir()} == {
        "vase.gcode",
        "load.yaml",
        "bands.yaml",
        "sheet.svg",
    }


def test_json_from_standard_input(gpost: Gpost, sliced: Path, studio: Path, bands: Path) -> None:
    """The same slugs, with the purge counted: loaded is laid, line and reserve."""
    named = json.loads(gpost("load", sliced, "-c", studio, "--bands", bands, "--json").stdout)
    piped = json.loads(
        gpost("load", "-", "-c", studio, "--bands", bands, "--json", stdin=sliced.read_bytes()).stdout
    )
    assert piped["cartridges"] == named["cartridges"]
    assert sum(named["loaded_ml"].values()) == pytest.approx(math.ceil(sum(named["laid_ml"].values()) + 50) + 10)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("bands: [{to_mm: 6, clai: white}]", "did you mean clay"),
        ("bands: []", "bands.yaml"),
        ("bands: [{clay: white}, {clay: blue}]", "every band but the last needs to_mm"),
        ("wands: [{clay: white}]", "wands"),
        (": [", "bands.yaml"),
    ],
)
def test_wrong_bands(gpost: Gpost, sliced: Path, studio: Path, bands: Path, text: str, told: str) -> None:
    """Status 2 with the file's name and what is wrong; nothing is drawn."""
    bands.write_text(text)
    result = gpost("load", sliced, "-c", studio, "--bands", bands, "--svg", "sheet.svg")
    assert (result.exit_code, result.stdout) == (2, "")
    assert told in result.stderr
    assert not (bands.parent / "sheet.svg").exists()


def test_bands_that_are_not_there(gpost: Gpost, sliced: Path, studio: Path) -> None:
    """Status 2."""
    result = gpost("load", sliced, "-c", studio, "--bands", "none.yaml")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "none.yaml" in result.stderr


def test_a_picture_is_not_written_over(
    gpost: Gpost, sliced: Path, studio: Path, bands: Path, tmp_path: Path
) -> None:
    """Status 1, unless --overwrite is given."""
    (tmp_path / "sheet.svg").write_text("mine")
    result = gpost("load", sliced, "-c", studio, "--bands", bands, "--svg", "sheet.svg")
    assert (result.exit_code, result.stdout) == (1, "")
    assert (tmp_path / "sheet.svg").read_text() == "mine"
    assert (
        gpost("load", sliced, "-c", studio, "--bands", bands, "--svg", "sheet.svg", "--overwrite").exit_code
        == 0
    )


def test_a_swap_in_the_steps_is_refused(gpost: Gpost, sliced: Path, bands: Path, tmp_path: Path) -> None:
    """Status 1: the sheet does what the swap does."""
    (tmp_path / "swap.yaml").write_text(
        "cartridge: {line_ml: 1}\nsteps: [{swap: {at_height_mm: 8, prime_ml: 0}}]\n"
    )
    result = gpost("load", sliced, "-c", "swap.yaml", "--bands", bands)
    assert (result.exit_code, result.stdout) == (1, "")
    assert "leave swap out" in result.stderr


def test_loads_of_a_swap_are_drawn_as_on_the_page(gpost: Gpost, sliced: Path, tmp_path: Path) -> None:
    """Without bands each cartridge that the steps put on is told and drawn: the very numbers of the run."""
    (tmp_path / "swap.yaml").write_text(
        "clay: {colour: white}\ncartridge: {line_ml: 1}\n"
        "steps: [{swap: {at_height_mm: 8, colour: blue, prime_ml: 0}}]\n"
    )
    result = gpost("load", sliced, "-c", "swap.yaml", "--svg", "sheet.svg")
    assert (result.exit_code, result.stderr) == (0, "")
    run = gpost("run", sliced, "-c", "swap.yaml", "-o", "out.gcode", "--json", "out.json")
    assert run.exit_code == 0, run.output
    cartridges = json.loads((tmp_path / "out.json").read_text())["cartridges"]
    assert [cartridge["colour"] for cartridge in cartridges] == ["white", "blue"]
    drawn = (tmp_path / "sheet.svg").read_text()
    for cartridge in cartridges:
        ml, g = cartridge["to_load_ml"], math.ceil(cartridge["to_load_g"])
        assert f"at least {ml:.0f} ml, {g} g" in drawn
        assert re.search(rf"in all {ml:.0f} ml\*?, {g} g", result.stdout)
    assert "from the plunger's end" not in result.stdout
    told = json.loads(gpost("load", sliced, "-c", "swap.yaml", "--json").stdout)
    assert told["loaded_from"] is None
    assert [row["clay_ml"] for row in told["cartridges"]] == [row["to_load_ml"] for row in cartridges]
