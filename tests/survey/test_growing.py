"""A table that grows in place keeps its rows, and has no others."""

from __future__ import annotations

import numpy as np
import pytest

from gpost.survey.growing import FIRST_ROOM, Growing

DTYPE = np.dtype([("line", "i8"), ("said", "?")])


@pytest.mark.parametrize(
    "parts", [[], [1], [FIRST_ROOM], [FIRST_ROOM + 1], [200, 57], [3, 5000, 1, 0, 700], [100] * 40]
)
def test_rows_stay_as_they_were_filled(parts: list[int]) -> None:
    """However they come; what is added is empty at first."""
    table, count = Growing(DTYPE), 0
    for part in parts:
        rows = table.add(part)
        assert len(rows) == part
        assert not rows["line"].any()
        rows["line"] = np.arange(count, count + part) + 1
        count += part
        assert len(table) == count
        assert table.rows["line"].tolist() == list(range(1, count + 1))
    assert table.cut(count)["line"].tolist() == list(range(1, count + 1))


def test_it_is_cut_to_its_first_rows() -> None:
    """What was added in vain is given back."""
    table = Growing(DTYPE)
    table.add(300)["line"] = np.arange(300)
    assert table.cut(7)["line"].tolist() == list(range(7))


def test_it_grows_by_an_eighth_or_by_what_is_needed() -> None:
    """So that rows that come one by one don't move all others each time."""
    table = Growing(DTYPE)
    table.add(FIRST_ROOM)
    whole = table.rows.base
    table.add(1)
    assert len(table.rows.base) == FIRST_ROOM * 9 // 8  # type: ignore[arg-type]
    table.add(1000)
    assert len(table.rows.base) == FIRST_ROOM + 1001  # type: ignore[arg-type]
    assert whole is not None
