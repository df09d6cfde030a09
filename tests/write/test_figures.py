"""Numbers as text, many at once: letter by letter what is written one by one."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.read.block import Words
from gpost.write.figures import (
    GONE,
    KEPT,
    MOST_DECIMALS,
    SAME_MM,
    Numbers,
    Raise,
    Ranges,
    Texts,
    fitting,
    rounded,
    value_of,
)
from gpost.write.script import number

DECIMALS = st.integers(0, MOST_DECIMALS)
PLACES = st.one_of(
    st.integers(-999, 999), st.integers(-(10**15) + 1, 10**15 - 1), st.sampled_from([0, 10, -500])
)


def column(values: list[int]) -> np.ndarray:
    """A list as a column of whole numbers."""
    return np.array(values, np.int64)


def texts_of(texts: Texts) -> list[str]:
    """The texts one by one."""
    ends = np.cumsum(texts.length).tolist()
    flat = texts.flat.tobytes().decode("ascii")
    return [flat[end - length : end] for end, length in zip(ends, texts.length.tolist(), strict=True)]


@given(st.lists(st.tuples(PLACES, DECIMALS), max_size=30))
def test_numbers_are_written_as_one_by_one(writer: ModuleType, pairs: list[tuple[int, int]]) -> None:
    """Up to the 15 digits that a float holds, `as_text` equals `script.number`, letter by letter."""
    places, decimals = column([p for p, _ in pairs]), column([d for _, d in pairs])
    assert texts_of(writer.as_text(places, decimals)) == [number(p / 10**d, d) for p, d in pairs]


@given(st.lists(st.tuples(st.integers(-(2**63) + 1, 2**63 - 1), DECIMALS), min_size=1, max_size=10))
def test_numbers_of_any_length_are_exact(writer: ModuleType, pairs: list[tuple[int, int]]) -> None:
    """Read back digit by digit every text is its number, without exponent and without zeros to trim."""
    places, decimals = column([p for p, _ in pairs]), column([d for _, d in pairs])
    for text, (place, decimal) in zip(texts_of(writer.as_text(places, decimals)), pairs, strict=True):
        whole, _, part = text.partition(".")
        assert int(whole + part.ljust(decimal, "0")) == place
        assert text not in ("-0", "")
        assert not part.endswith("0")
        assert whole.lstrip("-") == "0" or not whole.lstrip("-").startswith("0")


@pytest.mark.parametrize(
    ("places", "decimals", "text"),
    [
        (0, 3, "0"),
        (-0, 0, "0"),
        (1, 3, "0.001"),
        (-1, 3, "-0.001"),
        (1000, 3, "1"),
        (-12500, 3, "-12.5"),
        (100, 0, "100"),
        (-40, 1, "-4"),
        (123456789012345, 12, "123.456789012345"),
    ],
)
def test_zeros_are_trimmed(writer: ModuleType, places: int, decimals: int, text: str) -> None:
    """Zeros behind the last digit go, and so does a point with nothing behind it."""
    assert texts_of(writer.as_text(column([places]), column([decimals]))) == [text]


@given(st.floats(-1e6, 1e6), st.integers(0, 8))
def test_rounding_is_to_the_nearest_last_place(value: float, decimals: int) -> None:
    """A number is never off by more than half a last place (and what a float holds beyond it)."""
    places = rounded(np.array([value]), column([decimals]))
    assert abs(float(value_of(places, column([decimals]))[0]) - value) <= 0.5 * 10.0**-decimals + 1e-9


def test_half_a_last_place_is_rounded_to_even() -> None:
    """As Python's `round` does it, so that halves do not add up in one direction."""
    values, decimals = np.array([0.5, 1.5, 2.5, -0.5, 0.125, 0.375]), column([0, 0, 0, 0, 2, 2])
    assert rounded(values, decimals).tolist() == [0, 2, 2, 0, 12, 38]


@given(st.lists(st.tuples(st.floats(-1e8, 1e8), st.integers(0, 40)), max_size=10))
def test_decimals_fit_into_what_a_float_holds(pairs: list[tuple[float, int]]) -> None:
    """With the digits before the point they are 15 at most, and never more than asked for."""
    values, decimals = np.array([v for v, _ in pairs]), column([d for _, d in pairs])
    for fits, (value, decimal) in zip(fitting(decimals, values).tolist(), pairs, strict=True):
        before_point = len(str(int(abs(value))))
        assert fits == min(decimal, MOST_DECIMALS, max(15 - before_point, 0))


