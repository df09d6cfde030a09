"""Yield stress from trials: a cylinder that sinks, tubes that fold, a cone that falls in."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.clay.folds import Fold
from gpost.clay.strength import (
    cone_yield_pa,
    fold_yield_pa,
    range_of,
    slump_height_mm,
    slump_yield_stress_pa,
    stiffening,
)

# ---- slump ----


def sunk_mm(height_mm: float, yield_pa: float, density_g_ml: float) -> float:
    """How far a cylinder sinks: its slices, each spread until what is above it presses with twice the stress.

    The assumption of N. Pashias et al., 1996 (from memory), slice by slice instead of by their formula: a
    slice keeps its clay, so it is as much thinner as it is wider.
    """
    slices = 200_000
    deep_mm = (np.arange(slices) + 0.5) * height_mm / slices
    presses_pa = density_g_ml * 9.80665 * deep_mm
    wider = np.maximum(presses_pa / (2 * yield_pa), 1.0)
    return float(height_mm - (height_mm / slices / wider).sum())


@pytest.mark.parametrize("yield_pa", [150, 300, 450, 600])
def test_a_cylinder_that_sank_slice_by_slice(yield_pa: float) -> None:
    """From the sinking of 200,000 slices the yield stress that they had is found again."""
    sank_mm = sunk_mm(100, yield_pa, 1.86)
    assert slump_yield_stress_pa(100, sank_mm, 1.86) == pytest.approx(yield_pa, rel=1e-5)


@given(st.floats(0.05, 0.7))
def test_the_short_form_gives_more(slump: float) -> None:
    """Half of 1 - sqrt(s), by the same authors (from memory), is never below the full solution."""
    exact = slump_yield_stress_pa(100, 100 * slump, 1.8)
    assert exact < (1 - math.sqrt(slump)) / 2 * 1.8 * 9.80665 * 100


def test_a_slump_by_hand() -> None:
    """With 2 t = 1/e the cylinder sinks by 1 - 2/e: 201.3 Pa for 60 mm of 1.86 g/ml, computed by hand."""
    assert slump_yield_stress_pa(60, 60 * (1 - 2 / math.e), 1.86) == pytest.approx(201.306, rel=1e-4)


@pytest.mark.parametrize("slump", [-1, 50, 60, math.nan])
def test_what_is_no_slump(slump: float) -> None:
    """It lies between nought and the whole cylinder."""
    with pytest.raises(ValueError, match="from 0 to less than the cylinder's height"):
        slump_yield_stress_pa(50, slump, 1.8)


@pytest.mark.parametrize("slump", [0, 4.9])
def test_a_cylinder_that_stands_says_what_would_do(slump: float) -> None:
    """Under a twentieth: 100 mm of 1.86 g/ml show 912 Pa at the top (rho g H / 2), and clay of 1000 Pa takes
    156 mm; the tube is offered instead.
    """
    with pytest.raises(
        ValueError, match=r"912 Pa, is the top of what .* 1000 Pa takes one of 156 mm .*--tube"
    ):
        slump_yield_stress_pa(100, slump, 1.86)
    assert sunk_mm(156.43, 1000, 1.86) == pytest.approx(0.05 * 156.43, rel=1e-3)


def test_a_cylinder_that_is_gone_says_what_would_do() -> None:
    """Over seven tenths: a lower cylinder, of which three tenths sink."""
    with pytest.raises(ValueError, match=r"more than the 0\.7 .* a cylinder of about 15 mm would do"):
        slump_yield_stress_pa(100, 80, 1.86)
    assert sunk_mm(slump_height_mm(46, 1.86), 46, 1.86) == pytest.approx(
        0.3 * slump_height_mm(46, 1.86), rel=1e-3
    )


# ---- tubes ----


def folds_at(rise_mm_min: float, fresh_pa: float, per_s: float, density_g_ml: float, much: float = 1) -> Fold:
    """A tube of clay that is so many times as strong: step by step, until its foot bears no more."""
    height_mm, age_s, step_s = 0.0, 0.0, 0.5
    while density_g_ml * 9.80665 * height_mm < math.sqrt(3) * (fresh_pa + per_s * age_s) * much:
        age_s += step_s
        height_mm = rise_mm_min / 60 * age_s
    return Fold(height_mm, age_s)


@pytest.mark.parametrize(
    ("height_mm", "density", "yield_pa"),
    [(92.9579100, 1.9, 1000), (286.4108579, 1.85, 3000), (158.0284470, 1.9, 1700)],
)
def test_the_strength_of_a_fold(height_mm: float, density: float, yield_pa: float) -> None:
    """Computed from rho g H = sqrt(3) tau (von Mises; formula from memory)."""
    assert fold_yield_pa(Fold(height_mm, 500), density) == pytest.approx(yield_pa, rel=1e-8)


def test_two_tubes_give_strength_and_stiffening() -> None:
    """2000 Pa and 0.5 Pa/s, 1.9 g/ml: at 20, 10 and 5 mm/min they fold at 216.04, 257.81 and 420.38 mm after
    648.1, 1546.9 and 5044.6 s. Derived from rho g v t = sqrt(3) (tau0 + A t).
    """
    folds = [Fold(216.0397, 648.119), Fold(257.8131, 1546.879), Fold(420.3838, 5044.606)]
    for used in (folds, folds[:2], folds[::2]):
        found = stiffening(used, 1.9)
        assert found is not None
        assert found.fresh_pa.middle == pytest.approx(2000, rel=1e-5)
        assert found.per_s.middle == pytest.approx(0.5, rel=1e-5)
        assert found.at_pa(1000) == pytest.approx(2500, rel=1e-5)
        assert found.freedom == len(used) - 2


def test_tubes_that_cannot_tell() -> None:
    """One alone, rates too near to one another, and tubes that did not yield."""
    fold = Fold(216.0397, 648.119)
    assert stiffening([fold], 1.9) is None
    assert stiffening([fold, Fold(220, 648.119 * 220 / 216.0397 * 1.4)], 1.9) is None
    assert stiffening([fold, Fold(420.3838, 5044.606, "wall")], 1.9) is None


@pytest.mark.parametrize("rises", [(20, 5), (20, 10, 5), (20, 20, 5, 5, 5)], ids=len)
def test_the_intervals_cover_what_they_say(rises: tuple[float, ...]) -> None:
    """Tubes of clay that differs by 5 %, drawn 2,000 times: both intervals hold the truth in 93 % or more."""
    draw = np.random.default_rng(13)
    held = np.zeros(2)
    for _ in range(2000):
        # where rho g v t = sqrt(3) (tau0 + A t) much, solved for t; the test above does it step by step
        folds = []
        for rise in rises:
            much = math.sqrt(3) * (1 + 0.05 * draw.standard_normal())
            age_s = 2000 * much / (1.9 * 9.80665 * rise / 60 - 0.5 * much)
            folds.append(Fold(rise / 60 * age_s, age_s))
        found = stiffening(folds, 1.9)
        assert found is not None
        held += [
            found.fresh_pa.low <= 2000 <= found.fresh_pa.high,
            found.per_s.low <= 0.5 <= found.per_s.high,
        ]
    assert (held >= 0.93 * 2000).all()


def test_tubes_that_disagree_are_less_sure() -> None:
    """A third that is a quarter stronger than the others makes the interval wider than the least there is."""
    good = [folds_at(rise, 2000, 0.3, 1.9) for rise in (20, 10, 5)]
    odd = [*good[:2], folds_at(5, 2000, 0.3, 1.9, 1.25)]
    sure, unsure = stiffening(good, 1.9), stiffening(odd, 1.9)
    assert sure is not None
    assert unsure is not None
    assert sure.fresh_pa.middle == pytest.approx(2000, rel=0.01)
    assert unsure.fresh_pa.high - unsure.fresh_pa.low > 2 * (sure.fresh_pa.high - sure.fresh_pa.low)


def test_clay_that_does_not_stiffen() -> None:
    """Tubes that fold at one height whatever the rate: the interval of the stiffening holds nought."""
    found = stiffening([Fold(200, 600), Fold(200, 2400)], 1.9)
    assert found is not None
    assert found.per_s.low < 0 < found.per_s.high
    assert found.per_s.middle == pytest.approx(0, abs=1e-12)


def test_tubes_that_nothing_holds_together() -> None:
    """Rates and heights by which no line goes through strength above nought tell nothing."""
    assert stiffening([Fold(2000, 200), Fold(100, 50)], 1.9) is None


# ---- cone ----


@pytest.mark.parametrize(("depth_mm", "mass_g", "angle"), [(20, 80, 30), (10, 60, 60)])
def test_both_standard_cones_give_the_same_strength_at_the_liquid_limit(
    depth_mm: float, mass_g: float, angle: float
) -> None:
    """80 g and 30 degrees sink 20 mm, 60 g and 60 degrees 10 mm, in clay at its liquid limit, about 1.7 kPa
    (C. P. Wroth, D. M. Wood, Can. Geotech. J. 15 (1978) 137-145; all from memory).
    """
    found = cone_yield_pa(depth_mm, mass_g, angle)
    assert found.low < 1700 < found.high
    assert found.middle == pytest.approx(1700, rel=0.1)


@pytest.mark.parametrize(
    ("mass_g", "angle", "depth_mm", "pa"),
    [(80, 30, 20, 1569.1), (80, 30, 10, 6276.3), (100, 30, 10, 7845.3), (60, 60, 10, 1588.7), (400, 30, 10,
    31381.3)], )
def test_cones_by_hand(mass_g: float, angle: float, depth_mm: float, pa: float) -> None:
    """K m g / d^2 with 0.80 (quoted from ISO 17892-6:2017) or 0.27 (from memory), computed by hand."""
    assert cone_yield_pa(depth_mm, mass_g, angle).middle == pytest.approx(pa, rel=1e-4)


def test_how_far_a_cone_is_known() -> None:
    """80 g at 10 mm: m g / d^2 is 7845.3 Pa, of which the factors 0.5 to 1.33 make 3923 to 10434 Pa."""
    found = cone_yield_pa(10, 80, 30)
    assert (found.low, found.high) == (pytest.approx(3922.66), pytest.approx(10434.28))


@pytest.mark.parametrize(
    ("depth_mm", "angle", "words"),
    [(10, 45, "30 and 60 degrees"), (3, 30, "heavier or sharper"), (30, 30, "lighter or blunter")],
)
def test_a_cone_that_tells_nothing(depth_mm: float, angle: float, words: str) -> None:
    """Another angle, hardly a dent, or all of the cone."""
    with pytest.raises(ValueError, match=words):
        cone_yield_pa(depth_mm, 80, angle)


# ---- how sure ----


def test_a_range_is_never_narrower_than_the_trial_allows() -> None:
    """One value and three alike: 1.96 times the share to each side. Three that differ: by Student, 4.303."""
    assert range_of([1000], 0.1) == pytest.approx((804.0, 1000, 1196.0), abs=0.1)
    assert range_of([1000, 1000, 1000], 0.1) == pytest.approx((804.0, 1000, 1196.0), abs=0.1)
    wide = range_of([800, 1000, 1200], 0.05)
    assert wide.high - wide.middle == pytest.approx(4.303 * 200 / math.sqrt(3), rel=1e-3)
    assert range_of([100, 1900], 0.1).low == 0
