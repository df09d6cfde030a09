"""Numbers in JSON hold no digits that are of rounding alone."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.report.digits import rounded


@given(st.floats(-1e9, 1e9))
def test_what_is_said_is_what_was_meant(number: float) -> None:
    """To ten digits and twelve decimals, and once is enough."""
    said = rounded(number)
    assert said == pytest.approx(number, rel=5e-10, abs=5e-13)
    assert rounded(said) == said
    assert said or math.copysign(1, said) == 1, "there is no -0.0"


def test_all_numbers_of_a_document() -> None:
    """At any depth; whole numbers, words and the rest stay as they are."""
    third, whole = 1 / 3, 12_345_678_901
    document = {"a": [third, {"b": (third, None)}], "n": whole, "on": True, "w": "0.1000000000001"}
    told = 0.3333333333
    assert rounded(document) == {
        "a": [told, {"b": [told, None]}],
        "n": whole,
        "on": True,
        "w": "0.1000000000001",
    }
