"""The house: what may import what, as DEVELOPERS.md states it."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
ORDER = (
    "errors spot",
    "common",
    "words",
    "clay",
    "config",
    "read",
    "motion",
    "survey",
    "plan",
    "supply",
    "steps",
    "api",
    "preflight",
    "write",
    "report",
    "page",
    "pipeline",
    "origin",
    "calls",
    "batch demo",
    "testing",
    "workbook",
    "guide",
    "cli",
    "start",
    "__main__",
)
"""Folders and modules of gpost/, the lowest first: each imports nothing but what stands above it here."""
RANK = {name: rank for rank, names in enumerate(ORDER) for name in names.split()}
FILES = sorted((ROOT / "gpost").rglob("*.py"))


def place(module: str) -> str:
    """The folder or module of gpost/ that a dotted name belongs to; of `gpost` itself its version."""
    return module.split(".")[1] if "." in module else ""


def imports(path: Path) -> Iterator[tuple[int, str]]:
    """(line, dotted name) of all that a file imports of gpost, wherever the import stands."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, name.name) for name in node.names if name.name.split(".")[0] == "gpost")
        elif isinstance(node, ast.ImportFrom):
            module = node.module or ""
            assert not node.level, f"{path}:{node.lineno}: a relative import"
            if module == "gpost":
                yield from (
                    (node.lineno, f"gpost.{name.name}") for name in node.names if name.name != "__version__"
                )
            elif module.startswith("gpost."):
                yield node.lineno, module


def test_every_part_has_its_place() -> None:
    """All folders and modules stand in the order, and nothing else does."""
    parts = {path.stem if path.is_file() else path.name for path in (ROOT / "gpost").iterdir()}
    parts -= {"__init__", "__pycache__", "py"}
    assert {part for part in parts if not part.startswith("py.")} == set(RANK)


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_arrow_runs_up(path: Path) -> None:
    """Folder to folder the imports go one way, so that no two folders import each other."""
    own = path.relative_to(ROOT / "gpost").parts[0].removesuffix(".py")
    for line, module in imports(path):
        other = place(module)
        if other != own and own != "__init__":
            assert RANK[other] < RANK[own], f"{path.relative_to(ROOT)}:{line}: {own} imports {module}"


def test_the_order_is_the_one_that_developers_read() -> None:
    """DEVELOPERS.md names the folders in this order."""
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    begin = text.index("<!-- the order of the folders -->")
    rows = text[begin:].split("\n\n")[1].splitlines()[2:]
    named = [name.strip("` ") for row in rows for name in row.split("|")[1].split(",")]
    assert named == [name for names in ORDER for name in names.split()]
