"""Law: text from a config, a step or a file name never becomes a command, whatever it holds."""

from __future__ import annotations

import dataclasses
from functools import reduce
from operator import xor
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from gpost.config.model import Config
from gpost.pipeline import run_file
from gpost.plan.intentions import Intention, LayClay, Pause, Say, Stroke
from gpost.plan.plan import Plan
from gpost.spot import Spot
from gpost.steps.step import Step
from gpost.survey.model import Survey
from tests.reference.interpreter import run
from tests.reference.outputs import ENDS, HEADER, split_lines

BEAD = Stroke(((-100.0, -60.0), (-40.0, -60.0)), 8.0, 3.0, 3.0, 1.25)
POT = [b"G28", b"G1 X50 Y50 Z2 F1500", b"G1 X90 E5", b"G1 Y90 E10", b"G1 X50 E15", b"; end"]
HOSTILE = (
    "a\nG1 X999",
    "a\r\nM84",
    "; G1 X5",
    "*33",
    "a\0b",
    "\u202eG28\u202c",
    "\u2028M112",
    "\x85M112",
    "\N{FULLWIDTH SEMICOLON}G28",
    "載せて",
    "! ~ ? \x18",
    "(MSG, no)",
    "[#1+2]",
    "%",
    "/G28",
    "N5 G28*3",
    "x" * 500,
    "",
)


def numbered(lines: list[bytes]) -> bytes:
    """Lines with numbers and checksums, but for comments."""
    out, number = [], 0
    for line in lines:
        if not line.startswith(b";"):
            number += 1
            line = b"N%d %s" % (number, line)
            line += b"*%d" % reduce(xor, line)
        out.append(line)
    return b"\n".join([*out, b""])


PROGRAMS = st.sampled_from([b"\n".join([*POT, b""]), b"\r\n".join([*POT, b""]), numbered(POT)])
TEXTS = st.one_of(st.sampled_from(HOSTILE), st.text(max_size=80))


def wishes(text: str) -> list[Intention]:
    """Everything that takes a text from outside."""
    lay = LayClay(Spot(4), (BEAD,), 900.0, why=text)
    return [
        Say(Spot(3), text),
        Pause(Spot(3), text, text, text, prime_ml=1.0, colour=text, lay=lay),
        lay,
    ]


def commands(output: bytes) -> list[Any]:
    """What each line does; not what it says."""
    return [
        dataclasses.replace(event, state=dataclasses.replace(event.state, messages=()))
        for event in run(output)
        if event.kind != "empty"
    ]


@given(program=PROGRAMS, text=TEXTS)
@example(numbered(POT), "a\n*33; N5 G28*3")
def test_no_text_changes_what_the_machine_does(rewrite: Any, program: bytes, text: str) -> None:
    """With any text in messages, reasons and colours each line does what it does with a harmless one."""
    plain, hostile = (rewrite(program, wishes(words)).output for words in ("fine", text))
    assert [e for e in commands(hostile) if e.error] == []
    assert len(split_lines(plain)) == len(split_lines(hostile))
    assert without_empty_text(commands(hostile)) == without_empty_text(commands(plain))
    assert hostile.isascii()


def without_empty_text(events: list[Any]) -> list[Any]:
    """Events without lines that show a text: those do nothing."""
    return [dataclasses.replace(event, line=0) for event in events if event.kind != "text"]


@given(text=TEXTS)
def test_texts_are_one_short_line_of_letters_digits_and_few_marks(rewrite: Any, text: str) -> None:
    """No inserted line holds anything that ends a line, begins a comment or is acted on at once."""
    result = rewrite(b"\n".join([*POT, b""]), wishes(text))
    for block in result.apart.blocks:
        for line in block.lines:
            words = line.removeprefix(b"; ").decode("ascii")
            assert all(c.isalnum() or c in " .,:+-=/_" for c in words), line
            assert len(line) <= 220


class _Talk(Step[Any]):
    """Says something at layer 1."""

    name = "talk"

    def plan(self, survey: Survey, plan: Plan) -> list[Intention]:
        """One message."""
        return [Say(Spot(int(survey.layers["first_line"][0])), "now")]


NAMES = st.text(st.characters(exclude_characters="/\0", exclude_categories=["Cs"]), min_size=1, max_size=50)


@given(name=st.one_of(NAMES, st.sampled_from(["a\nG28", "a;b", "a*33", "\u202ea", "(a)", "%"])))
def test_no_file_name_becomes_a_command(tmp_path_factory: pytest.TempPathFactory, name: str) -> None:
    """The name of the source stands in the first line, a comment, as one line of ASCII."""
    folder = tmp_path_factory.mktemp("names")
    source = folder / f"_{name}.gcode"
    source.write_bytes(b"\n".join([*POT, b""]))
    run_file(source, Path(folder / "out.gcode"), Config(), [_Talk(None)])
    lines = (folder / "out.gcode").read_bytes().split(b"\n")
    assert lines[0].startswith(HEADER)
    assert lines[0].isascii()
    assert [line for line in lines[1:] if line != b"M117 now"] == [*POT, *ENDS.split(b"\n")]
