"""Every kind of bad input: its exit status, its sentence, and that nothing is written. The table is the test.

The table is `bad_input.yaml`, beside this file; its first lines say what a row holds. The sentences are
gpost's own. What is wrong in a sliced file follows the NIST RS274/NGC report (NISTIR 6556), sections 3.3 to
3.8, and, for E, checksums and text after M codes, common practice in printing (no source).
"""

from __future__ import annotations

import gzip
import io
import random
import re
import shlex
import sys
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner, Result

from gpost.cli import cli
from tests.config_files import by_line

SOURCE, CONFIG, STEP = "vase.gcode", "studio.yaml", "steps/mine.py"
COMMAND = f"run {SOURCE} -c {CONFIG} -o out.gcode"
START = "G28\nG90\nM83\nG1 X100 Y100 Z2 F1500\n"
E_PER_ML = 415.75
"""Millimetres of a round strand of 1.75 mm in one ml: 1000 / (pi / 4 * 1.75**2)."""

PLAN = '''
from gpost.api import *

class Mine(Step[Settings]):
    """A step of the table's."""

    name = "mine"
    Settings = Settings

    def plan(self, survey, plan):
        {plan}

@hookimpl
def gpost_steps():
    return [Mine]
'''


def vase(x_mm: float = 100, layers: int = 10) -> str:
    """A square vase of 80 mm, in layers of 2 mm that take 4 ml each; layer n begins on line 5 n."""
    side = f"E{E_PER_ML}\n"
    corners = ((x_mm + 80, 100), (x_mm + 80, 180), (x_mm, 180), (x_mm, 100))
    ring = "".join(f"G1 X{x:g} Y{y} {side}" for x, y in corners)
    return START.replace("X100", f"X{x_mm:g}") + "".join(f"G1 Z{2 * n}\n{ring}" for n in range(1, layers + 1))


@dataclass(frozen=True)
class Row:
    """One row of the table; its keys are explained there."""

    name: str
    source: str | None = None
    line: str | None = None
    make: str | None = None
    config: str | None = None
    steps: str | None = None
    plan: str | None = None
    module: str | None = None
    files: Mapping[str, str] = field(default_factory=dict)
    command: str = COMMAND
    status: int = 1
    says: str | None = None
    like: str | None = None

    def written(self) -> dict[str, bytes]:
        """All files of the row by name."""
        texts = {SOURCE: self._source(), CONFIG: self._config(), **self.files}
        if self.module is not None:
            texts[STEP] = self.module
        elif self.plan is not None:
            texts[STEP] = PLAN.format(plan=self.plan)
        made = MAKERS[self.make]() if self.make is not None else {}
        return {name: text.encode() for name, text in texts.items()} | made

    def _source(self) -> str:
        if self.line is not None:
            return f"{START}{self.line}\nG1 X110 Y110 E{E_PER_ML}\n"
        return vase() if self.source is None else self.source

    def _config(self) -> str:
        if self.config is not None:
            return self.config
        own = "[mine]" if self.plan is not None or self.module is not None else "[]"
        return f"steps: {self.steps or own}\n"

    def arguments(self) -> list[str]:
        """The command line, in words."""
        own = ["--steps-from", "steps"] if self.plan is not None or self.module is not None else []
        return [*shlex.split(self.command), *own]


# -- what no line of text can show -----------------------------------------------------------------


def noise() -> dict[str, bytes]:
    """Bytes at random, always the same."""
    return {SOURCE: random.Random(1).randbytes(5000)}


