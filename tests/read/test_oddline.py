"""The exact path: every spelling of a line, and every line that is refused, with its reason."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.errors import SourceError
from gpost.read.oddline import TEXT_CODES, Odd, OddWords, read_line
from tests.reference.programs import Draft, drafts
from tests.reference.words import read_line as reference_line


def shown(words: OddWords) -> str:
    """The words as text, flags without a number."""
    pairs = zip(words.letter, words.value, strict=True)
    return " ".join(chr(letter) + ("" if math.isnan(value) else f"{value:g}") for letter, value in pairs)


@pytest.mark.parametrize(
    ("line", "words", "kinds"),
    [
        # the published case of blanks inside numbers: NIST RS274/NGC report, NISTIR 6556, section 3.3
        (b"g0x +0. 12 34y 7", "G0 X0.1234 Y7", {Odd.SPACED}),
        (b"G1 X1 E2", "G1 X1 E2", set()),
        (b"g01x1y-2.5e.25", "G1 X1 Y-2.5 E0.25", set()),
        (b"G1.0 X+5 Y5. Z.5", "G1 X5 Y5 Z0.5", set()),
        (b"G1 5", "G15", {Odd.SPACED}),
        (b"\tG1 X 5\tY\t6 \t", "G1 X5 Y6", set()),
        (b"N12 G1 X5*104", "N12 G1 X5 *104", set()),
        (b"", "", set()),
        (b" \t ", "", set()),
        # comments
        (b"; all of it G1 X5", "", set()),
        (b"G1 X5 ; Y6 (", "G1 X5", set()),
        (b"G1 (to X9; still a comment) X5 (and Y) Y6", "G1 X5 Y6", set()),
        (b"G1 X5(glued)Y6", "G1 X5 Y6", set()),
        (b"(only) ; this", "", set()),
        (b'; a ) and a ( and a "', "", set()),
        # program marks
        (b"%", "", {Odd.PERCENT}),
        (b" % tape 1", "", {Odd.PERCENT}),
        (b"M2 %", "M2", {Odd.LAST_PERCENT}),
        (b"M30%", "M30", {Odd.TEXT}),
        (b"G1 X5 % ; the end", "G1 X5", {Odd.LAST_PERCENT}),
        (b"N90 M2*7 %", "N90 M2 *7", {Odd.LAST_PERCENT}),
        (b"M117 99 %", "M117", {Odd.TEXT}),
        (b"O1000", "", {Odd.PROGRAM_NUMBER}),
        (b" o 1 000 (bowl)", "", {Odd.PROGRAM_NUMBER}),
        (b":1000 ; bowl", "", {Odd.PROGRAM_NUMBER}),
        (b"/G1 X5", "G1 X5", {Odd.BLOCK_DELETE}),
        (b" / N5 X5", "N5 X5", {Odd.BLOCK_DELETE}),
        # flags, and a name
        (b"G28 X Y", "G28 X Y", {Odd.FLAG}),
        (b"G28XY", "G28 X Y", {Odd.FLAG}),
        (b"M84", "M84", set()),
        (b"SET_AIR AT=air VALUE=1", "", {Odd.NAMED_COMMAND}),
        (b"X5Y5(modal, no name)", "X5 Y5", set()),
        # damage
        (b"\0\0G1 X5\0\0\0", "G1 X5", {Odd.NUL}),
        (b"\0\0\0\0", "", {Odd.NUL}),
        # exponents: common practice, no source
        (b"G1 X-3e-05 Y2", "G1 X-3e-05 Y2", {Odd.EXPONENT}),
        (b"G1 X-3E-05 Y2", "G1 X-3e-05 Y2", {Odd.EXPONENT}),
        (b"g1 x1.5e-7 y2", "G1 X1.5 E-7 Y2", set()),
        (b"g1 x1.5e-07 y2", "G1 X1.5e-07 Y2", {Odd.EXPONENT}),
        (b"G1 X1.5e-7E2", "G1 X1.5e-07 E2", {Odd.EXPONENT}),
        (b"G1X10E5", "G1 X10 E5", set()),
        (b"G1X10E-5", "G1 X10 E-5", set()),
        (b"g1x10e5", "G1 X10 E5", set()),
        (b"G1E-05", "G1 E-5", set()),
        (b"G1 X1 e-05", "G1 X1 E-5", set()),
        (b"G1 E5.0e-06", "G1 E5e-06", {Odd.EXPONENT}),
        # quotes
        (b"M42 P3 'air'", "M42 P3", {Odd.QUOTED}),
    ],
)
def test_a_spelling(line: bytes, words: str, kinds: set[Odd]) -> None:
    """The line has these words, and this is odd about it."""
    found = read_line(line, 5)
    assert shown(found) == words
    assert set(found.kinds) == kinds


@pytest.mark.parametrize("code", sorted(TEXT_CODES))
@pytest.mark.parametrize(
    "text", [b"G1 X5 Y5", b"3/9 e-05", b"half; full", b"open ( only", b"a ) b", b"#5 [x]", b"\xff"]
)
def test_a_text_is_not_words(code: int, text: bytes) -> None:
    """After M117 and its like the rest of the line is text, whatever it holds (common practice)."""
    found = read_line(b"M%d %s" % (code, text), 0)
    assert shown(found) == f"M{code}"
    assert found.kinds == [Odd.TEXT]


@pytest.mark.parametrize(
    "line", [b"m117 G1 X5", b"M0117 G1 X5", b"G1 X5 M117 Y6", b"N3 M117 Y6", b"M 117 G1 X5", b"/M117 G1"]
)
def test_a_text_code_in_any_spelling(line: bytes) -> None:
    """A text begins after the code however that is written, and wherever on the line."""
    assert shown(read_line(line, 0)).endswith("M117")


def test_the_checksum_after_a_text() -> None:
    """On a numbered line a text ends before its checksum; elsewhere a star is text."""
    assert shown(read_line(b"N7 M117 9*9 done*55", 0)) == "N7 M117 *55"
    assert shown(read_line(b"M117 done*55", 0)) == "M117"


def test_a_code_that_only_begins_like_a_text_code() -> None:
    """M1170 and M117.5 are no M117."""
    assert shown(read_line(b"M1170 S5", 0)) == "M1170 S5"
    assert shown(read_line(b"M117.5 S5", 0)) == "M117.5 S5"


def test_the_byte_order_mark_belongs_to_the_first_line() -> None:
    """A byte order mark is passed over on the first line, and is a strange byte anywhere else."""
    found = read_line(b"\xef\xbb\xbfG1 X5", 0)
    assert (shown(found), found.start, found.kinds) == ("G1 X5", [3, 6], [Odd.BOM])
    with pytest.raises(SourceError, match="line 2"):
        read_line(b"\xef\xbb\xbfG1 X5", 1)


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        (b"#1=5", "parameters"),
        (b"G1 X#1", "parameters"),
        (b"G1 X[1+2]", "parameters"),
        (b"X[1+2]", "parameters"),
        (b"N5 G1 X#<depth>", "parameters"),
        (b"O100 G1 X5", "loops or calls"),
        (b":1000 G1", "can't be read"),
        (b"G1 X5 % Y6", "can't be read"),
        (b"G1 X5 %%", "can't be read"),
        (b"o<part> call", "loops or calls"),
        (b"N10 O100 sub", "loops or calls"),
        (b"WHILE [#1 LT 5] DO1", "loops or calls"),
        (b"IF [#1 EQ 0] GOTO 10", "loops or calls"),
        (b"goto 10", "loops or calls"),
        (b"(a (b) c", "inside"),
        (b"G1 X5 (open", "closes"),
        (b"G1 X5 closed)", "opened"),
        (b"G1 X1.2.3", "G-code"),
        (b"G1 X1-2", "G-code"),
        (b"G1 X--5", "G-code"),
        (b"G1 X.", "G-code"),
        (b"G1 X1,5", "G-code"),
        (b"G1 X5 / Y6", "G-code"),
        (b"G1 X5 = Y6", "G-code"),
        (b"\xff\xfe\x01", "G-code"),
        (b"G1 X5 \x1b[31m", "G-code"),
        (b"G1 X10e5", "exponent"),
        (b"G1 X1e+999", "too large"),
        (b"G1 X" + b"9" * 400, "too large"),
        (b'M42 "x', "closes"),
    ],
)
def test_a_refused_line(line: bytes, reason: str) -> None:
    """What can't be known ahead, and what is no G-code, is refused with its line (from 1) and a reason."""
    with pytest.raises(SourceError, match=reason) as caught:
        read_line(line, 41)
    assert str(caught.value).startswith("line 42: ")
    assert caught.value.line == 41


