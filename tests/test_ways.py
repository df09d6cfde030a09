"""Ways over the bed: how far two are apart, and whether they come near."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from gpost.common.ways import apart_mm, come_near, once

Place = tuple[float, float]
TENTHS = st.integers(0, 600).map(lambda tenths: tenths / 10)
PATHS = st.lists(st.tuples(TENTHS, TENTHS), min_size=2, max_size=6)


def from_leg_mm(place: Place, start: Place, end: Place) -> float:
    """Distance of a place from a straight leg: to the foot of its perpendicular, kept on the leg."""
    (px, py), (ax, ay), (bx, by) = place, start, end
    square = (bx - ax) ** 2 + (by - ay) ** 2
    share = max(0.0, min(1.0, ((px - ax) * (bx - ax) + (py - ay) * (by - ay)) / square)) if square else 0.0
    return math.hypot(px - ax - share * (bx - ax), py - ay - share * (by - ay))


def crosses(a: Place, b: Place, c: Place, d: Place) -> bool:
    """Whether two legs cross: the ends of each lie on both sides of the other."""

    def side(p: Place, q: Place, r: Place) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0


def exactly_mm(one: list[Place], other: list[Place]) -> float:
    """The distance of two paths, leg by leg."""
    found = math.inf
    for a, b in pairwise(one):
        for c, d in pairwise(other):
            ends = (from_leg_mm(a, c, d), from_leg_mm(b, c, d), from_leg_mm(c, a, b), from_leg_mm(d, a, b))
            found = min(found, 0.0 if crosses(a, b, c, d) else min(ends))
    return found


def points(path: list[Place]) -> NDArray[np.float64]:
    """As columns of places."""
    return np.array(path, np.float64).T


@given(one=PATHS, other=PATHS, far_mm=st.sampled_from([2.0, 5.0, 7.5, 20.0]))
def test_paths_come_near_if_they_are_so_near(one: list[Place], other: list[Place], far_mm: float) -> None:
    """By the exact distance, but where that is just the limit; and always as the distance by points has it."""
    exact_mm, by_points_mm = exactly_mm(one, other), apart_mm(points(one), points(other))
    near = come_near(points(one), points(other), far_mm)
    assert near == (by_points_mm <= far_mm)
    if exact_mm >= 2:
        assert by_points_mm == pytest.approx(exact_mm, abs=0.03)
    if abs(exact_mm - far_mm) > 0.4:  # two paths that cross may be seen half a spacing apart
        assert near == (exact_mm < far_mm)


def test_a_path_without_points_is_near_to_none() -> None:
    """And one of a single point is near to what comes near to that."""
    none, one, line = np.zeros((2, 0)), points([(5, 5)]), points([(0, 0), (10, 0)])
    assert not come_near(none, line, 100)
    assert not come_near(line, none, 100)
    assert come_near(one, line, 5)
    assert not come_near(one, line, 4.9)


def test_each_place_once_in_its_order() -> None:
    """Of places within a hundredth of a mm the first."""
    path = points([(3, 4), (1, 2), (3.001, 4.001), (1, 2), (0, 9), (1, 3)])
    assert once(path).T.tolist() == [[3, 4], [1, 2], [0, 9], [1, 3]]
    assert once(np.zeros((2, 0))).shape == (2, 0)
