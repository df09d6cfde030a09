"""How high and fast a wall may rise: cases computed from the formulas, other numerics, and laws."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.linalg import eigh
from scipy.optimize import brentq
from scipy.special import jv

from gpost.clay.walls import (
    GREENHILL,
    SLENDER,
    Stiffness,
    Wall,
    buckling_mm,
    flat_wall_mm,
    margins,
    pressure_pa,
    safe_rise_mm_min,
    shell_knock_down,
    shell_limit_pa,
    standing_mm,
    tube_mm,
    waits_s,
    wall_of,
    yield_needed_pa,
)

# ---- yielding: rho g H / sqrt 3 (von Mises, so N. Roussel 2018; formula from memory) ----


@pytest.mark.parametrize(("yield_pa", "density"), [(1000, 1.9), (3000, 1.85), (1700, 1.9)])
def test_the_height_that_stands(yield_pa: float, density: float) -> None:
    """At that height the stress at the foot, all from its own weight, just reaches yield after von Mises.

    By another path: the second invariant of the stress's deviator is the square of the yield stress in shear
    (R. von Mises 1913, textbook), here from the tensor of a pressed column, numerically. 1.7 kPa is clay at
    its liquid limit (Wroth, Wood 1978: the figure from memory).
    """
    height_mm = standing_mm(yield_pa, density)
    layers_mm = np.full(1000, height_mm / 1000)
    foot_pa = float((layers_mm / 1000 * density * 1000 * 9.80665).sum())
    tensor = np.diag([0.0, 0.0, -foot_pa])
    deviator = tensor - np.trace(tensor) / 3 * np.eye(3)
    assert math.sqrt((deviator * deviator).sum() / 2) == pytest.approx(yield_pa, rel=1e-9)
    assert yield_needed_pa(height_mm, density) == pytest.approx(yield_pa, rel=1e-9)


def test_the_yield_stress_that_a_stout_wall_needs() -> None:
    """Computed with the factor 2, after Tresca: 107.34 mm of 1.9 g/ml need 1000 Pa."""
    assert yield_needed_pa(107.3385487, 1.9, 2.0) == pytest.approx(1000, rel=1e-8)


@pytest.mark.parametrize(
    ("height_mm", "density", "needed"),
    [
        (300, 1.9, 3227.267),
        (2, 1.9, 21.515),
        (200, 1.857142857, 2102.981),
        (150, 1.857142857, 1577.236),
        (1000, 2.3, 13022.3),
    ],
)
def test_the_yield_stress_that_is_needed(height_mm: float, density: float, needed: float) -> None:
    """Computed from the formula; the first is a wall, the second its first layer, the last concrete."""
    assert yield_needed_pa(height_mm, density) == pytest.approx(needed, rel=1e-5)


@pytest.mark.parametrize(
    ("stiffening", "density", "rise"),
    [(1.0, 1.9, 5.5774746), (0.5, 1.9, 2.7887373), (0.1, 1.85, 0.5728217), (1.0, 2.3, 276.4487 / 60)],
)
def test_the_fastest_rise(stiffening: float, density: float, rise: float) -> None:
    """Computed from sqrt(3) A / (rho g); the last, concrete, is 0.276 m an hour."""
    assert safe_rise_mm_min(stiffening, density) == pytest.approx(rise, rel=1e-6)


THIN_MM = 0.2
"""Layers so thin that a wall of them rises all but evenly."""


def rising(height_mm: float, rise_mm_min: float) -> tuple[Wall, np.ndarray]:
    """A straight wall in thin layers that rises evenly, and when each of them is laid, s."""
    height = np.arange(1, round(height_mm / THIN_MM) + 1) * THIN_MM
    return wall_of(height, np.ones(len(height))), height / rise_mm_min * 60


def sinks_at_mm(clay: Stiffness, rise_mm_min: float, upto_mm: float) -> float:
    """The height at which the foot of a wall that rises evenly first bears less than lies on it."""
    low, high = 1, round(upto_mm / THIN_MM)
    while low < high:
        tried = (low + high) // 2
        if margins(*rising(tried * THIN_MM, rise_mm_min), clay)[0] < 1:
            high = tried
        else:
            low = tried + 1
    return low * THIN_MM


@pytest.mark.parametrize(("rise", "height_mm"), [(20, 216.0397), (10, 257.8131), (5, 420.3838)])
def test_the_height_at_which_a_wall_that_rises_too_fast_sinks(rise: float, height_mm: float) -> None:
    """2000 Pa and 0.5 Pa/s, 1.9 g/ml: derived from rho g v t = sqrt(3) (tau0 + A t); to two layers."""
    found_mm = sinks_at_mm(Stiffness(2000, 0.5, 1.9), rise, 2 * height_mm)
    assert found_mm == pytest.approx(height_mm, abs=2 * THIN_MM)


def test_linear_curing() -> None:
    """A strength of 3464.1016 Pa that grows by 5e-4 of itself a second, at 10 mm/min: 185.9158 mm uncured,
    420.3838 mm cured. Computed from A. S. J. Suiker's form (Int. J. Mech. Sci. 137, 2018, from memory), in
    which strength is the slender factor times yield stress.
    """
    yield_pa = 3464.1016 / SLENDER
    assert standing_mm(yield_pa, 1.9) == pytest.approx(185.9158, rel=1e-6)
    uncured, cured = Stiffness(yield_pa, 0.0, 1.9), Stiffness(yield_pa, 5e-4 * yield_pa, 1.9)
    assert sinks_at_mm(uncured, 10, 500) == pytest.approx(185.9158, abs=2 * THIN_MM)
    assert sinks_at_mm(cured, 10, 1000) == pytest.approx(420.3838, abs=2 * THIN_MM)


@given(st.floats(0.01, 5), st.floats(1, 4))
def test_a_rise_with_safety_bears_so_many_times_its_load(stiffening: float, safety: float) -> None:
    """At that rise pressure grows by 1 / safety of what the base bears; 1.52 mm/min is 2.28 with 1.5."""
    rise = safe_rise_mm_min(stiffening, 1.9, SLENDER, safety)
    assert pressure_pa(rise / 60, 1.9) * safety == pytest.approx(SLENDER * stiffening, rel=1e-12)


def test_a_wall_that_rises_slowly_enough_never_sinks() -> None:
    """2 mm/min is slower than the 2.79 that 0.5 Pa/s bear for ever: the foot gains with each layer."""
    clay = Stiffness(2000, 0.5, 1.9)
    foot = [margins(*rising(height_mm, 2), clay)[0] for height_mm in (100, 300, 900)]
    assert foot[0] > foot[1] > foot[2] > 2.7887373 / 2


# ---- buckling (A. G. Greenhill 1881) ----


def test_the_constant_is_the_bessel_zero_s() -> None:
    """9/4 j^2 with J(-1/3) at j 0; 7.8373 is the published figure."""
    zero = brentq(lambda x: jv(-1 / 3, x), 1.5, 2.2, xtol=1e-14)
    assert pytest.approx(9 / 4 * zero**2, rel=1e-12) == GREENHILL
    assert round(GREENHILL, 4) == 7.8373


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        (flat_wall_mm(50e3, 6, 1.9), 39.8102918),
        (flat_wall_mm(200e3, 8, 1.85), 77.2387328),
        (buckling_mm(50e3, 20**2 / 4, 1.9), 128.1213804),
        (tube_mm(50e3, 40, 6, 1.9), 256.7223180),
    ],
    ids=["flat wall", "stiffer wall", "solid cylinder", "tube"],
)
def test_buckling_heights(found: float, expected: float) -> None:
    """Computed from the formula, with I / A of each section."""
    assert found == pytest.approx(expected, rel=1e-8)


def test_the_rounded_form_for_a_flat_wall_is_near() -> None:
    """Roussel's E >= 3 rho g H^3 / (2 delta^2) (from memory) gives 40.08 mm where Greenhill gives 39.81."""
    rounded_mm = (2 * 6**2 * 50e3 / (3 * 1.9 * 9.80665)) ** (1 / 3)
    assert rounded_mm == pytest.approx(40.0838095, rel=1e-8)
    assert flat_wall_mm(50e3, 6, 1.9) == pytest.approx(rounded_mm, rel=0.01)


