"""The box round an arc, against points all along it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from gpost.config.model import Filament, Machine
from gpost.motion.arcbox import arcs_of, points_mm
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.read.source import Chunk
from gpost.read.words import read_block

AXES = {17: "XYZ", 18: "ZXY", 19: "YZX"}
OFFSETS = {"X": "I", "Y": "J", "Z": "K"}


def follow(text: str) -> Follower:
    """The follower of a program that is one block."""
    data = text.encode()
    block = read_block(Chunk(data, 0, 0))
    return Follower(block, MachineState(), Machine(), Filament(unit="filament", diameter_mm=1.75))


def test_straight_moves_have_no_arcs() -> None:
    """A block without arcs, or without moves, gives none."""
    assert arcs_of(follow("G1 X10 Y10 F600\nG0 Z5\n")) == []
    assert arcs_of(follow("M105\n")) == []


@given(
    plane=st.sampled_from([17, 18, 19]),
    centre=st.tuples(st.floats(-50, 50), st.floats(-50, 50)),
    radius_mm=st.floats(1, 80),
    start_deg=st.integers(0, 359),
    sweep_deg=st.one_of(st.integers(1, 359), st.integers(-359, -1)),
    rise_mm=st.floats(-20, 20),
)
@example(plane=17, centre=(0.0, 0.0), radius_mm=10.0, start_deg=0, sweep_deg=90, rise_mm=0.0)
@example(plane=17, centre=(0.0, 0.0), radius_mm=10.0, start_deg=270, sweep_deg=-270, rise_mm=5.0)
def test_box_holds_the_arc_and_no_more(
    plane: int,
    centre: tuple[float, float],
    radius_mm: float,
    start_deg: int,
    sweep_deg: int,
    rise_mm: float,
) -> None:
    """In each plane, either way round, helical or flat: lowest and highest of points a quarter degree apart.

    Computed from the circle's formula, apart from the code: between two such points the arc bulges by no
    more than r (1 - cos 0.125 degrees).
    """
    first, second, normal = AXES[plane]
    turn = np.radians(start_deg + np.linspace(0, sweep_deg, 4 * abs(sweep_deg) + 1))
    points = {
        first: centre[0] + radius_mm * np.cos(turn),
        second: centre[1] + radius_mm * np.sin(turn),
        normal: np.linspace(0, rise_mm, len(turn)),
    }
    begin = " ".join(f"{axis}{points[axis][0]:.9f}" for axis in "XYZ")
    end = " ".join(f"{axis}{points[axis][-1]:.9f}" for axis in "XYZ")
    middle = " ".join(
        f"{OFFSETS[axis]}{centre[i] - points[axis][0]:.9f}" for i, axis in enumerate((first, second))
    )
    code = "G3" if sweep_deg > 0 else "G2"
    follower = follow(f"G{plane}\nG1 {begin} F600\n{code} {end} {middle}\n")
    (arcs,) = arcs_of(follower)
    low, high = arcs.box_mm(follower)
    slack = radius_mm * (1 - math.cos(math.radians(0.125))) + 1e-6
    for row, axis in enumerate("XYZ"):
        assert abs(low[row, 0] - points[axis].min()) <= slack
        assert abs(high[row, 0] - points[axis].max()) <= slack


def test_full_circle() -> None:
    """A full circle reaches its radius on all four sides."""
    follower = follow("G1 X10 Y0 F600\nG2 X10 Y0 I5 J0\n")
    (arcs,) = arcs_of(follower)
    low, high = arcs.box_mm(follower)
    np.testing.assert_allclose(low[:, 0], [10, -5, 0], atol=1e-9)
    np.testing.assert_allclose(high[:, 0], [20, 5, 0], atol=1e-9)


@pytest.mark.parametrize(("code", "sweep_deg"), [("G3", 270), ("G2", 90)])
def test_points_along_an_arc_lie_on_its_circle(code: str, sweep_deg: int) -> None:
    """In order, no further apart than 2.5 degrees, from start to end; straight moves by their ends."""
    follower = follow(f"G1 X30 Y20 F600\n{code} X20 Y10 I-10 J0\nG1 X0\n")
    arc = points_mm(follower, np.array([False, True, False]))
    assert np.hypot(arc[0] - 20, arc[1] - 20) == pytest.approx(10)
    assert (arc[:, 0].tolist(), arc[:, -1].tolist()) == ([30, 20], pytest.approx([20, 10]))
    angle = np.degrees(np.unwrap(np.arctan2(arc[1] - 20, arc[0] - 20)))
    steps = np.diff(angle) * (1 if code == "G3" else -1)
    assert steps.sum() == pytest.approx(sweep_deg)
    assert steps.min() > 0
    assert steps.max() <= 2.5 + 1e-9
    assert points_mm(follower, np.array([True, False, True])).T.tolist() == [[0, 0], [30, 20], [20, 10], [0, 10]]


def test_points_of_an_upright_arc() -> None:
    """In the XZ plane it goes along X, seen from above, and Y stays."""
    follower = follow("G1 X30 Y20 F600\nG18 G2 X10 Z0 I-10 K0\n")
    arc = points_mm(follower, np.array([False, True]))
    assert set(arc[1].tolist()) == {20.0}
    assert (arc[0].min(), arc[0].max()) == pytest.approx((10, 30))
    assert len(arc[0]) == 2 + 71
