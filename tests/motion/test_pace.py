"""Lengths, corners and times are to the last bit the same by columns and where they are compiled."""

from __future__ import annotations

from collections.abc import Sequence
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from gpost.motion import pacecolumns, profile
from gpost.motion.profile import TimeProfile
from tests.motion.test_profile import ACCELERATIONS, DEVIATIONS, STREAMS, columns
from tests.reference.lookahead import Move
from tests.twins import using

pace = pytest.importorskip("gpost.motion.pace", reason="there was no compiler")

PLACES = st.one_of(
    st.sampled_from([0.0, -0.0, 1.0, 1.0, 1.0 + 5e-10, 1.0 + 2e-9, 1e-300, 1e6]), st.floats(-500.0, 500.0)
)
POINTS = st.lists(st.tuples(PLACES, PLACES, PLACES), min_size=1, max_size=40)


@pytest.fixture(scope="module", autouse=True)
def maker() -> None:
    """Both are tried in each test here."""


def assert_same(ours: Sequence[NDArray[Any]], theirs: Sequence[NDArray[Any]]) -> None:
    """The same bits, -0.0 told from 0.0."""
    for one, other in zip(ours, theirs, strict=True):
        assert (one.dtype, one.shape, one.tobytes()) == (other.dtype, other.shape, other.tobytes())


@given(POINTS, st.booleans())
def test_straight_moves(points: list[tuple[float, float, float]], turned: bool) -> None:
    """Between any points, also those that are hardly apart, and whether a row's values stand side by side or not."""
    path = np.array(points)
    rows = path.T if turned else np.ascontiguousarray(path.T)
    ends = rows[:, :-1], rows[:, 1:]
    assert_same(pacecolumns.straight(*ends), pace.straight(*ends))


def test_as_numpy_measures_them() -> None:
    """3, 4, 12 are 13 (a Pythagorean quadruple); up alone goes nowhere in X or Y; a billionth is no move at all."""
    points = np.array([[0, 0, 0], [3, 4, 12], [3, 4, 13], [3, 4, 13 + 9e-10]]).T
    xy, length, direction = pace.straight(points[:, :-1], points[:, 1:])
    assert xy.tolist() == [True, False, False]
    assert length.tolist() == [13.0, 1.0, 0.0]
    assert direction.T.tolist() == [[3 / 13, 4 / 13, 12 / 13], [0.0, 0.0, 1.0], [0.0, 0.0, 0.0]]


def times(
    module: ModuleType,
    moves: Sequence[Move],
    machine: tuple[float, float],
    cuts: Sequence[int],
    most_held: int,
) -> list[NDArray[np.float64]]:
    """The times that come out at each call, in the streams between these places."""
    whole, found = columns(moves), []
    for _ in using(module, (profile, "limits"), (profile, "settled")):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(profile, "MOST_HELD", most_held)
            planner = TimeProfile(acceleration_mm_s2=machine[0], corner_deviation_mm=machine[1])
            for first, end in zip([0, *cuts], [*cuts, len(moves)], strict=True):
                found.append(planner.add(*(column[..., first:end] for column in whole)))
            found.append(planner.finish())
    return found


@settings(deadline=None)
@given(STREAMS, ACCELERATIONS, DEVIATIONS, st.data(), st.sampled_from([100_000, 100_000, 7, 1]))
def test_any_stream(moves: list[Move], a: float, d: float, data: st.DataObject, most_held: int) -> None:
    """However the moves are dealt out, and however many may wait: the same moves are final, and take the same time."""
    if most_held < len(moves):  # the survey leaves out what goes nowhere, so that it is never all that waits
        moves = [move for move in moves if move.length]
    cuts = sorted(data.draw(st.lists(st.integers(0, len(moves)), max_size=5)))
    ours, theirs = (times(module, moves, (a, d), cuts, most_held) for module in (pacecolumns, pace))
    assert_same(ours, theirs)
