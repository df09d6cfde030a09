"""The schema for editors: it takes what gpost takes, refuses what can't be a config, and has words on each key."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from gpost.cli import cli
from gpost.config.load import load_text
from gpost.config.problem import ConfigProblems
from gpost.config.scalars import SWITCHES
from gpost.config.yamltree import read_tree, values
from gpost.steps.manager import build_manager
from gpost.steps.recipe import make_recipe
from gpost.steps.schema import bands_schema, config_schema

ROOT = Path(__file__).parents[2]
REGISTRY = build_manager()
REGISTRY.load_all()
SCHEMA = json.loads(CliRunner().invoke(cli, ["schema"]).output)
FITS = Draft202012Validator(SCHEMA)
TEXTS = {path.name: path.read_text() for path in sorted((ROOT / "configs").glob("*.yaml"))} | {
    f"README, block {number}": block
    for number, block in enumerate(re.findall(r"```yaml\n(.*?)```", (ROOT / "README.md").read_text(), re.DOTALL))
}
WRONG = (
    "machine: {celing_mm: 3}",
    "machine: {ceiling_mm: high}",
    "machine: {ceiling_mm: 0}",
    "machine: {bed: {round: maybe}}",
    "machine: []",
    "clay: {metering: {unit: plunger}}",
    "clay: {metering: {unit: spoon}}",
    "clay: {water_percent: 100}",
    "machine: {display_letters: 1.5}",
    "steps: [fann]",
    "steps: [{fan: {band: []}}]",
    "steps: [{fan: {}, cold: {}}]",
    "steps: {fan: {}}",
    "colours: {bands: [{clay: 7, to_mm: -1}]}",
)
LENIENT = (
    "machine: {bed: {round: on}}",
    "machine: {bed: {round: No}}",
    "machine:",
    "steps:",
    "steps: [cold, {fan: }]",
    "clay: {colour: 12}",
    "clay: {colour: true}",
    "machine: {display: null}",
    "machine: {display_letters: 2e1}",
)


def tree(text: str) -> Any:
    """The values of a YAML text, as gpost reads it."""
    found = read_tree("config.yaml", text, [])
    assert found is not None
    return values(found)


def loads(text: str) -> bool:
    """Whether gpost takes it as a config."""
    try:
        make_recipe(load_text("config.yaml", text))
    except ConfigProblems:
        return False
    return True


def test_it_is_a_schema() -> None:
    """It keeps to JSON Schema 2020-12, as its own metaschema says (json-schema.org), and so do the bands."""
    for text in (json.dumps(SCHEMA), bands_schema()):
        schema = json.loads(text)
        assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
        Draft202012Validator.check_schema(schema)


@pytest.mark.parametrize("name", TEXTS)
def test_it_takes_every_config_there_is(name: str) -> None:
    """The files in configs/ and the blocks of the README fit."""
    assert [error.message for error in FITS.iter_errors(tree(TEXTS[name]))] == []


@pytest.mark.parametrize("text", LENIENT)
def test_it_takes_what_is_read_with_goodwill(text: str) -> None:
    """Words for switches, plain numbers for texts, nothing for a group of which no key must be given."""
    assert loads(text)
    assert FITS.is_valid(tree(text))


@pytest.mark.parametrize("text", WRONG)
def test_it_refuses_what_gpost_refuses(text: str) -> None:
    """Unknown keys and steps, wrong kinds, numbers out of their bounds, keys that are missing."""
    assert not loads(text)
    assert not FITS.is_valid(tree(text))


KEYS = [
    (table, key)
    for table in ("machine", "clay", "cartridge", "reading")
    for key in SCHEMA["$defs"][table.title()]["properties"]
]
ANY_VALUE = st.one_of(
    st.none(), st.booleans(), st.integers(-3, 400), st.floats(-3, 400, width=16), st.sampled_from([*SWITCHES, "x", "M0"])
)


@given(st.sampled_from(KEYS), ANY_VALUE)
def test_what_loads_fits(key: tuple[str, str], value: object) -> None:
    """Whatever value of a key gpost takes, the schema takes too: an editor never marks what is right."""
    written = value if isinstance(value, str) else json.dumps(value)
    text = f"{key[0]}: {{{key[1]}: {written}}}\n"
    if loads(text):
        assert FITS.is_valid(tree(text)), text


def properties(schema: Any, path: str = "") -> dict[str, dict[str, Any]]:
    """All keys of a schema and of the tables in it, by their paths."""
    found: dict[str, dict[str, Any]] = {}
    for key, field in schema.get("properties", {}).items():
        found[f"{path}.{key}"] = field
    for name, table in schema.get("$defs", {}).items():
        found |= properties(table, name)
    return found


def test_every_key_has_words() -> None:
    """Each key of the config and of every step says what it is, and its unit if it has one."""
    found = properties(SCHEMA) | properties(json.loads(bands_schema()), "bands")
    assert [path for path, field in found.items() if not field.get("description")] == []
    assert found["Cartridge.volume_ml"]["description"].endswith("Unit: ml.")
    assert 1000 in found["Cartridge.volume_ml"]["examples"]
    assert found["Cartridge.volume_ml"]["default"] == 1000
    assert {f"step-{name}" for name in REGISTRY.names} <= SCHEMA["$defs"].keys()


def test_examples_are_right() -> None:
    """Each example fits its own key."""
    for path, field in properties(SCHEMA).items():
        whole = {"$defs": SCHEMA["$defs"], **field}
        for example in field.get("examples", ()):
            assert Draft202012Validator(whole).is_valid(example), (path, example)


def test_the_one_in_configs_is_up_to_date() -> None:
    """`configs/config.schema.json` is what `gpost schema` prints, and each config names it to the editor."""
    assert json.loads((ROOT / "configs/config.schema.json").read_text("utf-8")) == SCHEMA
    for path in (ROOT / "configs").glob("*.yaml"):
        assert path.read_text().splitlines()[0] == "# yaml-language-server: $schema=config.schema.json"


def test_steps_of_others_are_in_it(tmp_path: Path) -> None:
    """A step from a folder is in the schema; one that has no schema may stand with any settings."""
    (tmp_path / "mine.py").write_text(
        "from collections.abc import Callable\n"
        "from gpost.api import Settings, Step, hookimpl\n"
        "class Odd(Settings):\n    at: Callable[[int], int] | None = None\n"
        "class Dip(Step[Odd]):\n    '''Dips.'''\n    name = 'dip'\n    Settings = Odd\n"
        "    def plan(self, survey, plan):\n        return ()\n"
        "@hookimpl\ndef gpost_steps():\n    return [Dip]\n"
    )
    registry = build_manager([tmp_path])
    registry.load_all()
    fits = Draft202012Validator(json.loads(config_schema(registry)))
    assert fits.is_valid({"steps": [{"dip": {"at": 3}}, "fan"]})
    assert not fits.is_valid({"steps": ["dipp"]})
