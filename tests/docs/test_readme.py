"""The README is true: its configs load and run, and its step works as printed."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from gpost.cli import cli
from gpost.demo.gcode import class_pieces
from gpost.steps.making import make_steps
from gpost.steps.manager import build_manager
from gpost.steps.words import explain_text
from tests.config_files import load_files
from tests.sliced import write_piece

README = Path(__file__).parents[2] / "README.md"
CACHE = README.parent / ".mypy_cache"
TEXT = README.read_text()
YAML_BLOCKS = re.findall(r"```yaml\n(.*?)```", TEXT, re.DOTALL)
STEP = re.search(r"<!-- example: step -->\n```python\n(.*?)```", TEXT, re.DOTALL)


@pytest.fixture(scope="module")
def bottle(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A sliced twisted bottle."""
    path = tmp_path_factory.mktemp("readme") / "bottle.gcode"
    write_piece(path, *class_pieces()["twisted-bottle"])
    return path


@pytest.mark.parametrize("block", YAML_BLOCKS, ids=lambda block: block.split("\n")[1].strip(" -:"))
def test_every_config_in_the_readme_runs(block: str, bottle: Path, tmp_path: Path) -> None:
    """Each YAML block is a config that loads without a problem and does the twisted bottle."""
    config = tmp_path / "recipe.yaml"
    config.write_text(block)
    loaded = load_files({"README.md": block})
    make_steps(loaded, build_manager().load([use.name for use in loaded.config.steps]))
    result = CliRunner().invoke(
        cli, ["run", str(bottle), "-c", str(config), "-o", str(tmp_path / "out.gcode")]
    )
    assert result.exit_code == 0, result.output
    assert (tmp_path / "out.gcode").read_bytes().count(b"\n") >= bottle.read_bytes().count(b"\n")
    assert "ml of clay" in result.output


def test_the_step_of_your_own_works_as_printed(bottle: Path, tmp_path: Path) -> None:
    """The printed step, in a folder named on the command line, puts its messages into the file."""
    assert STEP is not None
    assert len(STEP[1].splitlines()) <= 40
    (tmp_path / "steps").mkdir()
    (tmp_path / "steps" / "look.py").write_text(STEP[1])
    (tmp_path / "recipe.yaml").write_text("steps: [{look: {every_mm: 40}}]\n")
    result = CliRunner().invoke(
        cli,
        [
            *("run", str(bottle), "-c", str(tmp_path / "recipe.yaml"), "-o", str(tmp_path / "out.gcode")),
            *("--steps-from", str(tmp_path / "steps")),
        ],
    )
    assert result.exit_code == 0, result.output
    said = re.findall(r"^M117 (.*)$", (tmp_path / "out.gcode").read_text(), re.MULTILINE)
    assert said == [f"Look at the wall: {mark} mm" for mark in (40, 80, 120, 160)]


def test_the_step_of_your_own_is_explained_with_its_settings(tmp_path: Path) -> None:
    """The words that stand under a field are shown."""
    assert STEP is not None
    (tmp_path / "look.py").write_text(STEP[1])
    text = explain_text(build_manager([tmp_path]), "look")
    assert (
        "every_mm\n      a number greater than 0, in mm; if left out: 20\n      Height between two messages.\n"
        in text
    )


def test_the_step_of_your_own_is_typed(tmp_path: Path) -> None:
    """`mypy --strict` finds nothing in it."""
    assert STEP is not None
    (tmp_path / "look.py").write_text(STEP[1])
    words = ("--strict", "--python-executable", sys.executable, str(tmp_path / "look.py"))
    done = subprocess.run([sys.executable, "-m", "mypy", "--cache-dir", str(CACHE), *words],
                          capture_output=True, text=True, check=False, cwd=README.parent)  # fmt: skip
    assert done.returncode == 0, done.stdout


def test_every_stock_step_is_in_the_readme() -> None:
    """Each stock step has its paragraph and an example."""
    for name in build_manager().names:
        assert f"**{name}**" in TEXT
        assert any(f"- {name}" in block for block in YAML_BLOCKS)


def test_commands_and_files_the_readme_names_exist() -> None:
    """What the README tells the reader to type is there."""
    for name in re.findall(r"`gpost ([a-z]+)", TEXT):
        assert name in cli.list_commands(None)  # type: ignore[arg-type]
    for name in re.findall(r"`(configs/[a-z-]+\.yaml)`", TEXT):
        assert (README.parent / name).is_file()


def test_the_stopped_bottle_goes_on_as_printed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The two commands, one after the other, in a folder with the demo's files."""
    monkeypatch.chdir(tmp_path)
    assert CliRunner().invoke(cli, ["demo", "demo-class"]).exit_code == 0
    commands = re.findall(r"^gpost ((?:run|resume) .*bottle.*)$", TEXT, re.MULTILINE)
    assert len(commands) == 2
    for command in commands:
        result = CliRunner().invoke(cli, command.split())
        assert result.exit_code == 0, result.output
    rest, whole = Path("bottle-rest.gcode").read_text(), Path("bottle.gcode").read_text()
    assert whole.endswith(rest[rest.index("; gpost: resume ends\n") :].partition("\n")[2])
