"""The readers find, on whole chunks, exactly the words that the exact path finds line by line."""

from __future__ import annotations

import math
import re

import gcodeparser  # type: ignore[import-untyped]
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pygcode.words import text2words  # type: ignore[import-untyped]

from gpost.errors import SourceError
from gpost.read.block import PAD, Block
from gpost.read.oddline import read_line
from gpost.read.source import Chunk
from gpost.read.words import read_block
from tests.reference.programs import Draft, Piece, drafts, piece_programs, programs

Word = tuple[int, str, int, int, float | None]
"""Line, letter, start and end within the line, value (None: no number)."""

FRAGMENTS = (
    *(b"G1", b"g0", b"X1.5", b"Y-2", b"e.3", b"F1800", b"X-3e-05", b"1E-07", b"e-07", b"E5", b"N7", b"*93"),
    *(b" ", b"\t", b";", b"(", b")", b"(a ; b)", b"; G1 X9", b"%", b"/", b"\0", b"M117", b"m30", b"M1"),
    *(b"#", b"[", b"O5", b"IF", b"SET_A", b"XY", b"-", b".", b"5", b"12345678901234567.5", b"\xc3\xa9", b'"'),
)
"""All that a line may hold, and much that it may not."""
FOR_OTHERS = re.compile(rb"[GMT][^(;]*")
"""A line that begins with a command and has no comment; others have their own ideas of the rest."""
NOT_FOR_OTHERS = re.compile(rb"M(117|118|23|30)\b|G28 [XYZ]|G92\.1")
"""They read no free text and no flags, and one of them no tenths of a code."""


def block_of(data: bytes, *, first_line: int = 0) -> Block:
    """The block of one chunk."""
    return read_block(Chunk(data, 0, first_line))


def words_of(block: Block) -> list[Word]:
    """All words, in the order of the file."""
    w = block.words
    start = w.start - block.line_start[w.line]
    end = w.end - block.line_start[w.line]
    columns = (w.line.tolist(), w.letter.tolist(), start.tolist(), end.tolist(), w.value.tolist())
    return [
        (line, chr(letter), first, last, None if math.isnan(value) else value)
        for line, letter, first, last, value in zip(*columns, strict=True)
    ]


def words_line_by_line(data: bytes, *, first_line: int = 0) -> list[Word]:
    """The same, by the exact path on every line."""
    found: list[Word] = []
    for line, raw in enumerate(data.split(b"\n")):
        words = read_line(raw, first_line + line)
        for letter, start, end, value in zip(words.letter, words.start, words.end, words.value, strict=True):
            found.append((line, chr(letter), start, end, None if math.isnan(value) else value))
    return found


def outcome(read: object, data: bytes) -> object:
    """What reading gives: words, or the line that is refused and why."""
    try:
        return read(data)  # type: ignore[operator]
    except SourceError as error:
        return (error.line, str(error))


def codes_and_values(data: bytes) -> list[list[tuple[str, float]]]:
    """(letter, value) of the words of each line that has any."""
    lines: dict[int, list[tuple[str, float]]] = {}
    for line, letter, _, _, value in words_of(block_of(data)):
        assert value is not None
        lines.setdefault(line, []).append((letter, value))
    return list(lines.values())


@given(drafts(blanks_in_numbers=True))
def test_generated_programs_read_the_same_both_ways(draft: Draft) -> None:
    """On every program, in every spelling, both paths find the same words at the same places."""
    assert words_of(block_of(draft.program)) == words_line_by_line(draft.program)


@given(piece_programs())
def test_whole_pieces_read_the_same_both_ways(piece: Piece) -> None:
    """The same for programs that print a pot."""
    assert words_of(block_of(piece.program)) == words_line_by_line(piece.program)


@given(st.lists(st.lists(st.sampled_from(FRAGMENTS), max_size=6).map(b"".join), min_size=1, max_size=8))
def test_any_mixture_reads_the_same_both_ways(lines: list[bytes]) -> None:
    """Lines put together from all that a line may hold give the same words, or the same refusal."""
    data = b"\n".join(lines)
    expected = outcome(words_line_by_line, data)
    assert outcome(lambda given_data: words_of(block_of(given_data)), data) == expected


@given(st.binary(max_size=200).map(lambda raw: raw.replace(b"\r", b"")))
def test_any_bytes_read_the_same_both_ways(data: bytes) -> None:
    """The same for bytes of any kind."""
    expected = outcome(words_line_by_line, data)
    assert outcome(lambda given_data: words_of(block_of(given_data)), data or b"\n") == expected


@given(programs(plain=True, several_codes=False))
def test_the_parsers_of_others_read_the_same(program: bytes) -> None:
    """Where two general-purpose parsers can read a program they find the same words."""
    lines = [line for line in program.splitlines() if FOR_OTHERS.fullmatch(line)]
    text = b"\n".join(line for line in lines if not NOT_FOR_OTHERS.match(line)).decode()
    mine = codes_and_values(text.encode())
    assert mine == [[(w.letter, float(w.value)) for w in text2words(line)] for line in text.splitlines()]
    parsed = gcodeparser.parse_gcode_lines(text, include_comments=False)
    theirs = [[line.command, *line.params.items()] for line in parsed]
    assert [[(a, float(b)) for a, b in line] for line in theirs] == mine


