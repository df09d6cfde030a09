"""A file with line numbers and checksums stays valid: numbers follow on, checksums fit."""

from __future__ import annotations

from functools import reduce
from operator import xor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.write.renumber import Renumberer, checksum
from tests.reference.interpreter import run


def summed(text: bytes) -> bytes:
    """A line with its checksum."""
    return text + b"*%d" % reduce(xor, text)


@pytest.mark.parametrize(
    ("text", "total"),
    [
        (b"N3 T0", 57),
        (b"N1 G28", 18),
        (b"N0 M110 N0", 125),
        (b"N1 G92 E0", 70),
        (b"N2 G1 X10 Y20 F1500", 74),
        (b"N123 M105", 39),
        (b"N42 G1 X12.5 Y-3.0 E0.75", 126),
        (b"N10 G1 X50 Y50 E1.25 F1200", 0),
        (b"N10 G1 X50 Y50 E1.25 F1200 ", 32),
    ],
)
def test_checksum_is_the_exclusive_or_of_all_bytes(text: bytes, total: int) -> None:
    """Common practice, no source; values computed by hand from the rule."""
    assert checksum(text) == total


def test_lines_after_an_insertion_count_on() -> None:
    """Inserted commands take the next numbers, with checksums; later lines follow; comments have none."""
    lines = [summed(b"N1 G28"), summed(b"N2 G1 X5"), summed(b"N3 G1 X6")]
    numbers = Renumberer(b"\n".join(lines))
    out = [numbers.source(lines[0] + b"\n"), numbers.inserted(b"; gpost: hello"), numbers.inserted(b"M0")]
    out.append(numbers.source(lines[1] + b"\r\n" + lines[2]))
    assert out == [
        summed(b"N1 G28") + b"\n",
        b"; gpost: hello",
        summed(b"N2 M0"),
        summed(b"N3 G1 X5") + b"\r\n" + summed(b"N4 G1 X6"),
    ]


def test_what_is_inserted_first_takes_over_the_first_number() -> None:
    """Before the first numbered line the numbers begin where the file's do."""
    start = b"; vase\n" + summed(b"N7 G28") + b"\n"
    numbers = Renumberer(start)
    assert numbers.inserted(b"M302 P1") == summed(b"N7 M302 P1")
    assert numbers.source(start) == b"; vase\n" + summed(b"N8 G28") + b"\n"


def test_a_silenced_line_leaves_no_gap() -> None:
    """A line that has become a comment is not counted."""
    numbers = Renumberer()
    text = (
        summed(b"N1 G28") + b"\n; gpost silenced: " + summed(b"N2 M104") + b"\n" + summed(b"N3 G1 X5") + b"\n"
    )
    assert numbers.source(text).splitlines()[-1] == summed(b"N2 G1 X5")


def test_numbers_without_checksums_stay() -> None:
    """They need no order (NIST RS274/NGC report, section 3.3.1); inserted lines then have none."""
    text = b"N10 G28\nN20 G1 X5 ; N3*4\n"
    numbers = Renumberer(text)
    assert numbers.inserted(b"M0") == b"M0"
    assert numbers.source(text) == text


@pytest.mark.parametrize(
    "line",
    [
        b"N1 G1 X5 (a; b)*%d",
        b"N1 M117 half (open*%d",
        b"N1 G1 X5*%d ; wall *9",
        b"N1 G1 X5 (*12)*%d (late)",
        b"N1  G1 X5 *%d",
        b"n001G1X5*%d",
    ],
)
def test_checksums_are_found_beside_comments_and_texts(line: bytes) -> None:
    """Wherever the checksum stands, the renumbered line is valid for the reference interpreter."""
    text = line.split(b"*%d")[0]
    source = line % reduce(xor, text)
    numbers = Renumberer(source)
    assert numbers.source(source) == source
    moved = Renumberer(source)
    moved.inserted(b"M400")
    renumbered = moved.source(source + b"\n")
    assert renumbered != source + b"\n"
    assert [event.error for event in run(renumbered)] == [None]


def test_a_set_line_number_starts_the_count_anew() -> None:
    """After M110 N100 the next line is 101, as the controller expects."""
    text = b"\n".join([summed(b"N1 G28"), summed(b"N2 M110 N100"), summed(b"N101 G1 X5"), b""])
    numbers = Renumberer(text)
    numbers.inserted(b"M400")
    assert numbers.source(text).splitlines() == [
        summed(b"N2 G28"),
        summed(b"N2 M110 N100"),
        summed(b"N101 G1 X5"),
    ]


def test_an_edited_line_without_a_number_gets_its_checksum_mended() -> None:
    """A checksum without a line number fits its line again after an edit; a right one is left alone."""
    numbers = Renumberer()
    assert numbers.source(summed(b"G1 X5") + b" ; a") == summed(b"G1 X5") + b" ; a"
    stale = b"G1 X5 F9" + summed(b"G1 X5")[5:]
    assert numbers.source(stale) == summed(b"G1 X5 F9")


@given(
    st.lists(st.sampled_from([b"G1 X5", b"M105", b"; c", b"M117 a * b", b"G1 X1 (x; y)", b""]), max_size=12)
)
def test_a_file_that_is_right_keeps_its_bytes(bodies: list[bytes]) -> None:
    """Consecutive numbers and right checksums are left as they are."""
    lines, number = [], 0
    for body in bodies:
        if body and not body.startswith(b";"):
            number += 1
            body = summed(b"N%d %s" % (number, body))
        lines.append(body + b"\n")
    text = b"".join(lines)
    assert Renumberer(text).source(text) == text


def test_a_byte_order_mark_and_a_block_delete_stay_in_front() -> None:
    """What stands before the number stays before it, and is not in the checksum."""
    source = b"\xef\xbb\xbf" + summed(b"N1 G28") + b"\n/" + summed(b"N2 G1 X5") + b"\n"
    numbers = Renumberer(source)
    numbers.inserted(b"M400")
    assert (
        numbers.source(source) == b"\xef\xbb\xbf" + summed(b"N2 G28") + b"\n/" + summed(b"N3 G1 X5") + b"\n"
    )
