"""How a wall leans over the layer below, against closed forms of the solids."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from gpost.api import Config, Lean, Survey, wall_lean
from gpost.read.source import Source
from gpost.survey.build import survey_source
from gpost.testing import make_survey
from tests.lookups import answering

RISE_MM = 2.0
Ring = Callable[[NDArray[np.float64], int], NDArray[np.float64]]


def pot(ring: Ring, layers: int = 10, corners: int = 720) -> Survey:
    """A survey whose layers lead through what `ring` makes of some angles and an index; (2, k)."""
    survey = make_survey(layers=layers, layer_mm=RISE_MM)
    angle = np.linspace(0, 2 * np.pi, corners + 1)
    starts = survey.layers["first_line"].tolist()
    return answering(survey, laid_points=lambda first, _end: ring(angle, starts.index(first)))


def cone(slope: float, radius_mm: float = 40.0) -> Ring:
    """A round pot whose radius grows by so much for each mm that it rises."""

    def ring(angle: NDArray[np.float64], index: int) -> NDArray[np.float64]:
        return (radius_mm + slope * RISE_MM * index) * np.stack([np.cos(angle), np.sin(angle)])

    return ring


@given(st.floats(-1.0, 1.0), st.integers(1, 9))
def test_a_cone_leans_by_its_slope_all_round(slope: float, index: int) -> None:
    """dr / dz of a cone is the same everywhere: the textbook's tan of its half angle."""
    found = wall_lean(pot(cone(slope)), index)
    assert found.mean == pytest.approx(slope, abs=2e-3)
    assert found.most_out == pytest.approx(max(slope, 0), abs=2e-3)
    assert found.most_in == pytest.approx(min(slope, 0), abs=2e-3)


@pytest.mark.parametrize("index", [1, 5, 9])
def test_a_sphere_leans_by_the_chord_between_two_heights(index: int) -> None:
    """r = sqrt(R^2 - z^2) from its equator up: the mean lean is the difference of both radii over the rise."""
    radius_mm = 50.0
    at_mm = [math.sqrt(radius_mm**2 - (RISE_MM * k) ** 2) for k in range(10)]
    found = wall_lean(pot(lambda angle, k: at_mm[k] * np.stack([np.cos(angle), np.sin(angle)])), index)
    assert found.mean == pytest.approx((at_mm[index] - at_mm[index - 1]) / RISE_MM, abs=2e-3)


@pytest.mark.parametrize("slope", [0.1, 0.5])
def test_a_tube_that_leans_as_a_whole(slope: float) -> None:
    """Shifted by d, a circle of radius r lies outside itself by sqrt(r^2 + 2 r d cos a + d^2) - r at angle a.

    So it leans outwards by d on one side, inwards by d on the other, and by next to nothing on the mean.
    """
    shift_mm = slope * RISE_MM

    def ring(angle: NDArray[np.float64], index: int) -> NDArray[np.float64]:
        return np.stack([40 * np.cos(angle) + shift_mm * index, 40 * np.sin(angle)])

    found = wall_lean(pot(ring), 4)
    angle = np.linspace(0, 2 * np.pi, 10_000, endpoint=False)
    exact_mm = np.sqrt(40**2 + 80 * shift_mm * np.cos(angle) + shift_mm**2) - 40
    assert found.most_out == pytest.approx(slope, abs=2e-3)
    assert found.most_in == pytest.approx(-slope, abs=2e-3)
    assert found.mean == pytest.approx(float(exact_mm.mean()) / RISE_MM, abs=2e-3)


def test_a_square_that_grows_leans_alike_on_its_sides_and_more_at_its_corners() -> None:
    """A side 1 mm farther out for 2 mm of rise is 0.5; a corner is sqrt(2) as far from the corner below."""
    square = np.array([[-1, 1, 1, -1, -1], [-1, -1, 1, 1, -1.0]])
    found = wall_lean(pot(lambda _angle, k: square * (30 + k)), 3)
    assert found.mean == pytest.approx(0.5, abs=0.01)
    assert 0.5 < found.most_out <= math.sqrt(2) * 0.5 + 1e-9


def test_the_direction_in_which_the_wall_goes_round_cannot_be_seen() -> None:
    """Outwards is away from what lies below, clockwise or not."""
    back: Ring = lambda angle, k: cone(0.3)(-angle, k)  # noqa: E731
    assert wall_lean(pot(back), 2).mean == pytest.approx(0.3, abs=2e-3)


def test_the_first_layer_stands_upright() -> None:
    """There is nothing below it; nor is there a lean where a path has no extent."""
    assert wall_lean(pot(cone(0.4)), 0) == Lean(0, 0, 0)
    assert wall_lean(pot(lambda _angle, _k: np.zeros((2, 0))), 3) == Lean(0, 0, 0)


def test_a_path_of_very_many_moves_is_followed_in_fewer() -> None:
    """20,000 moves a turn give the slope as 720 do."""
    assert wall_lean(pot(cone(-0.25), corners=20_000), 5).mean == pytest.approx(-0.25, abs=2e-3)


@pytest.mark.parametrize(("turn", "slope"), [("G2", 0.4), ("G3", 0.4), ("G3", -0.4)])
def test_of_a_file_the_path_is_followed_in_its_order(tmp_path: Path, turn: str, slope: float) -> None:
    """Four arcs a layer, in either direction, of a cone whose radius is written in the file."""
    lines = ["G21", "G90", "M83"]
    for layer in range(8):
        radius = 40 + slope * RISE_MM * layer
        lines.append(f"G0 X{radius:.4f} Y0 Z{RISE_MM * (layer + 1):.4f} F3000")
        x, y = radius, 0.0
        for _ in range(4):
            to_x, to_y = (y, -x) if turn == "G2" else (-y, x)
            lines.append(f"{turn} X{to_x:.4f} Y{to_y:.4f} I{-x:.4f} J{-y:.4f} E9 F1200")
            x, y = to_x, to_y
    path = tmp_path / "cone.gcode"
    path.write_text("\n".join(lines) + "\n")
    survey = survey_source(Source(path), Config())
    assert len(survey.layers) == 8
    for index in range(1, 8):
        found = wall_lean(survey, index)
        assert (found.mean, found.most_out, found.most_in) == pytest.approx(
            (slope, max(slope, 0), min(slope, 0)), abs=0.02
        )


@pytest.mark.parametrize(("here", "below"), [(1, 100), (100, 2), (100, 0), (0, 100)])
def test_without_a_path_or_a_ring_below_nothing_leans(here: int, below: int) -> None:
    """A single point is no path, and two no ring."""
    angle = np.linspace(0, 2 * np.pi, 100)
    circle = 40 * np.stack([np.cos(angle), np.sin(angle)])
    survey = make_survey(layers=2, layer_mm=RISE_MM)
    first = int(survey.layers["first_line"][0])
    points = lambda line, _end: 1.5 * circle[:, :below] if line == first else circle[:, :here]  # noqa: E731
    assert wall_lean(answering(survey, laid_points=points), 1) == Lean(0, 0, 0)
