"""What holds for every stock step: its name, its words, its settings, what it may use."""

from __future__ import annotations

import ast
import importlib
import re
from pathlib import Path
from typing import Any

import pytest
import yaml

from gpost import api
from gpost.api import Step
from gpost.steps.step import Step as CoreStep

NAMES = (
    "cold",
    "base",
    "place",
    "slab",
    "purge",
    "foot",
    "swap",
    "refill",
    "fan",
    "taper",
    "stand",
    "remind",
    "tally",
)
FOLDER = Path(importlib.import_module("gpost_plugins").__file__ or "").parent
UNITS = ("_ml", "_mm", "_s", "_mm_min", "_percent", "_pa", "_min")
COUNTS = {"at_layer", "from_layer", "ramp_layers", "join_layers", "stack", "bands", "layers", "rounds"}
COUNTS |= {"safety_factor", "shape_factor", "buckling_factor"}
"""Settings that are numbers without a unit: layers, beads and bands are counted, factors are bare."""


def step_class(name: str) -> type[Step[Any]]:
    """The step a stock module offers."""
    (found,) = importlib.import_module(f"gpost_plugins.{name}").gpost_steps()
    assert issubclass(found, CoreStep)
    return found


def examples(name: str) -> list[Any]:
    """What the YAML in a step's docstring gives, every `- step:` of it, as settings by step name."""
    doc = step_class(name).__doc__ or ""
    text = re.split(r"^ {4,}(?=steps:)", doc, flags=re.MULTILINE)[1]
    return list(yaml.safe_load("        " + text)["steps"])


@pytest.mark.parametrize("name", NAMES)
def test_the_module_is_named_after_its_step(name: str) -> None:
    """The word in the config is the module's."""
    assert step_class(name).name == name


@pytest.mark.parametrize("name", NAMES)
def test_the_example_that_explain_shows_is_right(name: str) -> None:
    """The YAML in the docstring is of this step, and its settings are accepted."""
    for entry in examples(name):
        ((used, settings),) = entry.items()
        assert used == name
        assert step_class(name).Settings.model_validate(settings)


@pytest.mark.parametrize("name", NAMES)
def test_every_setting_is_described_and_has_a_default(name: str) -> None:
    """`gpost explain` shows the description; the potter writes only what differs."""
    for key, field in step_class(name).Settings.model_fields.items():
        assert field.description, key
        assert field.description.endswith("."), key
        assert not field.is_required(), key


@pytest.mark.parametrize("name", NAMES)
def test_every_quantity_carries_its_unit(name: str) -> None:
    """A key whose value is a plain number ends in its unit, unless it is a count."""
    for key, field in step_class(name).Settings.model_fields.items():
        is_number = re.search(r"\b(float|int)\b", str(field.annotation))
        if is_number and key not in COUNTS:
            assert key.endswith(UNITS), key


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.py")), ids=lambda path: path.stem)
def test_stock_steps_use_nothing_that_a_third_party_cannot(path: Path) -> None:
    """Of gpost they import names of `gpost.api` that it lists, and nothing from one another."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            assert not [name.name for name in node.names if name.name.startswith("gpost")]
        if isinstance(node, ast.ImportFrom):
            module = node.module or ""
            assert not node.level
            assert module == "gpost.api" or not module.startswith("gpost"), module
            if module == "gpost.api":
                assert {name.name for name in node.names} <= set(api.__all__)


def test_a_module_holds_a_step_and_nothing_else_is_beside_them() -> None:
    """What steps share stands where anybody can have it, in gpost itself."""
    assert {path.stem for path in FOLDER.glob("*.py")} == {"__init__", *NAMES}


def test_what_a_step_may_import_is_listed_once() -> None:
    """Each name in one group alone, and each of them is there."""
    assert len(api.__all__) == len(set(api.__all__))
    assert [name for name in api.__all__ if not hasattr(api, name)] == []


def test_the_order_of_the_stock_steps_is_given() -> None:
    """Each names only stock steps that come before it, so no circle is possible."""
    for number, name in enumerate(NAMES):
        assert set(step_class(name).after) <= set(NAMES[:number])
