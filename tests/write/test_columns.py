"""Values that hold from one line of a block to the next."""

from __future__ import annotations

import numpy as np

from gpost.write.columns import Column, on_lines


def lines(*numbers: int) -> np.ndarray:
    """Lines of a block."""
    return np.array(numbers, np.int64)


def test_a_value_holds_from_the_line_after_its_own() -> None:
    """Before the first event it is the initial one, on an event's own line still the one before."""
    column = Column(1.0, lines(2, 5), np.array([10.0, 20.0]))
    assert [column.before(line) for line in range(7)] == [1, 1, 1, 10, 10, 10, 20]
    assert column.at(lines(0, 2, 3, 6)).tolist() == [1, 1, 10, 20]
    assert column.last == 20


def test_of_several_values_on_one_line_the_last_counts() -> None:
    """Lists are joined by line; on one line the later list comes later."""
    column = Column.joined(0.0, (lines(1, 4), np.array([1.0, 2.0])), (lines(1), np.array([7.0])))
    assert column.line.tolist() == [1, 1, 4]
    assert [column.before(line) for line in (1, 2, 5)] == [0, 7, 2]
    assert Column.joined(3.0, (lines(), np.zeros(0)), (lines(), np.zeros(0))).last == 3


def test_a_column_that_never_changes() -> None:
    """It has one value before, through and after the block."""
    assert Column(2.0).is_always(2.0)
    assert Column(2.0, lines(1), np.array([2.0])).is_always(2.0)
    assert not Column(2.0, lines(1), np.array([3.0])).is_always(2.0)
    assert not Column(0.0, lines(1), np.array([2.0])).is_always(2.0)


def test_a_scalar_stands_for_a_column() -> None:
    """What never changes in a block is a scalar, and the same on all lines."""
    assert on_lines(25.4, lines(0, 3)).tolist() == [25.4, 25.4]
    assert on_lines(np.array([1.0, 2.0, 3.0]), lines(0, 2)).tolist() == [1.0, 3.0]
