"""Which numbers are among others, and which there are."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from gpost.common.among import among, distinct

NUMBERS = st.lists(st.integers(-20, 20), max_size=30)


@given(NUMBERS, NUMBERS)
def test_as_numpy_says_it(some: list[int], others: list[int]) -> None:
    """In any order, with numbers more than once, and none at all."""
    found = among(some, np.array(others, np.int64))
    assert found.tolist() == np.isin(np.array(some, np.int64), others).tolist()


@given(NUMBERS)
def test_each_once(numbers: list[int]) -> None:
    """Ascending, however often and in whatever order they stand."""
    found = distinct(np.array(numbers, np.int64))
    assert found.dtype == np.int64
    assert found.tolist() == sorted(set(numbers))
