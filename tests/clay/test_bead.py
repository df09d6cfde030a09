"""Sections of beads, against published closed forms and against integrals with scipy.

The stadium, Pappus's theorem and the numbers are textbook mathematics; the numbers were computed from it.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from gpost.clay.bead import area_mm2, width_mm

LENGTHS = st.floats(0.05, 50.0)


def over_the_height(slice_of: Callable[[float], float], width: float, height: float) -> float:
    """Integrate slice_of(width of the section) over its height.

    With z = h / 2 sin t above the middle the section is w - h + h cos t wide, and nothing is steep.
    """

    def slice_at(t: float) -> float:
        return slice_of(width - height + height * math.cos(t)) * height / 2 * math.cos(t)

    return float(quad(slice_at, -math.pi / 2, math.pi / 2, epsrel=1e-12)[0])


def revolved_mm3(radius: float, width: float, height: float) -> float:
    """Volume of a ring of bead: washers pi (outer^2 - inner^2) over its height."""

    def washer(across: float) -> float:
        return math.pi * ((radius + across / 2) ** 2 - (radius - across / 2) ** 2)

    return over_the_height(washer, width, height)


@pytest.mark.parametrize(
    ("width", "height", "area"),
    [(6, 2, 11.1415926536), (4, 1.5, 5.5171458676), (3, 3, 7.0685834706), (2.4, 1.2, 2.5709733553)],
)
def test_the_area_is_a_rectangle_between_two_half_discs(width: float, height: float, area: float) -> None:
    """A = (w - h) h + pi h^2 / 4."""
    assert area_mm2(width, height) == pytest.approx(area, rel=1e-10)


@given(width=LENGTHS, share=st.floats(0.01, 1.0))
@settings(deadline=None)
def test_the_area_is_the_integral_of_the_width(width: float, share: float) -> None:
    """Summed up slice by slice the section has the area that the formula gives."""
    height = width * share
    slices = over_the_height(lambda across: across, width, height)
    assert area_mm2(width, height) == pytest.approx(slices, rel=1e-10)


def test_a_flat_bead_fills_most_of_its_rectangle() -> None:
    """A bead 6 wide and 2 high fills 92.8466 % of the rectangle around it."""
    assert area_mm2(6.0, 2.0) / 12 == pytest.approx(0.928466, abs=5e-7)


def test_the_flow_of_a_bead_is_its_area_times_the_speed() -> None:
    """A bead 4 wide and 1.5 high at 30 mm/s takes 165.5143760293 mm^3/s."""
    assert area_mm2(4.0, 1.5) * 30 == pytest.approx(165.5143760293, rel=1e-11)


@given(width=LENGTHS, height=LENGTHS)
def test_a_bead_is_never_higher_than_wide(width: float, height: float) -> None:
    """In a gap higher than its width, the strand stays round: a disc of its width, and no more."""
    high = width + height
    assert area_mm2(width, high) == pytest.approx(math.pi / 4 * width**2, rel=1e-12)


@given(width=LENGTHS, height=LENGTHS, more=st.floats(1.0, 2.0))
def test_a_wider_or_a_higher_bead_is_never_less_clay(width: float, height: float, more: float) -> None:
    """The area grows with the width and with the height."""
    least = area_mm2(width, height) * (1 - 1e-12)
    assert area_mm2(width * more, height) >= least
    assert area_mm2(width, height * more) >= least


def test_arrays_are_taken_bead_by_bead() -> None:
    """A column of widths and heights gives the column of what each pair gives."""
    widths, heights = np.array([6.0, 4.0, 3.0, 2.0]), np.array([2.0, 1.5, 3.0, 5.0])
    pairs = list(zip(widths.tolist(), heights.tolist(), strict=True))
    assert area_mm2(widths, heights).tolist() == [area_mm2(w, h) for w, h in pairs]


@pytest.mark.parametrize(
    ("radius", "width", "height", "volume"),
    [(50, 6, 2, 3500.2345629808), (30, 6, 6, 5329.5863765883)],
)
def test_a_ring_of_bead_holds_its_area_times_the_path_of_its_middle(
    radius: float, width: float, height: float, volume: float
) -> None:
    """Pappus's second theorem, V = 2 pi r A: for a bead's ring, and for a torus of round strand."""
    assert 2 * math.pi * radius * area_mm2(width, height) == pytest.approx(volume, rel=1e-11)
    assert revolved_mm3(radius, width, height) == pytest.approx(volume, rel=1e-10)


def test_a_vase_of_rings_holds_their_paths_times_the_area() -> None:
    """80 rings of r = 40 + 15 sin(pi z / 160), each 2 mm high, laid with a bead 6 wide."""
    z = np.arange(1.0, 160.0, 2.0)
    path = float(np.sum(2 * math.pi * (40 + 15 * np.sin(math.pi * z / 160))))
    assert path == pytest.approx(24906.5014219853, rel=1e-12)
    assert path * area_mm2(6.0, 2.0) == pytest.approx(277498.0932698, rel=1e-12)


@given(st.floats(0.01, 300), st.floats(0.1, 10))
def test_the_width_is_that_of_the_section(area: float, height_mm: float) -> None:
    """A bead as wide as that has the section; of too little clay for the gap it is the round strand's diameter."""
    width = width_mm(area, height_mm)
    assert area_mm2(width, height_mm) == pytest.approx(area)
    if area <= math.pi / 4 * height_mm**2:
        assert math.pi / 4 * width**2 == pytest.approx(area)
