"""The core knows no step by its name or its settings: what it must know, a step says by an intention."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from gpost.steps.manager import build_manager

ROOT = Path(__file__).parents[2] / "gpost"
FILES = sorted(ROOT.rglob("*.py"))
STEPS = build_manager().load_all()
OTHER_MEANING = {
    ("config/commands.py", "cold"),  # what a command is for
    ("demo/path.py", "base"),  # a part of a piece
    ("clay/folds.py", "foot"),  # where a tube folds
    ("page/sheet.py", "slab"),  # what the piece stands on, drawn
    ("supply/nozzle.py", "slab"),  # what the nozzle is set on
    ("workbook/trial/strengthwords.py", "foot"),
}
"""Words that are a step's name, too, and mean something else there."""
ADVICE = {
    ("preflight/times.py", "taper"),
    ("preflight/flow.py", "purge"),
    ("preflight/heating.py", "cold"),
    ("preflight/supply.py", "refill"),
    ("preflight/supply.py", "swap"),
    ("survey/findings.py", "purge"),
}
"""Where a sentence for a potter advises a step: nothing hangs on it."""
MAY_READ_SETTINGS = {"config", "steps"}
"""Folders that make a step from its settings, whatever they are."""


def strings(path: Path) -> list[tuple[int, str]]:
    """(line, text) of all strings of a module but docstrings."""
    tree = ast.parse(path.read_text("utf-8"))
    docs = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    return [
        (node.lineno, node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs
    ]


def test_there_are_steps() -> None:
    """Or the others would find nothing."""
    assert len(STEPS) >= 12


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_step_is_known(path: Path) -> None:
    """No string is a step's name; no sentence names a step but as advice."""
    where = str(path.relative_to(ROOT))
    for line, text in strings(path):
        assert text not in STEPS or (where, text) in OTHER_MEANING, f"{where}:{line}: {text}"
        for name in re.findall(r"`([a-z_]+)`", text):
            assert name not in STEPS or (where, name) in ADVICE, f"{where}:{line}: {name}"


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_settings_are_read(path: Path) -> None:
    """Only what makes a step from its settings looks at them."""
    if path.relative_to(ROOT).parts[0] in MAY_READ_SETTINGS:
        return
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        assert not (isinstance(node, ast.Attribute) and node.attr == "settings"), f"{path}:{node.lineno}"


def test_what_is_listed_is_there() -> None:
    """Each word that is excepted stands where it is said to."""
    for where, name in OTHER_MEANING | ADVICE:
        found = [text for _, text in strings(ROOT / where)]
        assert name in found or any(f"`{name}`" in text for text in found), (where, name)
