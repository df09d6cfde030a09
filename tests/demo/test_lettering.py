"""Columns as words, and checksums: against Python's own number formatting and known lines."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.demo.lettering import LetterColumn, joined, numbered

STEPS = st.lists(st.integers(-(10**9), 10**9), min_size=1, max_size=30)


def column(steps: list[int], decimals: int, *, trim: bool = False, letter: str = "X") -> LetterColumn:
    """A column that stands on every line."""
    return LetterColumn(letter, np.array(steps), np.ones(len(steps), bool), decimals, trim)


@given(STEPS, st.integers(0, 9))
def test_words_say_their_steps_exactly(steps: list[int], decimals: int) -> None:
    """A word holds its whole steps with the point moved, whatever the number of decimals."""
    for word, step in zip(column(steps, decimals).words(), steps, strict=True):
        assert word[:2] == " X"
        assert int(word[2:].replace(".", "")) == step
        assert len(word.partition(".")[2]) == decimals


@given(STEPS, st.integers(0, 9))
def test_trimming_changes_no_value(steps: list[int], decimals: int) -> None:
    """A trimmed word has the same value and ends neither in a point nor in a zero after one."""
    full = column(steps, decimals).words()
    for word, long in zip(column(steps, decimals, trim=True).words(), full, strict=True):
        assert float(word[2:]) == float(long[2:])
        assert not word.endswith(".")
        assert "." not in word or not word.endswith("0")


def test_a_word_stands_only_where_it_is_wanted() -> None:
    """Lines are made of the words that stand on them, in the order of the columns."""
    x = LetterColumn("X", np.array([1, 2, 3]), np.array([True, False, True]), 0)
    y = LetterColumn("Y", np.array([10, 25, 0]), np.array([True, True, False]), 1)
    assert joined([x, y]) == ["X1 Y1.0", "Y2.5", "X3"]
    assert joined([x.part(slice(1, 3)), y.part(slice(1, 3))]) == ["Y2.5", "X3"]


@pytest.mark.parametrize(
    ("line", "number", "check"), [("G28", 1, 18), ("G1 X10 Y20 F1500", 2, 74), ("T0", 3, 57)]
)
def test_checksums_are_those_of_serial_links(line: str, number: int, check: int) -> None:
    """The checksum is the exclusive or of the bytes before `*` (common practice; worked by hand)."""
    lines = ["M107"] * (number - 1) + [line]
    assert numbered(lines)[-1] == f"N{number} {line}*{check}"


def test_comments_get_no_number() -> None:
    """A comment line stays as it is, and the count goes on behind it."""
    assert numbered(["G28", "; next ring", "G90"])[1:] == ["; next ring", "N2 G90*18"]
