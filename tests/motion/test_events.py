"""Sparse events as columns: the same as going through them one by one."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.motion.events import running, spread

Event = tuple[float, bool]
NUMBERS = st.floats(-1e6, 1e6)


@given(st.integers(0, 30), st.lists(st.tuples(st.integers(0, 30), NUMBERS), max_size=10), NUMBERS)
def test_a_value_holds_until_the_next(length: int, said: list[tuple[int, float]], initial: float) -> None:
    """From each event's index on the column has its value; of several at one index the last counts."""
    events = sorted(((min(at, length), value) for at, value in said), key=lambda event: event[0])
    expected = [initial] * length
    for at, value in events:
        expected[at:] = [value] * (length - at)
    lines = np.array([at for at, _ in events], np.int64)
    values = np.array([value for _, value in events], np.float64)
    assert spread(lines, values, initial, length).tolist() == expected


@given(st.lists(st.tuples(NUMBERS, st.booleans() | st.just(False)), max_size=30), NUMBERS, st.integers(1, 9))
def test_a_register_is_set_or_moved(events: list[Event], initial: float, times: int) -> None:
    """Each event sets the register or adds to it, as a loop over the events does, to the last bit."""
    events = events + [(value / 3, False) for value, _ in events] * times
    expected, here = [], initial
    for value, is_set in events:
        here = value if is_set else here + value
        expected.append(here)
    values = np.array([value for value, _ in events])
    flags = np.array([is_set for _, is_set in events], np.bool_)
    assert running(values, flags, initial).tolist() == expected


@given(st.lists(NUMBERS, min_size=1, max_size=30), NUMBERS)
def test_one_kind_of_event_may_be_said_at_once(values: list[float], initial: float) -> None:
    """True for all set, False for all added, says the same as a flag for each."""
    column = np.array(values)
    for is_set in (True, False):
        each = running(column, np.full(len(values), is_set), initial)
        assert running(column, is_set, initial).tolist() == each.tolist()


@given(st.lists(NUMBERS, min_size=2, max_size=30), st.data(), NUMBERS)
def test_a_long_sum_rounds_like_short_ones(values: list[float], data: st.DataObject, initial: float) -> None:
    """Where a relative register is cut between two blocks makes no difference, to the last bit."""
    cut = data.draw(st.integers(1, len(values) - 1))
    column = np.array(values)
    flags = np.array(data.draw(st.lists(st.booleans(), min_size=len(values), max_size=len(values))))
    first = running(column[:cut], flags[:cut], initial)
    second = running(column[cut:], flags[cut:], float(first[-1]))
    assert np.concatenate([first, second]).tolist() == running(column, flags, initial).tolist()


@pytest.mark.parametrize("count", [61, 62, 63, 64, 65, 66, 200])
def test_long_sums_and_short_ones_come_out_alike(count: int) -> None:
    """However many events move a register between two that set it, to the last bit."""
    values = np.array([5.0, *([0.1] * count), 7.0, *([0.3] * count)])
    flags = np.zeros(len(values), np.bool_)
    flags[[0, count + 1]] = True
    expected, here = [], 2.5
    for value, is_set in zip(values.tolist(), flags.tolist(), strict=True):
        here = value if is_set else here + value
        expected.append(here)
    assert running(values, flags, 2.5).tolist() == expected
    assert running(values[1:], flags[1:], 5.0).tolist() == expected[1:]
