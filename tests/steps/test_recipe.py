"""A recipe is a checked config with its steps; its fingerprint tells when another output would come out."""

from __future__ import annotations

from pathlib import Path

import pytest

from gpost.config.load import load_config
from gpost.errors import ConfigError
from gpost.steps.recipe import Recipe, read_recipe, recipe_of

STEP = """
from gpost.api import Settings, Step, hookimpl

class LookSettings(Settings):
    at_layer: int = 3

class Look(Step[LookSettings]):
    '''Looks.'''

    name = "look"
    Settings = LookSettings

    def plan(self, survey, plan):
        return []

@hookimpl
def gpost_steps():
    return [Look]
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "steps").mkdir()
    (tmp_path / "steps" / "looking.py").write_text(STEP)
    return tmp_path / "steps"


def recipe(folder: Path, text: str) -> Recipe:
    config = folder.parent / "studio.yaml"
    config.write_text(text)
    return read_recipe([config], [folder])


def test_steps_are_made_in_the_configs_order(folder: Path) -> None:
    """The steps have their settings, and the same step may come twice."""
    found = recipe(folder, "steps: [look, {look: {at_layer: 9}}]\n")
    assert [step.settings.at_layer for step in found.steps] == [3, 9]


def test_without_config(folder: Path) -> None:
    """No config file gives the default machine and no steps."""
    assert read_recipe([], [folder]).steps == ()


def test_wrong_recipe(folder: Path) -> None:
    """What is wrong with a step's settings is told as any problem of the config."""
    with pytest.raises(ConfigError, match=r"studio\.yaml:1:[0-9]+: steps\[1\]\.look\.at_lair"):
        recipe(folder, "steps: [{look: {at_lair: 9}}]\n")


def test_same_recipe_has_the_same_fingerprint(folder: Path) -> None:
    """Comments, order of keys and defaults that are spelt out make no other recipe."""
    first = recipe(folder, "machine: {nozzle_mm: 3, ceiling_mm: 250}\nsteps: [look]\n")
    second = recipe(
        folder, "# mine\nsteps: [{look: {at_layer: 3}}]\nmachine: {ceiling_mm: 250.0, nozzle_mm: 3}\n"
    )
    assert first.fingerprint == second.fingerprint


@pytest.mark.parametrize(
    "text",
    [
        "machine: {nozzle_mm: 5}\nsteps: [look]\n",
        "steps: [{look: {at_layer: 4}}]\n",
        "steps: [look, look]\n",
        "",
    ],
)
def test_other_recipe_has_another_fingerprint(folder: Path, text: str) -> None:
    """Another number, setting or list of steps is another recipe."""
    assert recipe(folder, text).fingerprint != recipe(folder, "steps: [look]\n").fingerprint


def test_other_code_has_another_fingerprint(folder: Path) -> None:
    """A step whose code has changed makes another recipe."""
    before = recipe(folder, "steps: [look]\n").fingerprint
    (folder / "looking.py").write_text(STEP.replace("return []", "return iter(())"))
    assert recipe(folder, "steps: [look]\n").fingerprint != before


def test_a_config_that_ends_otherwise_is_not_passed_over(folder: Path) -> None:
    """`vase.yml` would be somebody's recipe that is silently not used."""
    config, piece = folder.parent / "studio.yaml", folder.parent / "vase.gcode"
    config.write_text("steps: [look]\n")
    (folder.parent / "vase.yml").write_text("steps: []\n")
    loaded = load_config([config])
    with pytest.raises(ConfigError, match=r"vase\.yml is not read; a piece's own config ends with \.yaml"):
        recipe_of(piece, recipe(folder, "steps: [look]\n"), loaded, [folder])