def self_buckling_constant(points: int) -> float:
    """rho g A H^3 / (E I) at which a column bends under its own mass, by finite differences.

    theta'' + k (1 - s) theta = 0 with s from the fixed foot (theta 0) to the free top (theta' 0): the
    smallest k, of a symmetric pencil of theta at the cells' edges.
    """
    step = 1 / points
    at = np.arange(1, points + 1) * step
    stiff = 2 * np.ones(points)
    load = (1 - at) * step**2
    stiff[-1] = 1
    load[-1] = step**3 / 8  # of the half cell at the top
    off = -np.ones(points - 1)
    matrix = np.diag(stiff) + np.diag(off, 1) + np.diag(off, -1)
    return float(1 / eigh(np.diag(load), matrix, eigvals_only=True)[-1])


def test_greenhills_constant_is_that_of_the_bent_column() -> None:
    """The differential equation of the column, solved by other numerics, gives 7.8373 too."""
    assert self_buckling_constant(400) == pytest.approx(GREENHILL, rel=2e-4)


# ---- dents: the classical load of a cylinder, pressed from above ----


def dent_stress_pa(radius_mm: float, thickness_mm: float, long_mm: float, *, own_mass: bool) -> float:
    """Stress at the foot at which a cylinder of 1 Pa dents, by finite differences; Poisson's ratio 0.3.

    D w'''' + (N w')' + E t / R^2 w = 0, both ends held but free to turn, N the load along the wall: the
    same everywhere, or growing from the top as the wall's own mass does.
    """
    points = 600
    step = long_mm / points
    bend = thickness_mm**3 / (12 * (1 - 0.3**2))
    second = (np.diag(-2 * np.ones(points - 1)) + np.diag(np.ones(points - 2), 1)) / step**2
    second += np.diag(np.ones(points - 2), -1) / step**2
    middle = (np.arange(points) + 0.5) / points
    share = 1 - middle if own_mass else np.ones(points)
    slope = (np.eye(points, points - 1) - np.eye(points, points - 1, k=-1)) / step
    stiff = bend * second @ second + thickness_mm / radius_mm**2 * np.eye(points - 1)
    load = slope.T @ (share[:, None] * slope)
    return float(1 / eigh(load, stiff, eigvals_only=True)[-1]) / thickness_mm