@given(drafts())
def test_each_word_stands_where_it_says(draft: Draft) -> None:
    """A word's start is its letter, and from there to its end stands its number."""
    block = block_of(draft.program)
    w = block.words
    for letter, start, end, value in zip(w.letter, w.start, w.end, w.value, strict=True):
        text = block.bytes[start:end].tobytes()
        assert text[:1].upper() == bytes([letter])
        if not np.isnan(value):
            assert float(text[1:].replace(b" ", b"")) == value
    assert (np.diff(w.start) > 0).all()
    assert (np.diff(w.line) >= 0).all()


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"G1 X5 ; G1 X999 E5 F1", "G1 X5"),
        (b"; G1 X999", ""),
        (b"M117 G1 X5 Y5 E3", "M117"),
        (b"g1x1y2", "G1 X1 Y2"),
        (b"G1 X1\r\nY2\r\n", "G1 X1 Y2"),
        (b"\xef\xbb\xbfG1 X1", "G1 X1"),
        (b"\tG1\tX1\t\n\n\n", "G1 X1"),
        (b"%\nG1 X1\n%", "G1 X1"),
        (b"/G1 X1", "G1 X1"),
        (b"\0" * 300 + b"\nG1 X1\0\n", "G1 X1"),
        (b";" + b" clay" * 1400 + b"\nX1", "X1"),
        (b"(a ; b) G1 X1 ; (c", "G1 X1"),
        (b"G1 X1;\xff\xfe \xe9 Y2\nY3", "G1 X1 Y3"),
        (b"N3 T0*57", "N3 T0 *57"),
        (b"M23 pots/X5.g\nG1 X1", "M23 G1 X1"),
        (b"", ""),
    ],
)
def test_a_chunk(data: bytes, words: str) -> None:
    """What real files hold is read: comments, texts, line ends, marks, damage."""
    block = block_of(data)
    found = " ".join(chr(a) + f"{b:g}" for a, b in zip(block.words.letter, block.words.value, strict=True))
    assert found == words


@pytest.mark.parametrize("data", [b"G1 X1\rG1 X2\n", b"G1 X1\r\r\n", b"; a\rb\nG1 X1\n", b"\rG1 X1\n"])
def test_a_lone_carriage_return_is_refused(data: bytes) -> None:
    """A carriage return inside a line, even in a comment, may end it for a controller; it is refused."""
    with pytest.raises(SourceError, match="line 8: a carriage return") as caught:
        block_of(data, first_line=7)
    assert caught.value.line == 7


def test_the_first_refused_line_is_named() -> None:
    """Of several lines that can't be read the first is named, counted from the start of the file."""
    with pytest.raises(SourceError, match="line 103: "):
        block_of(b"G1 X1\nG1 X2\nG1 X1.2.3\nG1 X#5\n", first_line=100)


def test_the_first_line_is_that_of_the_file() -> None:
    """A byte order mark in a later chunk is no byte order mark."""
    with pytest.raises(SourceError, match="line 2: "):
        block_of(b"\xef\xbb\xbfG1 X1\n", first_line=1)


def test_what_is_odd_is_remembered() -> None:
    """A block says which of its lines were odd, and how."""
    block = block_of(b"G1 X1\nG1 X-3e-05\nM117 hello\n%\n", first_line=50)
    assert [(odd.line, odd.kind) for odd in block.odd] == [(1, "exponent"), (2, "text"), (3, "percent")]


@given(drafts(blanks_in_numbers=True))
def test_the_words_of_a_letter_are_those_among_all(draft: Draft) -> None:
    """`of` and `said` give a letter's words as they are found by going through all, in the same order."""
    block = block_of(draft.program)
    for code in range(128):
        index = np.flatnonzero(block.words.letter == code)
        line, value = block.said(chr(code))
        assert block.of(chr(code)).tolist() == index.tolist()
        assert line.tolist() == block.words.line[index].tolist()
        assert np.array_equal(value, block.words.value[index], equal_nan=True)


def test_words_by_letter() -> None:
    """`of` gives the places of a letter's words, and `counts` how many there are."""
    block = block_of(b"G1 X1 Y2\nM117 X9\nX3 ; X4\nN5 G1*9\n")
    assert block.words.value[block.of("X")].tolist() == [1.0, 3.0]
    assert block.counts[ord("X")] == 2
    assert len(block.of("Z")) == block.counts[ord("Z")] == 0
    assert block.words.value[block.of("*")].tolist() == [9.0]


def test_lines_of_a_block() -> None:
    """Every line's bytes can be had, with or without a newline at the end."""
    block = block_of(b"G1 X1\r\n\n; c\nX2")
    assert [block.line_bytes(line) for line in range(block.lines)] == [b"G1 X1\r", b"", b"; c", b"X2"]
    assert block.line_start[0] == PAD
