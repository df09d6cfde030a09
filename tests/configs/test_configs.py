"""Every file in configs/ loads over the studio's, and every recipe runs on a piece it is meant for."""

import importlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from gpost.api import Step
from gpost.config.load import load_config
from gpost.config.model import Config
from gpost.demo.gcode import class_pieces
from gpost.pipeline import run_file
from gpost.steps.making import make_steps
from gpost.steps.manager import build_manager
from tests.sliced import slice_piece

CONFIGS = Path(__file__).parents[2] / "configs"
STUDIO = CONFIGS / "studio.yaml"
STOCK = (
    "cold",
    "base",
    "place",
    "slab",
    "fan",
    "purge",
    "foot",
    "refill",
    "swap",
    "taper",
    "remind",
    "tally",
)
RECIPES = sorted(path.stem for path in CONFIGS.glob("*.yaml") if path != STUDIO)
PAUSES = {
    ("two-colours", "twisted-bottle"): ["swap"],
    ("long-piece", "tall-bottle"): ["refill"],
    ("class-folder", "small-bowl-1"): [],
    ("class-folder", "small-bowl-3"): [],
    ("base-on-slab", "waved-vase"): [],
    ("level-by-eye", "small-bowl-1"): ["foot", "foot", "foot"],
}
"""Pieces of the class by the recipe that fits them, and the pauses these must come to."""


@pytest.fixture(scope="module")
def known() -> Mapping[str, type[Step[Any]]]:
    """The stock steps: as installed, or else straight from their modules."""
    registry = build_manager()
    if set(STOCK) <= set(registry.names):
        return registry.load(STOCK)
    modules = [importlib.import_module(f"gpost_plugins.{name}") for name in STOCK]
    return {kind.name: kind for module in modules for kind in module.gpost_steps()}


def test_the_studio_file_stands_by_itself() -> None:
    """The studio's file is a config without steps, and says more than the defaults do."""
    config = load_config([STUDIO]).config
    assert config.steps == ()
    assert config != Config()


def test_there_are_the_four_recipes() -> None:
    """Two colours, a long piece with refills, a class's folder, a base on a slab; each is tried below."""
    assert {"two-colours", "long-piece", "class-folder", "base-on-slab"} <= set(RECIPES)
    assert {recipe for recipe, _ in PAUSES} == set(RECIPES)


@pytest.mark.parametrize("recipe", RECIPES)
def test_each_recipe_s_settings_fit_the_stock_steps(
    recipe: str, known: Mapping[str, type[Step[Any]]]
) -> None:
    """A recipe loads over the studio's file, and also alone, and each of its steps takes its settings."""
    for files in ([STUDIO, CONFIGS / f"{recipe}.yaml"], [CONFIGS / f"{recipe}.yaml"]):
        steps = make_steps(load_config(files), known)
        assert steps[0].name == "cold"
        assert steps[-1].name == "tally"


@pytest.mark.parametrize(("recipe", "piece"), PAUSES)
def test_each_recipe_runs_on_its_piece(
    recipe: str, piece: str, known: Mapping[str, type[Step[Any]]], tmp_path: Path
) -> None:
    """The piece comes out with the pauses the recipe is for, and without a warning."""
    source, output = tmp_path / "sliced.gcode", tmp_path / "print.gcode"
    source.write_bytes(slice_piece(*class_pieces()[piece]).text)
    loaded = load_config([STUDIO, CONFIGS / f"{recipe}.yaml"])
    summary = run_file(source, output, loaded.config, make_steps(loaded, known))
    assert [pause.kind for pause in summary.pauses] == PAUSES[recipe, piece]
    assert list(summary.warnings) == []
    assert summary.output_lines > source.read_bytes().count(b"\n")