@pytest.mark.parametrize(("radius_mm", "thickness_mm"), [(100, 4), (60, 3), (150, 5)])
def test_a_pressed_cylinder_dents_at_the_classical_stress(radius_mm: float, thickness_mm: float) -> None:
    """0.605 E t / R: the shell's own differential equation, solved by other numerics, has the same load."""
    found = dent_stress_pa(radius_mm, thickness_mm, 300, own_mass=False)
    assert float(shell_limit_pa(1.0, radius_mm, thickness_mm)) == pytest.approx(found, rel=0.01)


@pytest.mark.parametrize(("radius_mm", "pa", "high_mm"), [(120, 1512.5, 82.9), (50, 3630, 199.0)])
def test_dents_by_hand(radius_mm: float, pa: float, high_mm: float) -> None:
    """0.605 E t / R with 6 mm of 50 kPa, and rho g H at the foot with 1.86 g/ml: computed by hand."""
    limit = float(shell_limit_pa(50e3, radius_mm, 6))
    assert limit == pytest.approx(pa, rel=1e-3)
    assert limit / pressure_pa(1, 1.86) == pytest.approx(high_mm, rel=1e-3)


def test_under_its_own_mass_the_foot_dents_at_no_less() -> None:
    """The foot, where the load is largest, bears 1 to 1.25 times the limit there, by other numerics."""
    limit = float(shell_limit_pa(1.0, 100, 4))
    assert limit < dent_stress_pa(100, 4, 300, own_mass=True) < 1.25 * limit


@pytest.mark.parametrize(("ratio", "share"), [(10, 0.8384), (25, 0.7582), (100, 0.5813), (400, 0.3571)])
def test_the_knock_down(ratio: float, share: float) -> None:
    """NASA SP-8007's formula (from memory), computed by hand: phi is 1/16 of the root of R over t."""
    assert float(shell_knock_down(ratio, 1.0)) == pytest.approx(share, abs=5e-4)


def test_radii_in_a_row() -> None:
    """A radius each gives a stress and a share each."""
    assert shell_limit_pa(50e3, np.array([50.0, 100.0]), 4) == pytest.approx([2421.0, 1210.5], rel=1e-4)
    assert shell_knock_down(np.array([50.0, 100.0]), 5).shape == (2,)


# ---- a real wall, layer by layer ----

CLAY = Stiffness(yield_pa=500, stiffening_pa_s=0.5, density_g_ml=1.9, safety=1.0)


