"""README and guide are true: their configs load and run, and the step works as printed."""

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
from tests.docs.blocks import GUIDE, PAGES, ROOT, Block, blocks
from tests.sliced import write_piece

CACHE = ROOT / ".mypy_cache"
TEXT = "\n".join(page.read_text("utf-8") for page in PAGES)
YAML_BLOCKS = [
    block for page in PAGES for block in blocks(page, "yaml") if block.note != "file: slip.yaml"
]
STEPS = (GUIDE / "steps.md").read_text("utf-8")
STEP = re.search(r"<!-- example: step -->\n```python\n(.*?)```", (GUIDE / "own-step.md").read_text("utf-8"), re.DOTALL)


@pytest.fixture(scope="module")
def bottle(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A sliced twisted bottle."""
    path = tmp_path_factory.mktemp("readme") / "bottle.gcode"
    write_piece(path, *class_pieces()["twisted-bottle"])
    return path


@pytest.mark.parametrize("block", YAML_BLOCKS, ids=lambda block: block.where)
def test_every_config_runs(block: Block, bottle: Path, tmp_path: Path) -> None:
    """Each YAML block is a config that loads without a problem and does the twisted bottle."""
    config = tmp_path / "recipe.yaml"
    config.write_text(block.text)
    loaded = load_files({block.page.name: block.text})
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
                          capture_output=True, text=True, check=False, cwd=ROOT)  # fmt: skip
    assert done.returncode == 0, done.stdout


def test_every_stock_step_has_an_example() -> None:
    """Each stock step has its paragraph and an example on the page of the steps."""
    examples = [block.text for block in YAML_BLOCKS if block.page.stem == "steps"]
    for name in build_manager().names:
        assert f"**{name}**" in STEPS
        assert any(f"- {name}" in text for text in examples)


def test_commands_and_options_that_are_named_exist() -> None:
    """What the reader is told to type is there: each command, and each of its options."""
    named = re.findall(r"`gpost ([a-z][a-z-]*)([^`]*)`", TEXT)
    assert len(named) > 30
    for name, words in named:
        command = cli.get_command(None, name)  # type: ignore[arg-type]
        assert command is not None, name
        parts = getattr(command, "commands", {})
        command = parts.get(words.split()[0], command) if parts and words.split() else command
        known = {option for parameter in command.params for option in parameter.opts} | {"--help"}
        assert set(re.findall(r"(?<![\w-])--[a-z-]+", words)) <= known, (name, words)


def test_files_that_are_named_exist() -> None:
    """The configs that the reader is sent to are there."""
    for name in re.findall(r"`(configs/[a-z-]+\.yaml)`", TEXT):
        assert (ROOT / name).is_file()


def test_the_stopped_bottle_goes_on_as_printed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The two commands, one after the other, in a folder with the demo's files."""
    monkeypatch.chdir(tmp_path)
    assert CliRunner().invoke(cli, ["demo", "demo-class"]).exit_code == 0
    commands = re.findall(
        r"^gpost ((?:run|resume) .*bottle.*)$", (GUIDE / "resume.md").read_text("utf-8"), re.MULTILINE
    )
    assert len(commands) == 2
    for command in commands:
        result = CliRunner().invoke(cli, command.split())
        assert result.exit_code == 0, result.output
    rest, whole = Path("bottle-rest.gcode").read_text(), Path("bottle.gcode").read_text()
    assert whole.endswith(rest[rest.index("; gpost: resume ends\n") :].partition("\n")[2])
