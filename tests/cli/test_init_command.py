"""`gpost init`: asked at a terminal, piped or by options, it writes one studio file, and never over another."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
from pathlib import Path

import click
import pytest

from gpost.cli import init
from gpost.config.load import load_config
from gpost.workbook.first.filled import filled
from gpost.workbook.first.questions import QUESTIONS
from tests.cli.conftest import Gpost

ANSWERS = {
    "bed": "300 300",
    "ceiling-mm": "350",
    "park": "12 12",
    "nozzle-mm": "4",
    "pause": "M0",
    "display": "M117",
    "metering": "filament 1.75",
    "cartridge-ml": "1000 60",
    "hose": "10 600 8",
    "colour": "white stoneware",
    "density-g-ml": "1.86",
    "water-percent": "25",
    "shrinkage-percent": "13",
}
TYPED = "".join(f"{ANSWERS[question.option]}\n" for question in QUESTIONS).encode()
OPTIONS = [part for option, answer in ANSWERS.items() for part in (f"--{option}", answer)]
PATIENCE_S = 120


def test_every_question_has_its_option() -> None:
    """What is asked can be said by an option, and the other way round."""
    options = {param.opts[0].removeprefix("--") for param in init.command.params if isinstance(param, click.Option)}
    assert options - {"overwrite"} == {question.option for question in QUESTIONS} == set(ANSWERS)


def test_asked_or_told(gpost: Gpost, tmp_path: Path) -> None:
    """Answers that are piped and options give the same file, which passes the check of a piece."""
    assert gpost("init", "piped.yaml", stdin=TYPED).exit_code == 0
    told = gpost("init", "told.yaml", *OPTIONS)
    assert (told.exit_code, told.stderr) == (0, "")
    assert told.stdout == "told.yaml is written.\nNext: gpost survey FILE -c told.yaml\n"
    assert (tmp_path / "piped.yaml").read_text() == (tmp_path / "told.yaml").read_text()
    config = load_config([tmp_path / "told.yaml"]).config
    assert (config.machine.ceiling_mm, config.cartridge.auger_ml, config.clay.colour) == (350, 8, "white stoneware")


def test_the_file_passes_the_check(gpost: Gpost, sliced: Path) -> None:
    """With all answers, and with none, a piece is checked with it, and survey and run take it."""
    for name, more in (("all.yaml", OPTIONS), ("none.yaml", [])):
        assert gpost("init", name, *more).exit_code == 0
        checked = gpost("check", sliced, "-c", name)
        assert checked.exit_code == 0, checked.output
        assert "0 errors" in checked.stdout
        assert gpost("run", sliced, "-c", name, "-o", f"{name}.gcode").exit_code == 0


def test_what_is_asked(gpost: Gpost) -> None:
    """Each question shows its number, what it is for and the trial; questions go to standard error."""
    asked = gpost("init", "-", stdin=TYPED)
    assert asked.exit_code == 0
    for number in range(1, len(QUESTIONS) + 1):
        assert f"\n{number}. " in asked.stderr
    assert "trial: gpost calibrate --strip" in " ".join(asked.stderr.split())
    assert asked.stdout.startswith("# The studio")
    assert max(map(len, asked.stderr.splitlines())) <= 80


def test_unknown_things(gpost: Gpost, tmp_path: Path) -> None:
    """Enter, or the end of what is typed, leaves a comment, and the last words name the trial of each."""
    result = gpost("init", stdin=b"300 300\n\n12 12\n")
    assert result.exit_code == 0
    assert "  ceiling_mm: 300; drive it up by hand, and read Z\n" in result.stdout
    assert "bed:" not in result.stdout
    text = (tmp_path / "studio.yaml").read_text()
    assert "\n  # ceiling_mm: 300\n" in text
    assert "\n  park: {x_mm: 12, y_mm: 12}\n" in text


def test_never_over_another(gpost: Gpost, tmp_path: Path) -> None:
    """A file of that name is kept, before anything is asked, unless --overwrite says so."""
    (tmp_path / "studio.yaml").write_text("clay: {colour: mine}\n")
    refused = gpost("init", stdin=TYPED)
    assert refused.exit_code == 1
    assert refused.stderr.endswith("studio.yaml exists already; choose another name, or say --overwrite\n")
    assert "1. " not in refused.stderr
    assert (tmp_path / "studio.yaml").read_text() == "clay: {colour: mine}\n"
    assert gpost("init", "--overwrite", stdin=TYPED).exit_code == 0
    assert load_config([tmp_path / "studio.yaml"]).config.clay.colour == "white stoneware"
    assert [path.name for path in tmp_path.iterdir()] == ["studio.yaml"]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (b"300 300\n-5\n", "Error: question 2: machine.ceiling_mm: -5 is too small; expected a number greater than 0\n"),
        (b"\xff\xfe\n", "is no text in UTF-8"),
        (b"1" * 5000, "an answer is too long"),
    ],
)
def test_nonsense_that_is_piped(gpost: Gpost, tmp_path: Path, typed: bytes, said: str) -> None:
    """It ends with the sentence and status 2, and nothing is written."""
    result = gpost("init", stdin=typed)
    assert result.exit_code == 2
    assert said in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_nonsense_in_an_option(gpost: Gpost, tmp_path: Path) -> None:
    """The same, with the option's name."""
    result = gpost("init", "--pause", "G28")
    assert result.exit_code == 2
    assert "--pause: machine.pause.commands[1]: " in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_name_that_is_no_config_s(gpost: Gpost, sliced: Path) -> None:
    """A sliced file's name is refused, even to be overwritten."""
    before = sliced.read_bytes()
    result = gpost("init", "vase.gcode", "--overwrite", *OPTIONS)
    assert result.exit_code == 2
    assert "vase.gcode is no name for a config; let it end with .yaml" in result.stderr
    assert sliced.read_bytes() == before


def test_a_command_by_the_studio_s_word(gpost: Gpost) -> None:
    """A command that isn't free is allowed, as the studio's own answer, and that is said."""
    result = gpost("init", "--pause", "M600")
    assert result.exit_code == 0
    assert "doesn't know M600 for harmless; it is sent by your word (allow_commands)" in " ".join(result.stdout.split())


def test_at_a_terminal(tmp_path: Path) -> None:
    """Who sits there is told what is wrong, and asked again."""
    ours, theirs = pty.openpty()
    answers = [ANSWERS[question.option] for question in QUESTIONS]
    with subprocess.Popen(
        [sys.executable, "-P", "-m", "gpost", "init"],
        cwd=tmp_path,
        stdin=theirs,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as process:
        os.close(theirs)
        os.write(ours, "\n".join([answers[0], "much", *answers[1:], ""]).encode())
        out, err = process.communicate(timeout=PATIENCE_S)
    os.close(ours)
    assert process.returncode == 0, err
    assert b'question 2: machine.ceiling_mm: "much" is not a number' in err
    assert out.startswith(b"studio.yaml is written.")
    assert load_config([tmp_path / "studio.yaml"]).config.machine.ceiling_mm == 350


def test_the_model_is_shipped() -> None:
    """The installed package has the model's text."""
    assert filled({}).startswith("# The studio")
