"""`--studio`: whose word counts for the machine, on every command that takes configs."""

from __future__ import annotations

from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

from gpost.cli import cli

POT = "G28\nG90\nM83\nG1 X100 Y100 Z2 F100\nG1 X140 E0.9\nG1 Y140 E0.9\nG1 X100 E0.9\nG1 Y100 E0.9\n"
METERING = "clay: {metering: {unit: ml, ml_per_unit: 1}}\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A pot, a studio in two files, and a recipe that allows, raises and sends."""
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "pot.gcode").write_text(POT)
    (tmp_path / "base.yaml").write_text(METERING + "machine: {ceiling_mm: 300}\n")
    (tmp_path / "mine.yaml").write_text("machine: {ceiling_mm: 400, allow_commands: [M400]}\n")
    (tmp_path / "high.yaml").write_text("machine: {ceiling_mm: 500}\n")
    (tmp_path / "waits.yaml").write_text("machine: {beep: [M400]}\n")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(*words: str) -> Result:
    return CliRunner().invoke(cli, words)


def test_every_command_that_takes_a_config_takes_a_studio() -> None:
    """The two options stand together."""
    takers = 0
    stack: list[tuple[str, click.Command]] = [("gpost", cli)]
    context = click.Context(cli)
    while stack:
        name, command = stack.pop()
        if isinstance(command, click.Group):
            found = [command.get_command(context, inner) for inner in command.list_commands(context)]
            stack += [(f"{name} {inner.name}", inner) for inner in found if inner is not None]
            continue
        options = {word for option in command.params for word in option.opts}
        assert ("-c" in options) == ("--studio" in options), name
        takers += "-c" in options
    assert takers >= 10


@pytest.mark.parametrize(
    "command", ["check in/pot.gcode", "run in/pot.gcode -o out.gcode", "batch in -o out", "day in"]
)
def test_the_first_config_is_the_studio_s_if_none_is_named(folder: Path, command: str) -> None:
    """With `--studio` files the first `-c` is a recipe, and may not raise a limit."""
    words = command.split()
    assert "looser-limits" not in run(*words, "-c", "high.yaml", "-c", "base.yaml").output
    (folder / "out.gcode").unlink(missing_ok=True)
    for studio in (
        ("-c", "base.yaml"),
        ("--studio", "base.yaml"),
        ("--studio", "base.yaml", "--studio", "mine.yaml"),
    ):
        result = run(*words, *studio, "-c", "high.yaml")
        assert "machine.ceiling_mm: 500 (high.yaml:1) is beyond" in result.output.replace("\n", " "), (
            result.output
        )
    assert not (folder / "out.gcode").exists()


def test_a_studio_of_several_files(folder: Path) -> None:
    """Wherever it stands on the command line, it is read first, in its own order."""
    words = ("run", "in/pot.gcode", "-o", "out.gcode", "-c", "waits.yaml")
    refused = run(*words, "--studio", "base.yaml")
    assert refused.exit_code == 2
    assert 'waits.yaml:1:18: machine.beep[1]: "M400" can\'t be used' in refused.output
    assert run(*words, "--studio", "base.yaml", "--studio", "mine.yaml").exit_code == 0
    later = run(*words[:-2], "-c", "base.yaml", "-c", "mine.yaml")
    assert later.exit_code == 2
    assert "only the studio's own file may allow a command" in later.output


def test_a_piece_s_own_config_is_never_the_studio_s(folder: Path) -> None:
    """`pot.yaml` beside `pot.gcode` allows nothing, also where there is no other config."""
    (folder / "in" / "pot.yaml").write_text("machine: {allow_commands: [M502], beep: [M502]}\n")
    for configs in (("--no-config",), ("-c", "base.yaml"), ("--studio", "base.yaml")):
        result = run("batch", "in", "-o", "out", *configs)
        assert result.exit_code == 1
        assert "only the studio's own file may allow" in " ".join(result.output.split()), result.output
        assert not list((folder / "out").glob("*.gcode"))