_GAINS = st.floats(-1e3, 1e3) | st.sampled_from([0.0, 1e-11, -1e-10, 4e-4])


@given(
    st.lists(
        st.tuples(st.floats(-1e8, 1e8), _GAINS, st.sampled_from([1.0, 25.4]), st.integers(0, 14)), max_size=10
    )
)
def test_numbers_are_raised_as_one_by_one(
    writer: ModuleType, rows: list[tuple[float, float, float, int]]
) -> None:
    """The sum to the decimals that fit, but not fewer than asked for; what gains nothing stays. Bit by bit the same.

    The words raised stand behind one that is none of them, so that an index is not a place in the list.
    """
    new = Numbers.none(len(rows) + 1)
    columns = [np.array([row[at] for row in rows], np.float64) for at in range(3)]
    asked = Raise(np.arange(1, len(rows) + 1), *columns, column([row[3] for row in rows]), 3)
    gained_mm = writer.raised(new, asked)
    assert new.decimals[0] == KEPT
    for at, (value, by_mm, scale, decimals) in enumerate(rows):
        wanted = value + by_mm / scale
        fits = fitting(column([max(decimals, 3 if scale == 1 else 4)]), np.array([wanted]))
        places = rounded(np.array([wanted]), fits)
        by = (float(value_of(places, fits)[0]) - value) * scale
        if abs(by_mm) > SAME_MM and abs(by) > SAME_MM:
            assert (new.places[at + 1], new.decimals[at + 1], gained_mm[at]) == (places[0], fits[0], by)
        else:
            assert (new.decimals[at + 1], gained_mm[at]) == (KEPT, 0.0)


def test_ordinary_numbers_keep_their_decimals() -> None:
    """Positions of a bed with the usual decimals are not touched."""
    assert fitting(column([3, 5, 0]), np.array([280.0, -279.99999, 0.0])).tolist() == [3, 5, 0]


@st.composite
def _changes(draw: st.DrawFn) -> tuple[bytes, list[tuple[int, int, bytes, bool]]]:
    """Bytes, and (start, end, text, whether they are a word: a letter and a number) of ranges of them that do not overlap."""
    data = draw(st.binary(max_size=60))
    cuts = sorted(draw(st.lists(st.integers(0, len(data)), max_size=16)))
    ranges = sorted(set(zip(cuts[0::2], cuts[1::2], strict=False)))
    kinds = [end > start + 1 and draw(st.booleans()) for start, end in ranges]
    texts = [draw(st.binary(max_size=5)) for _ in ranges]
    return data, [(*where, *how) for where, how in zip(ranges, zip(texts, kinds, strict=True), strict=True)]


@given(_changes(), st.data())
def test_a_splice_is_what_slices_would_make(
    writer: ModuleType, changes: tuple[bytes, list[tuple[int, int, bytes, bool]]], draw: st.DataObject
) -> None:
    """New numbers behind the letters of words, words taken out, and any texts in place of other ranges."""
    data, ranges = changes
    places = [(start, end) for start, end, _, is_word in ranges if is_word]
    start, end = column([a for a, _ in places]), column([b for _, b in places])
    words = Words(start, np.zeros(len(places), np.uint8), start, end, np.zeros(len(places)))
    decimals = [draw.draw(st.sampled_from([KEPT, GONE, 0, 1, 3])) for _ in places]
    numbers = Numbers(column([draw.draw(PLACES) for _ in places]), np.array(decimals, np.int8))
    said = {
        (a + (d != GONE), b): b"" if d == GONE else number(p / 10**d, d).encode()
        for (a, b), p, d in zip(places, numbers.places.tolist(), decimals, strict=True)
        if d != KEPT
    }
    texts = {(a, b): text for a, b, text, is_word in ranges if not is_word}
    added = Ranges(column([a for a, _ in texts]), column([b for _, b in texts]), Texts.of(list(texts.values())))
    changes_in_order = sorted({**said, **texts}.items())
    cuts = [at for at in range(len(data) + 1) if not any(a < at < b for (a, b), _ in changes_in_order)]
    out, after = writer.splice(np.frombuffer(data, np.uint8), words, numbers, added, column(cuts))
    expected, place = b"", 0
    for (a, b), text in changes_in_order:
        expected, place = expected + data[place:a] + text, b
    assert out.tobytes() == expected + data[place:]
    grown = [sum(len(text) - (b - a) for (a, b), text in changes_in_order if a < at) for at in cuts]
    assert after.tolist() == [at + by for at, by in zip(cuts, grown, strict=True)]
