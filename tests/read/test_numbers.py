"""Numbers are read as Python's float reads them, bit for bit, and what is no number is found."""

from __future__ import annotations

import re
import struct
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from gpost.read.numbers import parse_numbers
from gpost.read.source import Chunk
from gpost.read.words import read_block

DECIMAL = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)")
DIGITS = st.text("0123456789", max_size=24)


def parsed(texts: Sequence[str]) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """The texts as they stand in a file: one after the other, a letter before each."""
    data = np.frombuffer(b"\n" * 16 + "".join(f"X{text} " for text in texts).encode() + b"\n" * 16, np.uint8)
    lengths = np.array([len(text) for text in texts], np.intp)
    end = 16 + np.cumsum(lengths + 2) - 1
    return parse_numbers(data.copy(), end - lengths, end)


def bits(value: float) -> bytes:
    """The eight bytes of a float."""
    return struct.pack("<d", value)


def assert_same_as_float(texts: Sequence[str]) -> None:
    """Every text has float's value to the last bit, in a column of numbers and as a word of a line."""
    words = read_block(Chunk("".join(f"X{text}\n" for text in texts).encode(), 0, 0)).words
    assert [bits(value) for value in words.value.tolist()] == [bits(float(text)) for text in texts]
    value, bad = parsed(texts)
    for text, mine, is_bad in zip(texts, value.tolist(), bad.tolist(), strict=True):
        assert not is_bad, text
        assert bits(mine) == bits(float(text)), text


def decimal_texts() -> st.SearchStrategy[str]:
    """All that the line format calls a number (NIST RS274/NGC report, NISTIR 6556, section 3.3.2.1)."""
    signs = st.sampled_from(["", "", "-", "+"])
    numbers = st.tuples(DIGITS, st.sampled_from(["", ".", "."]), DIGITS)
    written = st.tuples(signs, numbers).map(lambda parts: parts[0] + "".join(parts[1]))
    return written.filter(DECIMAL.fullmatch)


@given(st.lists(decimal_texts(), min_size=1, max_size=30))
def test_every_decimal_has_the_value_of_float(texts: list[str]) -> None:
    """A number of any length, with or without sign and point, equals Python's float bit for bit."""
    assert_same_as_float(texts)


@given(
    st.lists(st.decimals(-(10**6), 10**6, places=12).map(lambda d: format(d, "f")), min_size=1, max_size=30)
)
def test_twelve_decimals_have_the_value_of_float(texts: list[str]) -> None:
    """Files made by scripts write twelve decimals; they equal Python's float bit for bit."""
    assert_same_as_float(texts)


@given(st.lists(st.floats(0, 1e15).map(lambda value: format(value, ".17f")), min_size=1, max_size=10))
def test_more_digits_than_a_float_holds(texts: list[str]) -> None:
    """Where the digits exceed 53 bits the rounding is float's."""
    assert_same_as_float(texts)


@pytest.mark.parametrize("length", range(1, 20))
def test_a_point_at_every_place(length: int) -> None:
    """The point may stand at any place of a number, before its first and after its last digit too."""
    digits = "9876543210123456789"[:length]
    assert_same_as_float(
        [sign + digits[:at] + "." + digits[at:] for at in range(length + 1) for sign in "+-"]
    )


def test_the_edge_of_53_bits() -> None:
    """Whole numbers round as float does around 2**53 and 2**63."""
    edges = [2**53, 2**54, 2**63, 10**15, 10**16]
    assert_same_as_float([str(edge + step) for edge in edges for step in (-1, 0, 1)])


@pytest.mark.parametrize("text", ["0", "-0", "00.00", "-.0", "+0."])
def test_zero_keeps_its_sign(text: str) -> None:
    """Zero is zero in every spelling, and minus zero is float's minus zero."""
    assert_same_as_float([text, "7"])


@pytest.mark.parametrize(
    "text",
    [
        *(".", "-", "+", "-.", "+.", "--5", "+-5", "5-", "5-3", "1.2.3", "1..2", ".5.", "5,3", "5/3"),
        *(",", "/", "1/", "12345678.9.1", "1.2345678.9", "1234567-8", "123456789-1", "-12345678901-2"),
        *("1234567890123456.7.8", "12345678901234567,1"),
    ],
)
def test_what_is_no_number(text: str) -> None:
    """A sign inside, a second point, no digit at all, a comma or a slash make no number."""
    value, bad = parsed(["1.5", text, "-2"])
    assert bad.tolist() == [False, True, False]
    assert np.isnan(value[1])
    assert value[[0, 2]].tolist() == [1.5, -2.0]


@given(st.lists(st.text("+-.,/0123456789", min_size=1, max_size=20), min_size=1, max_size=20))
def test_numbers_and_others_are_told_apart(texts: list[str]) -> None:
    """Of any mixture exactly the decimal numbers are read, and the rest is flagged."""
    value, bad = parsed(texts)
    assert bad.tolist() == [not DECIMAL.fullmatch(text) for text in texts]
    for text, mine, is_bad in zip(texts, value.tolist(), bad.tolist(), strict=True):
        assert is_bad or bits(mine) == bits(float(text))


def test_a_number_beyond_floats_is_flagged() -> None:
    """400 digits are no number that a float holds."""
    value, bad = parsed(["9" * 400, "1"])
    assert bad.tolist() == [True, False]
    assert np.isnan(value[0])


def test_no_numbers_at_all() -> None:
    """Nothing in, nothing out."""
    value, bad = parsed([])
    assert len(value) == len(bad) == 0
