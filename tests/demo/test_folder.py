"""The demo folder: everything about one bottle, with all seven steps."""

from __future__ import annotations

import json
import re
from importlib.resources import files
from pathlib import Path

import jsonschema
import pytest
import yaml
from click.testing import CliRunner

import gpost
from gpost.cli import cli
from gpost.cli.demo import RECIPES as OFFERED
from gpost.config.load import load_config
from gpost.demo import folder as demo
from gpost.demo.folder import make_demo, stock_recipe
from gpost.errors import OutputError, PlanError
from tests.shipped_schema import published_schema

CONFIGS = Path(__file__).parents[2] / "configs"
SEVEN = ["cold", "purge", "swap", "refill", "fan", "taper", "tally"]


def numbers(text: str) -> dict[str, list[float]]:
    """All heights that a recipe names, by their key."""
    found = re.findall(r"((?:at|from)_height_mm): ([0-9.]+)", text)
    return {
        key: [float(value) for name, value in found if name == key] for key in {name for name, _ in found}
    }


def test_stock_recipe_uses_all_steps(tmp_path: Path) -> None:
    """The stock recipe is a right config that uses each of the seven steps once."""
    (tmp_path / "recipe.yaml").write_text(stock_recipe())
    assert [use.name for use in load_config([tmp_path / "recipe.yaml"]).config.steps] == SEVEN


def test_recipe_follows_the_size() -> None:
    """For a bottle half as high every height of the recipe is halved, and nothing else changes."""
    whole, half = stock_recipe(), stock_recipe(0.5)
    assert numbers(half) == {key: [value / 2 for value in values] for key, values in numbers(whole).items()}
    strip = re.compile(r"(_height_mm: )[0-9.]+(?=[},\n])")
    assert strip.sub(r"\1", half) == strip.sub(r"\1", whole)


@pytest.mark.parametrize("wall", ["rise", "flat"])
def test_demo_shows_everything(tmp_path: Path, wall: str) -> None:
    """The bottle is done by all seven steps, with a swap, a refill and without a warning."""
    text = make_demo(tmp_path / "try", wall=wall)  # type: ignore[arg-type]
    summary = json.loads((tmp_path / "try" / demo.JSON).read_text())
    jsonschema.Draft202012Validator(published_schema()).validate(summary)
    assert summary["steps"] == SEVEN
    assert {pause["kind"] for pause in summary["pauses"]} == {"swap", "refill"}
    assert {change["step"] for change in summary["changes"]} >= {
        "cold",
        "purge",
        "swap",
        "refill",
        "fan",
        "taper",
    }
    assert summary["warnings"] == []
    assert (tmp_path / "try" / demo.TEXT).read_text() == text


def test_pauses_stand_where_the_summary_says(tmp_path: Path) -> None:
    """From each pause's output line on, the machine's waiting command comes before the next pause's line."""
    make_demo(tmp_path)
    summary = json.loads((tmp_path / demo.JSON).read_text())
    lines = (tmp_path / demo.PRINT).read_text().splitlines()
    waits = [number for number, line in enumerate(lines, 1) if re.match(r"M0\b", line)]
    starts = [pause["output_line"] for pause in summary["pauses"]]
    assert len(waits) == len(starts)
    assert all(
        start <= wait < end for start, wait, end in zip(starts, waits, [*starts[1:], len(lines)], strict=True)
    )


def test_recipes_come_with_gpost() -> None:
    """They are those of configs/, byte for byte, and the command offers each."""
    ours = files("gpost.demo").joinpath("recipes")
    shipped = {path.name: path.read_bytes() for path in ours.iterdir()}
    there = {path.name: path.read_bytes() for path in CONFIGS.glob("*.yaml") if path.name != demo.STUDIO}
    assert shipped == there
    assert {f"{name}.yaml" for name in demo.RECIPES} == set(shipped)
    assert tuple(demo.RECIPES) == OFFERED


@pytest.mark.parametrize("recipe", demo.RECIPES)
def test_a_recipe_is_shown(recipe: str, tmp_path: Path) -> None:
    """Its folder holds studio's file and recipe, and running them there gives the file that is there."""
    folder, piece = tmp_path / "try", demo.RECIPES[recipe]
    result = CliRunner().invoke(cli, ["demo", str(folder), "--recipe", recipe])
    assert result.exit_code == 0, result.output
    configs = [folder / "studio.yaml", folder / f"{recipe}.yaml"]
    names = {"studio.yaml", f"{recipe}.yaml", f"{piece}.gcode", f"{piece}-print.gcode", demo.TEXT, demo.JSON}
    assert {path.name for path in folder.iterdir()} == names
    assert [path.read_bytes() for path in configs] == [(CONFIGS / path.name).read_bytes() for path in configs]
    gpost.run(folder / f"{piece}.gcode", configs, tmp_path / "again.gcode")
    assert (tmp_path / "again.gcode").read_bytes() == (folder / f"{piece}-print.gcode").read_bytes()
    assert json.loads((folder / demo.JSON).read_text())["warnings"] == []


def test_a_recipe_has_its_own_piece(tmp_path: Path) -> None:
    """The bottle's measures don't go with it; a recipe that there is not is answered with those that there are."""
    for words in (["--size", "100"], ["--twist", "0"], ["--wall", "rise"]):
        refused = CliRunner().invoke(cli, ["demo", str(tmp_path / "try"), "--recipe", "two-colours", *words])
        assert (refused.exit_code, "a piece of its own" in refused.output) == (2, True)
    unknown = CliRunner().invoke(cli, ["demo", str(tmp_path / "try"), "--recipe", "three-colours"])
    assert (unknown.exit_code, "two-colours" in unknown.output) == (2, True)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("height_mm", [80, 120, 200, 240])
def test_every_size_works(tmp_path: Path, height_mm: float) -> None:
    """The recipe works for every size that the demo offers, and the bottle gets that height."""
    make_demo(tmp_path, height_mm=height_mm)
    summary = json.loads((tmp_path / demo.JSON).read_text())
    assert summary["height_mm"] == pytest.approx(height_mm, abs=1.8)


def test_twist_turns_the_bottle(tmp_path: Path) -> None:
    """Another twist is another bottle, of the same height and layers."""
    for name, twist in (("straight", 0.0), ("twisted", 90.0)):
        make_demo(tmp_path / name, twist_deg=twist)
    straight, twisted = (
        json.loads((tmp_path / name / demo.JSON).read_text()) for name in ("straight", "twisted")
    )
    assert straight["layers"] == twisted["layers"]
    sliced = [(tmp_path / name / demo.SLICED).read_bytes() for name in ("straight", "twisted")]
    assert sliced[0] != sliced[1]


def test_failing_demo_writes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A recipe that can't be done leaves an empty folder."""
    recipe = yaml.safe_dump({"steps": [{"swap": {"at_layer": 1}}]})
    monkeypatch.setattr(demo, "stock_recipe", lambda _scale: recipe)
    with pytest.raises(PlanError):
        make_demo(tmp_path / "try")
    assert list((tmp_path / "try").iterdir()) == []


def test_folder_that_cannot_be_made(tmp_path: Path) -> None:
    """A file in the way of the folder is named."""
    (tmp_path / "try").touch()
    with pytest.raises(OutputError, match="try can't be made"):
        make_demo(tmp_path / "try")
