"""How many decimals numbers are written with."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.read.block import Block
from gpost.read.source import Chunk
from gpost.read.words import read_block
from gpost.write.decimals import decimals_of, decimals_of_words


def block(*lines: str) -> Block:
    """Some lines as a block."""
    return read_block(Chunk(("\n".join(lines) + "\n").encode(), 0, 0))


@pytest.mark.parametrize(
    ("text", "decimals"),
    [
        ("12", 0),
        ("12.", 0),
        ("12.50", 2),
        (".125", 3),
        ("-0.1", 1),
        ("1.5e-3", 4),
        ("1.25E+1", 1),
        ("3e5", 0),
    ],
)
def test_decimals_of_a_text(text: str, decimals: int) -> None:
    """Digits behind the point, zeros at the end counted, and an exponent with its sign."""
    assert decimals_of(text) == decimals


NUMBERS = st.from_regex(r"[-+]?([0-9]{1,4}(\.[0-9]{0,9})?|\.[0-9]{1,9})", fullmatch=True)


@given(st.lists(st.tuples(NUMBERS, NUMBERS), min_size=1, max_size=20), st.booleans())
def test_many_at_once_are_as_one_by_one(pairs: list[tuple[str, str]], glued: bool) -> None:
    """Words side by side, with blanks or without: a number never counts its neighbour's point."""
    read = block(*(f"G1X{x}Y{y}" if glued else f"G1 X{x} Y{y} ; 1.2.3" for x, y in pairs))
    assert decimals_of_words(read, read.of("X")).tolist() == [decimals_of(x) for x, _ in pairs]
    assert decimals_of_words(read, read.of("Y")).tolist() == [decimals_of(y) for _, y in pairs]


def test_odd_lines_are_read_exactly() -> None:
    """Exponents and blanks inside a number; plain lines beside them, and a letter without a number."""
    read = block("G1 X1.5e-3", "G1 X1.25", "G1 X1 2 . 5", "G28 X", "G1 X7")
    assert decimals_of_words(read, read.of("X")).tolist() == [4, 2, 1, 0, 0]


def test_no_words_have_no_decimals() -> None:
    """A block without the letter gives nothing."""
    assert decimals_of_words(block("M107"), block("M107").of("X")).tolist() == []
