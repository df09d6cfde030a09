"""The last few answers are kept, and no more: as the standard library's own cache of that size would."""

from __future__ import annotations

from functools import lru_cache

from hypothesis import given
from hypothesis import strategies as st

from gpost.common.latest import keep


@given(st.lists(st.integers(0, 6), max_size=40), st.integers(1, 4))
def test_what_was_asked_for_last_is_kept(asked: list[int], most: int) -> None:
    """Question by question there is an answer exactly where `functools.lru_cache` has one."""
    made: list[int] = []
    other = lru_cache(maxsize=most)(made.append)
    kept: dict[int, int] = {}
    for key in asked:
        count = len(made)
        other(key)
        assert (key in kept) is (len(made) == count)
        assert keep(kept, key, kept.get(key, 10 * key), most) == 10 * key
        assert len(kept) <= most
