"""The way round a path: closed forms for circles, polygons and notches, and distances measured apart from it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from numpy.typing import NDArray

from gpost.common.ways import apart_mm, filled
from gpost.errors import PlanError
from gpost.plan.outline import way_round

Floats = NDArray[np.float64]
OFF_MM = 0.03
"""What the outline may be off."""


def ring(radius_mm: float, *, turn: float = 2 * math.pi) -> Floats:
    """An arc round the origin, by chords of at most a degree."""
    angle = np.linspace(0, turn, 361)
    return radius_mm * np.stack([np.cos(angle), np.sin(angle)])


def length_mm(way: Floats) -> float:
    """How long a way is."""
    return float(np.hypot(*np.diff(way, axis=1)).sum())


def nearest_mm(point: Floats, path: Floats) -> float:
    """Distance of a point from a path, leg by leg: the foot of the perpendicular, or the nearer end."""
    best = math.inf
    for a, b in zip(path.T[:-1], path.T[1:], strict=True):
        along = float((point - a) @ (b - a)) / max(float((b - a) @ (b - a)), 1e-12)
        best = min(best, math.dist(point, a + min(max(along, 0.0), 1.0) * (b - a)))
    return best


@pytest.mark.parametrize("radius_mm", [5.0, 40.0, 120.0])
def test_round_a_circle_it_is_a_circle(radius_mm: float) -> None:
    """Closed form: a circle at a distance d outside one of radius r has the radius r + d."""
    way = way_round(ring(radius_mm), 8.0, 5.0)
    assert np.hypot(*way) == pytest.approx(np.full(way.shape[1], radius_mm + 8), abs=OFF_MM)
    assert length_mm(way) == pytest.approx(2 * math.pi * (radius_mm + 8), rel=1e-3)
    assert (way[:, 0] == way[:, -1]).all()


def test_round_a_square_it_has_round_corners() -> None:
    """Closed form: the perimeter is that of the square and a circle of the distance (Steiner's formula)."""
    square = np.array([[0, 80, 80, 0, 0], [0, 0, 80, 80, 0.0]])
    way = way_round(square, 10.0, 5.0)
    assert length_mm(way) == pytest.approx(4 * 80 + 20 * math.pi, abs=0.1)
    assert (way.min(), way.max()) == (pytest.approx(-10, abs=OFF_MM), pytest.approx(90, abs=OFF_MM))


def test_it_goes_round_counter_clockwise_and_encloses_the_path() -> None:
    """The area to its left (shoelace formula) is the square, four sides of it, and a circle's."""
    square = np.array([[0, 80, 80, 0, 0], [0, 0, 80, 80, 0.0]])
    x, y = way_round(square, 10.0, 5.0)
    area = float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1])) / 2
    assert area == pytest.approx(80**2 + 4 * 80 * 10 + math.pi * 100, rel=1e-3)


@pytest.mark.parametrize(("mouth_mm", "goes_in"), [(20.0, False), (34.0, True)])
def test_into_a_notch_it_goes_only_where_two_sides_have_room(mouth_mm: float, goes_in: bool) -> None:
    """A notch takes both distances and twice the bend: 2 * (10 + 5) mm here.

    Over a mouth of 20 a disc of 15 mm sinks in till its middle is sqrt(15^2 - 10^2) above the lips (Pythagoras),
    and the way runs along it, 5 mm below.
    """
    low, high = 50 - mouth_mm / 2, 50 + mouth_mm / 2
    notched = np.array([[0, 100, 100, high, high, low, low, 0, 0], [0, 0, 100, 100, 20, 20, 100, 100, 0.0]])
    x, y = way_round(notched, 10.0, 5.0)
    inside = y[(x > low) & (x < high)]
    deepest_mm = inside[inside > 50 - 20].min()
    assert deepest_mm == pytest.approx(30 if goes_in else 95 + math.sqrt(125), abs=OFF_MM)


@given(
    st.lists(st.tuples(st.floats(-60, 60), st.floats(-60, 60)), min_size=1, max_size=12),
    st.floats(1, 30),
    st.floats(0.5, 15),
)
@example([(0.0, 0.0)], 5.0, 2.0)
@example([(0.0, 0.0), (60.0, 0.0), (0.0, 0.0)], 5.0, 2.0)
def test_it_keeps_its_distance_from_any_path(
    corners: list[tuple[float, float]], out: float, bend: float
) -> None:
    """No point of it lies nearer to the path, measured leg by leg, and it comes as near as that."""
    path = np.array(corners).T
    path = np.concatenate([path, path[:, :1]], axis=1)
    way = filled(way_round(path, out, bend))
    far = [nearest_mm(point, path) for point in way.T[:: max(way.shape[1] // 150, 1)]]
    assert min(far) >= out - OFF_MM
    assert apart_mm(path, way) == pytest.approx(out, abs=OFF_MM)


@given(st.lists(st.tuples(st.floats(-60, 60), st.floats(-60, 60)), min_size=2, max_size=12), st.floats(2, 12))
def test_a_way_farther_out_keeps_off_the_nearer_one(corners: list[tuple[float, float]], step: float) -> None:
    """Two ways stand apart by at least as much as their distances differ."""
    path = np.array(corners).T
    assert apart_mm(way_round(path, 6.0, 4.0), way_round(path, 6.0 + step, 4.0)) >= step - 2 * OFF_MM


def test_what_lies_inside_changes_nothing() -> None:
    """A floor of many strokes has the outline of its outermost."""
    x = np.repeat(np.arange(0, 101, 2.0), 2)
    floor = np.stack([x, np.resize([0, 100, 100, 0.0], len(x))])
    way = way_round(floor, 10.0, 5.0)
    assert length_mm(way) == pytest.approx(4 * 100 + 20 * math.pi, abs=0.3)


def test_ways_apart_by_hand() -> None:
    """Two parallel lines three apart, and two that cross."""
    line = np.array([[0, 50], [0, 0.0]])
    assert apart_mm(line, line + np.array([[0.0], [3.0]])) == pytest.approx(3, abs=0.02)
    assert apart_mm(line, line[::-1] + np.array([[20.0], [-20.0]])) <= 0.5


def test_nothing_to_go_round_is_told() -> None:
    """A layer that lays nothing."""
    with pytest.raises(PlanError, match="nothing to go round"):
        way_round(np.zeros((2, 0)), 5.0, 2.0)
