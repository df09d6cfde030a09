"""What a unit of E and a hose hold: exact geometry; all numbers were computed from it."""

from __future__ import annotations

import math

import pytest

from gpost.clay.bead import area_mm2
from gpost.clay.holdup import line_ml, round_ml
from gpost.config.metering import ml_per_unit
from gpost.config.model import CubicMillimetres, Filament, Metering, Millilitres, PathSection, Plunger


@pytest.mark.parametrize(
    ("diameter", "mm3_for_100", "units_per_ml", "units_of_bead"),
    [
        (1.75, 240.5281875405, 415.7516880768, 463.2135953557),
        (2.85, 637.9396582196, 156.7546377021, 174.6496319824),
    ],
)
def test_a_virtual_filament_meters_its_own_volume(
    diameter: float, mm3_for_100: float, units_per_ml: float, units_of_bead: float
) -> None:
    """V = pi / 4 d^2 E: for 100 mm, for one ml, and for 100 mm of a bead 6 wide and 2 high."""
    ml = ml_per_unit(Filament(unit="filament", diameter_mm=diameter))
    assert ml is not None
    assert ml * 100 * 1000 == pytest.approx(mm3_for_100, rel=1e-11)
    assert 1 / ml == pytest.approx(units_per_ml, rel=1e-11)
    assert area_mm2(6.0, 2.0) * 100 / 1000 / ml == pytest.approx(units_of_bead, rel=1e-11)


def test_a_plunger_meters_its_travel() -> None:
    """A plunger of 60 mm moves 0.3536777 mm for each ml: its area is 2827.4333882 mm^2."""
    ml = ml_per_unit(Plunger(unit="plunger", bore_mm=60.0))
    assert ml is not None
    assert ml * 1000 == pytest.approx(2827.4333882, rel=1e-10)
    assert 1 / ml == pytest.approx(0.3536777, rel=1e-6)


@pytest.mark.parametrize(
    ("metering", "ml"),
    [
        (CubicMillimetres(unit="mm3"), 0.001),
        (Millilitres(unit="ml", ml_per_unit=0.42), 0.42),
        (PathSection(unit="path"), None),
    ],
)
def test_a_unit_that_says_its_own_volume(metering: Metering, ml: float | None) -> None:
    """Cubic millimetres and a trial's ml are taken as they are; a file without E has no unit."""
    assert ml_per_unit(metering) == ml


@pytest.mark.parametrize(
    ("bore", "metres", "ml"),
    [
        (8, 1.0, 50.2654825),
        (10, 1.5, 117.8097245),
        (12, 0.8, 90.4778684),
        (6, 0.6, 16.9646003),
    ],
)
def test_a_hose_holds_its_section_times_its_length(bore: float, metres: float, ml: float) -> None:
    """V = pi / 4 d^2 L."""
    assert round_ml(bore, metres * 1000) == pytest.approx(ml, abs=5e-8)


def test_a_line_is_its_hose_and_what_is_behind_it() -> None:
    """10 mm by 1.5 m hold 117.8097245 ml; with 12 ml in the auger that is 129.8097245."""
    assert line_ml(10, 1500) == pytest.approx(117.8097245, abs=5e-8)
    assert line_ml(10, 1500, 12) == pytest.approx(129.8097245, abs=5e-8)


def test_the_clay_in_a_hose_comes_late() -> None:
    """117.8 ml arrive after 589.0486 s at 200 mm^3/s, and after 10.57 m of a bead 6 wide and 2 high."""
    mm3 = round_ml(10.0, 1500.0) * 1000
    assert mm3 / 200 == pytest.approx(589.0486, abs=5e-5)
    assert mm3 / area_mm2(6.0, 2.0) / 1000 == pytest.approx(10.5738675, abs=5e-8)
    assert math.isclose(mm3, 37500 * math.pi, rel_tol=1e-12)
