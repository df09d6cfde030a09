"""Ways over the bed: how far two are apart, and whether they come near."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from gpost.common import ways
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


@pytest.mark.parametrize("few_pairs", [0, 1_000_000])
def test_the_least_of_many_distances(few_pairs: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two circles in each other, 10 mm apart at their nearest, whichever way it is found."""
    monkeypatch.setattr(ways, "FEW_PAIRS", few_pairs)
    monkeypatch.setattr(ways, "PAIRS_AT_ONCE", 1000)
    turn = np.linspace(0, 2 * math.pi, 721)
    inner, outer = (np.array([at + r * np.cos(turn), r * np.sin(turn)]) for at, r in ((10, 30), (0, 50)))
    assert apart_mm(inner, outer) == pytest.approx(10, abs=1e-3)


@given(parts=st.sampled_from([1, 2, 5]), one=PATHS, other=PATHS)
def test_a_path_looked_at_in_parts_comes_as_near(parts: int, one: list[Place], other: list[Place]) -> None:
    """However few of its legs are taken at once."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ways, "MOST_LEGS", parts)
        patch.setattr(ways, "MOST_MM", 5.0 * parts)
        in_parts = come_near(points(one), points(other), 5.0)
    exact_mm = exactly_mm(one, other)
    if abs(exact_mm - 5.0) > 0.4:
        assert in_parts == (exact_mm < 5.0)


@given(PATHS)
def test_a_thinned_path_is_the_path(corners: list[Place]) -> None:
    """Segments of a thousandth of a mm are left out, their ends kept; coarser ones stay as they are."""
    path = points(corners)
    share = np.linspace(0, 1, 5)
    legs = [path[:, at, None] + share * 0.004 * np.sign(path[:, at + 1] - path[:, at])[:, None] for at in range(len(corners) - 1)]
    fine = np.concatenate([*legs, path[:, -1:]], axis=1)
    thin = ways.thinned(fine)
    assert (thin[:, 0] == fine[:, 0]).all()
    assert (thin[:, -1] == fine[:, -1]).all()
    assert all(np.hypot(*(thin - place[:, None])).min() <= 0.0142 for place in fine.T)
    coarse = path[:, np.append(True, (np.abs(np.diff(path)) >= 0.1).any(axis=0))]
    assert ways.thinned(coarse).tolist() == coarse.tolist()
