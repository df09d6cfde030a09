"""Line numbers and checksums: what a numbered file is, and that damage is found."""

from __future__ import annotations

from functools import reduce
from operator import xor

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.errors import SourceError
from gpost.read.numbering import Numbering, checksums
from gpost.read.source import Chunk
from gpost.read.words import read_block
from tests.reference.words import checksum

SUMMED = [
    "N3 T0*57",
    "N1 G28*18",
    "N0 M110 N0*125",
    "N1 G92 E0*70",
    "N2 G1 X10 Y20 F1500*74",
    "N123 M105*39",
    "N42 G1 X12.5 Y-3.0 E0.75*126",
    "N10 G1 X50 Y50 E1.25 F1200*0",
    "N10 G1 X50 Y50 E1.25 F1200 *32",
]
"""Computed by the rule of exclusive or over the bytes before the star (common practice, no source)."""


def checked(*lines: str | bytes, first_line: int = 0) -> Numbering:
    """The numbering after one block of these lines."""
    data = b"\n".join(line.encode() if isinstance(line, str) else line for line in lines) + b"\n"
    numbering = Numbering()
    numbering.check(read_block(Chunk(data, 0, first_line)))
    return numbering


@pytest.mark.parametrize("line", SUMMED)
def test_a_right_checksum_passes(line: str) -> None:
    """A line with the checksum of its bytes is taken, and makes the file a numbered one."""
    assert checked("G21", line, "G90").numbered


@pytest.mark.parametrize("line", SUMMED)
def test_a_wrong_checksum_is_refused(line: str) -> None:
    """A checksum that is one off is refused with its line."""
    content, _, total = line.rpartition("*")
    with pytest.raises(SourceError, match=rf"line 52: .*checksum.* {int(total) + 1}\b.* {total};"):
        checked("G21", f"{content}*{int(total) + 1}", "G90", first_line=50)


def test_a_damaged_character_is_found() -> None:
    """A number that changed on its way is found by the checksum."""
    with pytest.raises(SourceError, match="damaged"):
        checked("N2 G1 X70 Y20 F1500*74")


@pytest.mark.parametrize("content", ["N5 M117 half done", "N6 (a note) G1 X5", "n7 g1x5", "N8 G1 X-3e-05"])
def test_odd_lines_are_checked_too(content: str) -> None:
    """Messages, comments, small letters, exponents: the sum is over the bytes, whatever they say."""
    right = checksum(content.encode())
    assert checked(f"{content}*{right}").numbered
    with pytest.raises(SourceError, match="checksum"):
        checked(f"{content}*{right ^ 1}")


def test_the_sum_begins_at_the_number() -> None:
    """A byte order mark, blanks and a block-delete sign before the N are not summed."""
    total = checksum(b"N1 G28")
    for before in (b"\xef\xbb\xbf", b"  ", b"/", b" / "):
        assert checked(before + b"N1 G28*%d" % total).numbered


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("N1 G28*", "checksum"),
        ("N1 G28*18 X5", "stands after the checksum"),
        ("N1 G28*18*18", "stands after"),
    ],
)
def test_a_checksum_that_is_none(line: str, reason: str) -> None:
    """A star without a number, and words after a checksum, are refused."""
    with pytest.raises(SourceError, match=reason):
        checked(line)


def test_a_comment_may_follow_the_checksum() -> None:
    """What follows in a comment is no part of it."""
    assert checked("N1 G28*18 ; home", "N1 G28*18 (home)").numbered


def test_a_star_in_a_comment_is_no_checksum() -> None:
    """Stars in comments and messages say nothing."""
    assert not checked("; *33", "G1 X5 ; a*5", "M117 * 12").numbered


def test_a_file_is_numbered_if_lines_begin_with_numbers() -> None:
    """N at the head of a line numbers it; as a parameter (`M110 N5`) it doesn't."""
    assert checked("G21", "N5 G90").numbered
    assert not checked("G21", "M110 N5").numbered
    assert not checked("G21", "G90").numbered


@pytest.mark.parametrize(("data", "newline"), [(b"G1\n", b"\n"), (b"G1\r\nG1\r\n", b"\r\n"), (b"G1", b"\n")])
def test_line_ends_are_those_of_the_first_line(data: bytes, newline: bytes) -> None:
    """Inserted lines end as the first line does."""
    numbering = Numbering()
    numbering.check(read_block(Chunk(data, 0, 0)))
    assert numbering.newline == newline


@given(st.lists(st.binary(max_size=20), min_size=1, max_size=20))
def test_all_sums_at_once_are_the_sums_one_by_one(stretches: list[bytes]) -> None:
    """Exclusive or of each stretch of bytes; of nothing it is 0."""
    data = np.frombuffer(b"".join(part + b"|" for part in stretches), np.uint8)
    end = np.cumsum([len(part) + 1 for part in stretches]) - 1
    start = end - [len(part) for part in stretches]
    sums = checksums(data, start, end)
    assert sums.tolist() == [reduce(xor, part, 0) for part in stretches]
