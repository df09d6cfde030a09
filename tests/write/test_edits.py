"""Edits of words go where the words stand, in whatever spelling, and touch nothing else."""

from __future__ import annotations

import numpy as np
import pytest

from gpost.read.block import PAD, Block
from gpost.read.source import Chunk
from gpost.read.words import read_block
from gpost.write.edits import Edits
from tests.reference.outputs import SILENCED


def block_of(text: bytes) -> Block:
    """A block of some lines, the first of the file."""
    return read_block(Chunk(text, 0, 0))


def word_of(block: Block, letter: str, line: int) -> int:
    """Index of a letter's word on a line."""
    return next(int(i) for i in block.of(letter) if int(block.words.line[i]) == line)


def after(edits: Edits) -> bytes:
    """The whole block with its edits."""
    return edits.parts([PAD, len(edits.block.bytes) - PAD])[0]


@pytest.mark.parametrize(
    ("line", "edited"),
    [
        (b"G1 X5 F1200", b"G1 X5 F750"),
        (b"g1x5f1200", b"g1x5f750"),
        (b"G1 F 1200 X5", b"G1 F750 X5"),
        (b"G1 X5 F1.2e+03 ; F1", b"G1 X5 F750 ; F1"),
        (b"G1 F1200. (F9) X5", b"G1 F750 (F9) X5"),
        (b"N5 G1 X5 F1200*33", b"N5 G1 X5 F750*33"),
        (b"G1 X5 F1200\r", b"G1 X5 F750\r"),
    ],
)
def test_a_word_gets_another_number_in_its_place(line: bytes, edited: bytes) -> None:
    """The letter and everything around the number stay as they are."""
    block = block_of(b"G28\n" + line + b"\nG1 X6\n")
    edits = Edits(block)
    edits.numbers[word_of(block, "F", 1)] = "750"
    assert after(edits) == b"G28\n" + edited + b"\nG1 X6\n"


@pytest.mark.parametrize(
    ("line", "edited"),
    [
        (b"G1 X5", b"G1 X5 F750"),
        (b"N5 G1 X5*33", b"N5 G1 X5 F750*33"),
        (b"G1 X5 ; wall", b"G1 X5 F750 ; wall"),
        (b"G1 X5(wall)", b"G1 X5 F750(wall)"),
        (b"X5\r", b"X5 F750\r"),
    ],
)
def test_a_word_is_added_after_the_last_one(line: bytes, edited: bytes) -> None:
    """It comes before a checksum, a comment and the line's end."""
    block = block_of(line + b"\nG1 X6\n")
    edits = Edits(block)
    edits.after[0] = "F750"
    assert after(edits) == edited + b"\nG1 X6\n"


@pytest.mark.parametrize(
    ("line", "edited"),
    [
        (b"X5 I1", b"G2 X5 I1"),
        (b"N5 X5 I1*4", b"N5 G2 X5 I1*4"),
        (b"/X5 I1", b"/G2 X5 I1"),
        (b" x5i1", b" G2 x5i1"),
    ],
)
def test_a_word_is_added_before_the_first_one(line: bytes, edited: bytes) -> None:
    """It comes after the line number and the block-delete sign."""
    edits = Edits(block_of(line + b"\n"))
    edits.before[0] = "G2"
    assert after(edits) == edited + b"\n"


def test_a_last_line_without_a_newline_can_be_edited() -> None:
    """What is added at the very end of the data is not lost."""
    edits = Edits(block_of(b"G28\nG1 X5"))
    edits.after[1] = "F750"
    assert after(edits) == b"G28\nG1 X5 F750"


def test_a_silenced_line_becomes_a_comment() -> None:
    """The mark stands before everything but a byte order mark at the file's start."""
    edits = Edits(block_of(b"\xef\xbb\xbfM104 S5\n  M109 S5\n"))
    edits.silenced = [0, 1]
    assert after(edits) == b"\xef\xbb\xbf" + SILENCED + b"M104 S5\n" + SILENCED + b"  M109 S5\n"


def test_parts_of_the_block_are_spliced_apart() -> None:
    """Edits of a line come with the part that holds the line, also at its first byte."""
    block = block_of(b"G1 X1\nX2 I1\nM104 S5\nG1 X3\n")
    edits = Edits(block)
    edits.before[1], edits.silenced, edits.after[0] = "G2", [2], "F9"
    starts = [int(start) for start in block.line_start] + [len(block.bytes) - PAD]
    assert edits.parts(starts) == [b"G1 X1 F9\n", b"G2 X2 I1\n", SILENCED + b"M104 S5\n", b"G1 X3\n"]


def test_the_number_that_will_stand_there_can_be_asked_for() -> None:
    """Before an edit it is the source's, blanks taken out; after it the edit's."""
    block = block_of(b"G1 X1 2 . 5 E3\n")
    edits = Edits(block)
    x = word_of(block, "X", 0)
    assert (edits.text(x), edits.value(x)) == ("12.5", 12.5)
    edits.numbers[x] = "7.25"
    assert (edits.text(x), edits.value(x)) == ("7.25", 7.25)


@pytest.mark.parametrize("some", [1, 5, 40, 200, 400])
def test_many_numbers_and_single_edits_go_together(some: int) -> None:
    """However many lines have both: numbers put in at once, words before and after them, comments, other numbers."""
    count = 400
    lines = [f"G1 X{x} Y1 E{x}.5" for x in range(count)]
    block = block_of("\n".join([*lines, ""]).encode())
    edits = Edits(block)
    words = [int(word) for word in block.of("X")]
    edits.many(np.array(words), np.array([10 * x + 1 for x in range(count)]), np.ones(count, np.int64))
    expected = [f"G1 X{x}.1 Y1 E{x}.5" for x in range(count)]
    for x in range(0, count, count // some):
        edits.numbers[word_of(block, "E", x)] = "7"
        edits.after[x] = "F750"
        expected[x] = f"G1 X{x}.1 Y1 E7 F750"
        if x % 3 == 0:
            edits.before[x] = "G90"
            expected[x] = "G90 " + expected[x]
    assert after(edits).decode().splitlines() == expected