def cut_short() -> dict[str, bytes]:
    """A packed vase, half of it."""
    data = gzip.compress(vase().encode(), mtime=0)
    return {SOURCE: data[: len(data) // 2]}


def zip_of_two() -> dict[str, bytes]:
    """Two pieces in one archive."""
    with io.BytesIO() as file:
        with zipfile.ZipFile(file, "w") as archive:
            archive.writestr("vase.gcode", vase())
            archive.writestr("class/bowl.gcode", vase())
        return {SOURCE: file.getvalue()}


def picture() -> dict[str, bytes]:
    """The first bytes of a PNG picture."""
    return {SOURCE: b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"}


def document() -> dict[str, bytes]:
    """The first bytes of a PDF document."""
    return {SOURCE: b"%PDF-1.7\n1 0 obj\n"}


def utf16() -> dict[str, bytes]:
    """A vase as some editors save it."""
    return {SOURCE: vase().encode("utf-16")}


def utf16_bare() -> dict[str, bytes]:
    """The same without a byte order mark."""
    return {SOURCE: vase().encode("utf-16-le")}


def endless_line() -> dict[str, bytes]:
    """Ten megabytes without a line end."""
    return {SOURCE: START.encode() + b"G1 X1 " * 1_700_000 + b"\n"}


def many_digits() -> dict[str, bytes]:
    """A number that no machine can hold."""
    return {SOURCE: f"{START}G1 X{'9' * 400} E1\n".encode()}


def written() -> dict[str, bytes]:
    """What gpost makes of a vase."""
    return {SOURCE: b"; gpost wrote this file (0.1.0) from vase.gcode\n" + vase().encode()}


def two_pieces() -> dict[str, bytes]:
    """One vase, then another beside it."""
    lift = "G0 Z40\nG0 X190 Y100\n"
    return {SOURCE: (vase(5) + lift + vase(190).removeprefix(START.replace("X100", "X190"))).encode()}


def homed_midway() -> dict[str, bytes]:
    """A vase, and after its last layer Z homed and the same vase once more, from the bottom."""
    return {SOURCE: f"{vase()}G28 Z\n{vase().removeprefix('G28')}".encode()}


def latin1_config() -> dict[str, bytes]:
    """A config with a letter that is no UTF-8."""
    return {CONFIG: "clay:\n  colour: grün\n".encode("latin-1")}


def large_config() -> dict[str, bytes]:
    """A config of more than a megabyte."""
    return {CONFIG: b"# a studio\n" * 200_000}


def alias_bomb() -> dict[str, bytes]:
    """A few lines that stand for a thousand million values."""
    levels = [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 10)]
    return {CONFIG: "\n".join(["a0: &a0 [1]", *levels, ""]).encode()}


def deep_config() -> dict[str, bytes]:
    """A config of a thousand levels."""
    return {CONFIG: b"machine: " + b"[" * 1000 + b"]" * 1000 + b"\n"}


MAKERS: dict[str, Callable[[], dict[str, bytes]]] = {
    make.__name__: make
    for make in (
        *(noise, cut_short, zip_of_two, picture, document, utf16, utf16_bare, endless_line, many_digits, written),
        *(two_pieces, homed_midway, latin1_config, large_config, alias_bomb, deep_config),
    )
}


# -- the test --------------------------------------------------------------------------------------


def read_table() -> list[Row]:
    """All rows, in the table's order."""
    parts = yaml.safe_load(Path(__file__).with_suffix(".yaml").with_stem("bad_input").read_text())
    return [Row(**row) for rows in parts.values() for row in rows]


TABLE = read_table()


def files_in(folder: Path) -> dict[str, bytes]:
    """Every file in the folder and below it."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def run_row(row: Row, folder: Path) -> Result:
    """Put the row's files into the folder, which is the current one, and run its command."""
    for name, data in row.written().items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)
    return CliRunner().invoke(cli, row.arguments(), prog_name="gpost")


def sentence(stderr: str) -> str:
    """What stands after "Error:" on standard error; before it there may be how the command is used."""
    usage, error, said = stderr.partition("Error:")
    assert error, f"no sentence: {stderr}"
    assert not usage or usage.startswith("Usage: gpost"), f"more than a sentence: {stderr}"
    return said.strip("\n").removeprefix(" ")


MACHINE_TALK = re.compile(
    r"Traceback|<class|<function|<object|\bat 0x|\bNone\b|NoneType|\bnan\b|(?<!\.)\binf\b|\[Errno|\bself\b"
)
ERROR_NAME = re.compile(r"\b[A-Za-z]+(?:Error|Exception|Warning|Exit)\b")
A_STEPS_OWN = re.compile(
    r"step mine failed: \w+|the step failed on these settings: \w+|\(from steps/mine\.py\): it can't be loaded: \w+"
)
"""The only places for the name of a Python error: a step's author needs it."""


def is_for_a_potter(said: str) -> bool:
    """Whether a sentence is made of words alone, ends as one does, and names no error but a step's own."""
    words = len(said.split()) >= 3 and re.search(r"""[\w)\]'"`>.:?]$""", said) is not None
    return words and not MACHINE_TALK.search(said) and not ERROR_NAME.search(A_STEPS_OWN.sub("", said))


@pytest.mark.parametrize("row", TABLE, ids=lambda row: row.name)
def test_bad_input(row: Row, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every row ends with its status and its sentence, in words, and no file is written or changed."""
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    monkeypatch.chdir(tmp_path)
    result = run_row(row, tmp_path)
    said = by_line(sentence(result.stderr)).replace(str(tmp_path), "<here>")
    if row.like is None:
        assert said == row.says
    else:
        assert re.fullmatch(row.like, said), said
    assert is_for_a_potter(said), said
    assert (result.exit_code, result.stdout) == (row.status, "")
    assert files_in(tmp_path) == row.written()


def test_the_table() -> None:
    """There are 120 rows or more, each with a name of its own, and with a sentence or a pattern for one."""
    assert len(TABLE) >= 120
    assert len({row.name for row in TABLE}) == len(TABLE)
    assert all((row.says is None) != (row.like is None) for row in TABLE)


@pytest.mark.parametrize(
    "said",
    [
        "",
        "wrong",
        "step mine wants 'NoneType' object",
        "a feed of nan mm/min",
        "it is <class 'int'>, which is wrong",
        "refill failed: KeyError: 'glaze'",
        "step yours failed: ValueError: no",
        "give the key line_ml a value;",
    ],
)
def test_what_is_no_sentence_for_a_potter(said: str) -> None:
    """The check of the sentences does find what a program says to itself, and what breaks off."""
    assert not is_for_a_potter(said)


def test_the_frame_of_the_rows_is_right(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The vase, the frame round each row's one line, and the frame of a step are no bad input themselves."""
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    monkeypatch.chdir(tmp_path)
    for row in (Row("the vase"), Row("one line", line="G1 X105 E9"), Row("one step", plan="return []")):
        result = run_row(row, tmp_path)
        assert result.exit_code == 0, result.stderr
        (tmp_path / "out.gcode").unlink()