def straight(layers: int, ml: float = 10) -> tuple[np.ndarray, np.ndarray]:
    """Heights and clay of a straight wall in layers of 2 mm."""
    return np.arange(1, layers + 1) * 2.0, np.full(layers, float(ml))


def test_a_straight_wall_presses_with_its_height() -> None:
    """Clay over area comes to rho g H, whatever the wall's length."""
    wall = wall_of(*straight(50))
    assert wall.pressure_pa(49, 1.9)[0] == pytest.approx(pressure_pa(100, 1.9))
    assert wall.pressure_pa(49, 1.9)[49] == pytest.approx(pressure_pa(2, 1.9))


def test_a_neck_presses_less_and_a_bowl_more() -> None:
    """With half the clay a layer above the foot, the foot bears half; with twice, twice."""
    height, ml = straight(50)
    ml[1:] *= 0.5
    assert wall_of(height, ml).pressure_pa(49, 1.9)[0] == pytest.approx(pressure_pa(2 + 98 / 2, 1.9))
    ml[1:] *= 4
    assert wall_of(height, ml).pressure_pa(49, 1.9)[0] == pytest.approx(pressure_pa(2 + 98 * 2, 1.9))


def test_a_slab_below_is_no_part_of_the_first_layer() -> None:
    """A piece that starts at 12 mm has a first layer like the others."""
    height, ml = straight(50)
    assert wall_of(height + 10, ml).area_mm2[0] == pytest.approx(wall_of(height, ml).area_mm2[0])


PILES = st.lists(st.tuples(st.floats(1, 50), st.floats(1, 200)), min_size=1, max_size=40)


@given(PILES, st.floats(50, 5000), st.floats(0.01, 2), st.floats(1, 3))
def test_waiting_makes_every_layer_bear_and_no_layer_waits_in_vain(
    layers: list[tuple[float, float]], yield_pa: float, stiffening: float, safety: float
) -> None:
    """With the waits every margin is the safety or more; a tenth off any one wait, and some is less."""
    clay = Stiffness(yield_pa, stiffening, 1.9, safety=safety)
    ml, took = (np.array(column) for column in zip(*layers, strict=True))
    wall, done = wall_of(np.arange(1, len(ml) + 1) * 2.0, ml), np.cumsum(took)
    waits = waits_s(wall, done, clay)
    assume(np.isfinite(waits).all())
    assert (waits >= 0).all()
    assert margins(wall, done + np.cumsum(waits), clay).min() >= safety * (1 - 1e-6)
    for index in np.flatnonzero(waits > 1)[:5]:
        less = waits.copy()
        less[index] *= 0.9
        assert margins(wall, done + np.cumsum(less), clay).min() < safety


def test_a_wall_that_stands_waits_for_nothing() -> None:
    """Slow enough, no layer is put off."""
    wall = wall_of(*straight(50))
    assert waits_s(wall, np.arange(50) * 60.0, CLAY).tolist() == [0.0] * 50


def test_clay_that_does_not_stiffen_gains_nothing_by_waiting() -> None:
    """From the layer on that is too much, no time helps."""
    clay = Stiffness(500, 0.0, 1.9, safety=1.0)
    waits = waits_s(wall_of(*straight(50)), np.arange(50) * 60.0, clay)
    high = int(standing_mm(500, 1.9) / 2)
    assert waits[:high].tolist() == [0.0] * high
    assert np.isinf(waits[high:]).all()


@pytest.mark.parametrize(
    ("height_mm", "rises_mm"),
    [
        ([7, 9, 11], [2, 2, 2]),  # on a slab of 5 mm
        ([1, 3, 5], [1, 2, 2]),
        ([7, 7.5, 8], [0.5, 0.5, 0.5]),
        ([4, 4], [4, 1e-3]),  # two layers at one height say nothing of the first
        ([4, 3], [4, 1e-3]),
        ([4], [4]),
    ],
)
def test_what_a_layer_stands_on(height_mm: list[float], rises_mm: list[float]) -> None:
    """Its clay over its height; a first layer far from zero is as high as the others."""
    wall = wall_of(np.array(height_mm, np.float64), np.full(len(height_mm), 3.0))
    assert wall.area_mm2 == pytest.approx([3000 / rise_mm for rise_mm in rises_mm])