def test_messages_show_printable_text_only() -> None:
    """A strange byte in a message is shown by its number, so that a terminal doesn't act on it."""
    with pytest.raises(SourceError) as caught:
        read_line(b"G1 \x1b]0;pot\x07", 0)
    assert str(caught.value).isprintable()


@given(drafts(blanks_in_numbers=True))
def test_generated_lines_read_as_the_reference_reads_them(draft: Draft) -> None:
    """On every line of generated programs letters and values are those of the reference reader."""
    for number, raw in enumerate(draft.program.split(b"\n")):
        expected = reference_line(raw, first=number == 0)
        found = read_line(raw.rstrip(b"\r"), number)
        mine = [
            (chr(letter), None if math.isnan(value) else value)
            for letter, value in zip(found.letter, found.value, strict=True)
            if chr(letter) not in "N*"
        ]
        theirs = [(word.letter, None if word.value is None else float(word.value)) for word in expected.words]
        assert mine == theirs


@given(st.binary(max_size=60).filter(lambda raw: b"\n" not in raw))
def test_any_bytes_are_read_or_refused(raw: bytes) -> None:
    """Whatever a line holds, it is read, or refused with its line number; nothing else happens."""
    found, error = OddWords(), None
    try:
        found = read_line(raw, 6)
    except SourceError as caught:
        error = caught
    assert error is None or (error.line == 6 and str(error).isprintable())
    assert len(found.letter) == len(found.start) == len(found.end) == len(found.value)
    assert all(0 <= start < end <= len(raw) for start, end in zip(found.start, found.end, strict=True))


@pytest.mark.parametrize(
    "line",
    [
        "M115 U3.14.0",
        "M557 X10:200 Y10:200 S20",
        "M92 X80 E420:420",
        "M906 X800 E600:600:600",
        "M552 P192.168.1.5",
    ],
)
def test_lists_and_versions_behind_codes_that_have_them(line: str) -> None:
    """They stand in many files' own beginnings, and gpost takes no number of them (common practice, no source)."""
    words = read_line(line.encode(), 0)
    assert Odd.LIST in words.kinds
    assert (
        b"".join(line.encode()[a:b] + b" " for a, b in zip(words.start, words.end, strict=True)).strip()
        == line.encode()
    )


@pytest.mark.parametrize(
    "line", ["G1 X1.2.3", "G1 E1:2", "M92 E420 G1 X1.2.3 E5:5", "M221 S100:100", "X10:20", "M X1:2"]
)
def test_a_number_that_is_two_is_none_elsewhere(line: str) -> None:
    """Where gpost takes the number it must be one; the word is quoted from its letter on."""
    with pytest.raises(SourceError, match=r'line 1: "[A-Z][\d.:]+') as told:
        read_line(line.encode(), 0)
    assert "can't be read as G-code" in str(told.value)
