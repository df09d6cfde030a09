"""`--quiet`, and `--in-place` without a terminal: nothing is said but on trouble, and that fits a small window."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from gpost.cli import cli
from gpost.demo.gcode import class_pieces
from gpost.report.brief import LINES, MORE, WIDTH, brief
from tests.sliced import write_piece

CONFIG = "cartridge: {volume_ml: 900, line_ml: 40}\nsteps: [cold, {purge: {volume_ml: 15}}]\n"


@pytest.fixture
def vase(tmp_path: Path) -> Path:
    """A sliced file, with a config beside it that does it."""
    write_piece(tmp_path / "vase.gcode", *class_pieces()["small-bowl-1"])
    (tmp_path / "recipe.yaml").write_text(CONFIG)
    return tmp_path / "vase.gcode"


def run(vase: Path, *args: object, config: str = "recipe.yaml") -> Result:
    """`gpost run` on it."""
    words = ("run", vase, "-c", vase.with_name(config), *args)
    return CliRunner().invoke(cli, [str(word) for word in words])


def fits(text: str) -> bool:
    """Whether a small window shows it whole; "Error:" has a line of its own."""
    lines = text.splitlines()
    return len(lines) <= LINES + 1 and all(
        len(line) <= WIDTH + len("Error: ") or " " not in line for line in lines
    )


@pytest.mark.parametrize("args", [("--in-place",), ("-o", "OUT", "--quiet"), ("-o", "OUT", "-q")])
def test_nothing_is_said(vase: Path, args: tuple[str, ...]) -> None:
    """A job without a warning ends with status 0 and no word."""
    result = run(vase, *(vase.with_name("out.gcode") if word == "OUT" else word for word in args))
    assert (result.exit_code, result.output) == (0, "")


def test_long_says_all(vase: Path) -> None:
    """`--long` prints the summary in place, too; with `--quiet` it is refused."""
    both = run(vase, "--in-place", "--long", "--quiet")
    assert (both.exit_code, "can't go together" in both.stderr) == (2, True)
    assert not vase.with_name("vase.sliced.gcode").exists()
    result = run(vase, "--in-place", "--long")
    assert result.exit_code == 0
    assert "vase.sliced.gcode -> " in result.stdout.replace("\n  ", " ")
    assert "What was changed" in result.stdout


def test_warnings_are_said_short(vase: Path) -> None:
    """Warnings come on standard error, with what they are about, in few lines."""
    vase.with_name("hot.yaml").write_text("cartridge: {volume_ml: 900}\n")
    result = run(vase, "--in-place", config="hot.yaml")
    assert (result.exit_code, result.stdout) == (0, "")
    assert "is ready. Look at this first:" in result.stderr.replace("\n", " ")
    assert "heating" in result.stderr
    assert fits(result.stderr)


def test_errors_are_said_short(vase: Path) -> None:
    """What is refused is said in few lines, with its status; the file is as it was, and no second one is there."""
    before = vase.read_bytes()
    vase.with_name("small.yaml").write_text("machine: {ceiling_mm: 20, bed: {x_max_mm: 150}}\n" + CONFIG)
    result = run(vase, "--in-place", config="small.yaml")
    assert (result.exit_code, result.stdout) == (1, "")
    assert "above-ceiling" in result.stderr
    assert fits(result.stderr)
    assert vase.read_bytes() == before
    assert not vase.with_name("vase.sliced.gcode").exists()


def test_a_wrong_config_is_said_short(vase: Path) -> None:
    """A slip in the config ends with status 2."""
    vase.with_name("slip.yaml").write_text("".join(f"wrong_{number}: 1\n" for number in range(40)))
    result = run(vase, "--in-place", config="slip.yaml")
    assert (result.exit_code, result.stdout) == (2, "")
    assert fits(result.stderr)
    assert MORE in result.stderr


def test_the_summary_names_what_is_kept(vase: Path) -> None:
    """The JSON's source is the file that holds what was sliced, from now on; it can be run again."""
    before = vase.read_bytes()
    assert run(vase, "--in-place", "--json", vase.with_name("vase.json")).exit_code == 0
    summary = json.loads(vase.with_name("vase.json").read_text())
    assert Path(summary["source"]).read_bytes() == before
    assert Path(summary["output"]) == vase
    again = run(Path(summary["source"]), "-o", vase.with_name("again.gcode"), "-q")
    assert (again.exit_code, again.output) == (0, "")
    first, *others = vase.read_bytes().splitlines()
    assert vase.with_name("again.gcode").read_bytes().splitlines()[1:] == others
    assert first.startswith(b"; gpost wrote this file")


def test_what_is_read_is_not_replaced(vase: Path) -> None:
    """No config can have the name which the original would get, so that `--overwrite` replaces none."""
    config = vase.with_name("vase.sliced.gcode")
    config.write_text(CONFIG)
    result = run(vase, "--in-place", "--overwrite", config=config.name)
    assert result.exit_code == 2
    assert config.read_text() == CONFIG


def test_a_short_message_is_left_whole() -> None:
    """What fits stays as it is; of more the beginning stands there, and where to read on."""
    assert brief("one\ntwo") == "one\ntwo"
    long = brief("\n".join(f"line {number}" for number in range(30)))
    assert long.splitlines() == [*(f"line {number}" for number in range(LINES - 1)), MORE]
    assert all(len(line) <= WIDTH for line in brief("word " * 500).splitlines())
