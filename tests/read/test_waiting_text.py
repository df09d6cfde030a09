"""M codes with a text for the potter behind them: text that is no words, and words that are no text.

M0 and M1 wait; others are known to some machine alone. That such a line may go on as text is common practice in printing, no source; that `P` and `S` may be
arguments is so too. What the words of a line are: NIST RS274/NGC report (NISTIR 6556), section 3.3.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.model import Machine, PathSection
from gpost.errors import SourceError
from gpost.motion import codes
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.read.block import Block
from gpost.read.numbering import Numbering
from gpost.read.oddline import KNOWN_CODES
from gpost.read.source import Chunk
from gpost.read.words import read_block
from gpost.write.renumber import Renumberer, checksum


def read(line: str) -> Block:
    """The block of one line."""
    return read_block(Chunk(line.encode() + b"\n", 0, 0))


def words(line: str) -> str:
    """The words read on one line, such as `M0 P5`."""
    found = read(line).words
    return " ".join(f"{chr(code)}{value:g}" for code, value in zip(found.letter, found.value, strict=True))


@pytest.mark.parametrize(
    "text",
    [
        "Change clay",
        "it's time",
        "Load blue (cobalt",
        "Change clay :)",
        '"Go on',
        "A new clay, Gabriel's",
        "5 minutes",
        "a 5 gram ball of G clay",
        "S30 Change clay",
        "P 500 Wait",
        "Grün laden!",
        "go to X10 #2 [blue]",
        "O! -> E",
        "Kiln; it's hot",
    ],
)
@pytest.mark.parametrize("code", ["M0", "M1", "m0", "M00", "M 1"])
def test_a_text_is_no_words(code: str, text: str) -> None:
    """A line that waits may say why: none of its letters is a word, and no sign in it is wrong."""
    assert words(f"{code} {text}") == ("M1" if "1" in code else "M0")
    assert words(f"G1 X10 {code} {text}").startswith("G1 X10 M")


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("M0", "M0"),
        ("M0 P5", "M0 P5"),
        ("M0 S5", "M0 S5"),
        ("M1 P 500 S-1", "M1 P500 S-1"),
        ("M0 (Change clay)", "M0"),
        ("M0 ; it's time", "M0"),
        ("M0 P5 ; it's time", "M0 P5"),
        ("M0 X10", "M0 X10"),
        ("M0 G1 X10 Y.5", "M0 G1 X10 Y0.5"),
        ("N5 M0 P5*12", "N5 M0 P5 *12"),
        ("M0 P", "M0 Pnan"),
        ("M10 P5", "M10 P5"),
    ],
)
def test_plain_words_stay_words(line: str, expected: str) -> None:
    """Where all that follows is words or a comment, it is read as such."""
    assert words(line) == expected


def test_a_move_is_not_hidden_in_a_text() -> None:
    """A word that no waiting code has makes the whole line one of words, whatever follows."""
    assert words("M0 G1 X10 stop").startswith("M0 G1 X10 ")
    assert words("M0 S5 G1 X10 stop").startswith("M0 S5 G1 X10 ")
    with pytest.raises(SourceError, match="quotation mark"):
        read("M0 G1 X10 it's")


def test_only_codes_that_wait_take_a_text() -> None:
    """M0.5 is another code, and M3 is known to have none: what follows is read as words."""
    for code in ("M0.5", "M3", "M104", "M84", "M220", "M82"):
        with pytest.raises(SourceError):
            read(f"{code} it's time")


@pytest.mark.parametrize(
    "text",
    [
        "Layer 5 of 20",
        "wall begins: 12.5 mm, 3 clays",
        "Gabriel's bowl",
        "Done :)",
        "blue (cobalt",
        "Grün laden!",
        "S30 warm it",
        "P 5 go",
        'P5 "Load blue" now',
        "50 %, then go",
    ],
)
@pytest.mark.parametrize("code", ["M777", "m1234", "N5 M777"])
def test_a_text_behind_a_code_that_nobody_knows_is_no_words(code: str, text: str) -> None:
    """The code is all there is, and it is remembered that it was odd."""
    block = read(f"{code} {text}")
    assert words(f"{code} {text}") == code.upper()
    assert [odd.kind for odd in block.odd] == ["unknown code with text"]


@pytest.mark.parametrize(
    "text",
    [
        "go to X10",
        "G1 X5, Y5",
        "wait! G28",
        "E5 prime!",
        "now T1!",
        "a 5!",
        "x-.5 !",
        "#5 clays!",
        "[a]!",
    ],
)
def test_what_a_machine_could_carry_out_is_no_text(text: str) -> None:
    """Behind an unknown code too: a letter by itself with a number, or what is computed."""
    with pytest.raises(SourceError):
        Follower(read(f"M777 {text}"), MachineState(), Machine(), PathSection(unit="path"))


@pytest.mark.parametrize(
    "line", ["M777", "M777 S5 P2", "M777 X10 E5", "M777 A B C", 'M777 S0 A"a vase, 12" ', "M777 S1 ; now!"]
)
def test_words_behind_an_unknown_code_are_words_as_ever(line: str) -> None:
    """Letters by themselves, with or without numbers, and quoted texts."""
    assert not {odd.kind for odd in read(line).odd} & {"text", "unknown code with text"}


def test_the_reader_knows_what_the_motion_knows() -> None:
    """Every M code that means something further on is known here, so that no text is looked for behind it."""
    tables = (
        codes.STOPPING_M,
        codes.AFTER_MOVE_M,
        codes.PLAIN_M,
        codes.ENDING_M,
        codes.MIXING_M,
    )
    single = {
        codes.EXTRUDE_ABSOLUTE, codes.EXTRUDE_RELATIVE, codes.CLAY_ON, codes.CLAY_ON_REVERSE, codes.CLAY_OFF,
        codes.AIR_ON, codes.AIR_OFF, codes.FEED_FACTOR, codes.FLOW_FACTOR, codes.TOOL_CHANGE_M,
        codes.END_M,
    }  # fmt: skip
    tenths = frozenset().union(*tables, codes.REFUSED_M, single)
    assert {tenth // 10 for tenth in tenths} <= KNOWN_CODES


@given(st.text(st.characters(exclude_characters="\n\r", exclude_categories=("Cs",)), max_size=60))
def test_no_text_is_refused(text: str) -> None:
    """Whatever begins as a text of two letters can be read; M0 is its only word, and it moves nothing."""
    assert words(f"M0 Go{text}") == "M0"


@pytest.mark.parametrize("text", ["Change clay", "Load blue (cobalt", "it's 5 o'clock", "Change clay :)"])
@pytest.mark.parametrize("remark", ["", " ; blue"])
def test_a_numbered_line_keeps_its_checksum(text: str, remark: str) -> None:
    """The number before a text and the checksum after it are words, are checked, and are written anew."""
    code = f"N5 M0 {text}".encode()
    line = code + b"*%d" % checksum(code)
    assert words((line + remark.encode()).decode()) == f"N5 M0 *{checksum(code)}"
    Numbering().check(read((line + remark.encode()).decode()))
    with pytest.raises(SourceError, match="checksum"):
        Numbering().check(read(f"N5 M0 {text}*{checksum(code) ^ 1}{remark}"))
    first = b"N7 M0*%d" % checksum(b"N7 M0")
    after = code.replace(b"N5", b"N8")
    renumbered = Renumberer().source(first + b"\n" + line + remark.encode() + b"\n").splitlines()
    assert renumbered == [first, after + b"*%d" % checksum(after) + remark.encode()]
