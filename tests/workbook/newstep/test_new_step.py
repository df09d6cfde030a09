"""`gpost new-step`: what it writes is whole, passes its own tests, and is a step like any other."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from gpost.cli import cli
from gpost.demo.gcode import class_pieces
from tests.sliced import write_piece

ROOT = Path(__file__).parents[3]
CACHE = ROOT / ".mypy_cache"


def new_step(name: str, folder: Path) -> Result:
    """Call the command."""
    return CliRunner().invoke(cli, ["new-step", name, str(folder)])


def ran(folder: Path, *words: str) -> str:
    """What a Python tool says in a folder where gpost is found beside the package; it must find nothing wrong."""
    paths = os.pathsep.join((str(ROOT), str(ROOT / "plugins")))
    done = subprocess.run(
        [sys.executable, "-m", *words],
        cwd=folder,
        env={**os.environ, "MYPYPATH": paths, "PYTHONPATH": paths, "RUFF_NO_CACHE": "true"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.mark.parametrize("name", ["dip", "glaze-dip2", "a_name-of-forty-letters-as-long-as-can-be"[:40]])
def test_it_passes_its_own_tests(name: str, tmp_path: Path) -> None:
    """As written: its tests, `mypy --strict`, ruff and the formatter find nothing, also with the longest name."""
    folder = tmp_path / "package"
    assert new_step(name, folder).exit_code == 0
    assert " passed" in ran(folder, "pytest", "-q", "-p", "no:cacheprovider")
    assert "Success" in ran(folder, "mypy", "--cache-dir", str(CACHE))
    ran(folder, "ruff", "check", ".")
    ran(folder, "ruff", "format", "--check", ".")


def test_it_is_a_step(tmp_path: Path) -> None:
    """Its module, in a folder that is named, is explained and does what it says."""
    assert new_step("dip", tmp_path / "package").exit_code == 0
    (tmp_path / "steps").mkdir()
    code = (tmp_path / "package/src/gpost_dip/__init__.py").read_text()
    (tmp_path / "steps/dip.py").write_text(code)
    write_piece(tmp_path / "pot.gcode", *class_pieces()["small-bowl-1"])
    (tmp_path / "pot.yaml").write_text("steps: [{dip: {every_mm: 10}}]\n")
    where = ["--steps-from", str(tmp_path / "steps")]
    assert "Height between two messages." in CliRunner().invoke(cli, ["explain", "dip", *where]).output
    words = [str(tmp_path / name) for name in ("pot.gcode", "pot.yaml", "out.gcode")]
    result = CliRunner().invoke(cli, ["run", words[0], "-c", words[1], "-o", words[2], *where])
    assert result.exit_code == 0, result.output
    assert "M117 Look at the wall: 10 mm" in (tmp_path / "out.gcode").read_text()


@pytest.mark.parametrize("name", ["Dip", "1dip", "glaze dip", "dip-", "fan", "../dip", "x" * 41, "é"])
def test_a_name_that_no_step_can_have_is_refused(name: str, tmp_path: Path) -> None:
    """Nothing is written; a stock step's name is taken."""
    result = new_step(name, tmp_path / "package")
    assert result.exit_code == 2
    assert list(tmp_path.iterdir()) == []


def test_nothing_is_overwritten(tmp_path: Path) -> None:
    """A folder with something in it, or a file, is left alone; an empty one is used; nothing is left beside it."""
    full, empty, file = tmp_path / "full", tmp_path / "empty", tmp_path / "file"
    full.mkdir()
    empty.mkdir()
    (full / "mine.txt").write_text("mine")
    file.write_text("mine")
    for taken in (full, file):
        result = new_step("dip", taken)
        assert (result.exit_code, "is there already" in result.stderr) == (1, True)
    assert new_step("dip", empty).exit_code == 0
    assert (empty / "pyproject.toml").is_file()
    assert {path.name for path in tmp_path.iterdir()} == {"full", "empty", "file"}
    assert os.listdir(full) == ["mine.txt"]
