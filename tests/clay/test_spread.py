"""Means, intervals, tolerance limits and odd ones out, against tables, SciPy and drawn findings."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize, stats

from gpost.clay.spread import (
    NORMAL_REACH,
    odd_value,
    scale_step,
    spread_of,
    student,
    tolerance_factor,
)


@pytest.mark.parametrize(("freedom", "t"), [(1, 12.706), (2, 4.303), (4, 2.776), (10, 2.228), (30, 2.042)])
def test_student(freedom: int, t: float) -> None:
    """Student's t for 95 %, two-sided, as in any printed table (from memory)."""
    assert student(0.95, freedom) == pytest.approx(t, abs=5e-4)


@pytest.mark.parametrize(
    ("count", "share", "confidence", "k"),
    [
        (40, 0.90, 0.99, 1.9017),
        (2, 0.95, 0.95, 26.260),
        (3, 0.95, 0.95, 7.656),
        (4, 0.95, 0.95, 5.144),
        (6, 0.95, 0.95, 3.708),
        (10, 0.95, 0.95, 2.911),
        (20, 0.95, 0.95, 2.396),
        (50, 0.95, 0.95, 2.065),
    ],
)
def test_tolerance_factors_of_the_tables(count: int, share: float, confidence: float, k: float) -> None:
    """One-sided factors as published: the first seen second-hand (quoted from the NIST/SEMATECH e-Handbook of
    Statistical Methods, 7.2.6.3), the others as in the usual table (ISO 16269-6; from memory).
    """
    assert tolerance_factor(count, share, confidence) == pytest.approx(k, abs=1.1e-3)


def test_the_handbook_s_wafers() -> None:
    """43 wafers, mean 97.07, s 0.0268: 90 % of all are below 97.12, with 99 % confidence.

    NIST/SEMATECH e-Handbook, 7.2.6.3, seen second-hand; its approximate k is 1.8752.
    """
    k = tolerance_factor(43, 0.90, 0.99)
    assert k == pytest.approx(1.8752, abs=2e-3)
    assert round(97.07 + k * 0.0268, 2) == 97.12


@pytest.mark.parametrize("count", [3, 5, 9])
def test_a_tolerance_limit_holds_its_share_as_often_as_it_says(count: int) -> None:
    """Of 4000 drawn samples 95 % have a limit below which 95 % of the whole lie (a fixed seed)."""
    drawn = np.random.default_rng(count).normal(50, 12, (4000, count))
    limits = [spread_of(sample.tolist()).upper_limit(0.95, 0.95) for sample in drawn]
    held = stats.norm(50, 12).cdf(limits) >= 0.95
    assert held.mean() == pytest.approx(0.95, abs=0.012)


@given(st.lists(st.floats(0.5, 2), min_size=2, max_size=12))
def test_the_interval_is_students(values: list[float]) -> None:
    """Mean, deviation and the 95 % interval of the mean as SciPy gives them."""
    found = spread_of(values)
    deviation = float(np.std(values, ddof=1))
    assert (found.count, found.mean) == (len(values), pytest.approx(sum(values) / len(values)))
    assert found.deviation == pytest.approx(deviation, abs=1e-12)
    reach = float(stats.t.ppf(0.975, len(values) - 1)) * deviation / math.sqrt(len(values))
    assert found.reach == pytest.approx(reach, abs=1e-9)
    assert found.mean_spread == pytest.approx(reach / float(stats.norm.ppf(0.975)), abs=1e-9)


def test_by_hand() -> None:
    """0.9, 1.0, 1.1: mean 1, deviation 0.1; t for 2 degrees is 4.303 (tables)."""
    found = spread_of([0.9, 1.0, 1.1])
    assert (found.mean, found.deviation) == pytest.approx((1, 0.1))
    assert found.reach == pytest.approx(4.303 * 0.1 / math.sqrt(3), abs=1e-4)


def test_one_finding_has_no_spread() -> None:
    """It is refused."""
    with pytest.raises(ValueError, match="no spread"):
        spread_of([1.0])


@pytest.mark.parametrize("count", [3, 5, 10])
def test_the_next_finding_lies_within_its_spread(count: int) -> None:
    """Taken for normal, mean and `next_spread` hold the next in 95 % of 4000 draws, however few taught them."""
    random = np.random.default_rng(count)
    held = 0
    for sample in random.normal(1, 0.03, (4000, count + 1)):
        found = spread_of(sample[:-1].tolist())
        held += abs(sample[-1] - found.mean) <= NORMAL_REACH * found.next_spread
    assert held / 4000 == pytest.approx(0.95, abs=0.012)


def test_the_odd_one_is_found_as_grubbs_finds_it() -> None:
    """The same verdict as the two-sided test of Grubbs at 5 %, for 500 drawn samples, with and without a slip.

    F. E. Grubbs 1950; NIST/SEMATECH e-Handbook, 1.3.5.17.1 (formula from memory): G = max |y - mean| / s is
    compared with (n - 1) / sqrt(n) sqrt(t^2 / (n - 2 + t^2)), t at 5 % / (2 n) with n - 2 degrees of freedom.
    """
    random, found = np.random.default_rng(7), 0
    for draw in range(500):
        n = int(random.integers(3, 12))
        values = random.normal(1, 0.02, n)
        if draw % 2:
            values[random.integers(n)] += random.uniform(-0.3, 0.3)
        grubbs = np.abs(values - values.mean()) / values.std(ddof=1)
        t = stats.t.ppf(1 - 0.05 / (2 * n), n - 2)
        limit = (n - 1) / math.sqrt(n) * math.sqrt(t * t / (n - 2 + t * t))
        expected = int(np.argmax(grubbs)) if grubbs.max() > limit else None
        assert odd_value(values.tolist()) == expected
        found += expected is not None
    assert 100 < found < 400


def test_two_cannot_tell_which_is_odd() -> None:
    """Of two that differ either may be wrong."""
    assert odd_value([1.0, 9.0]) is None


def test_all_the_same_has_none_odd_and_one_unlike_them_is() -> None:
    """Also where all agree to the last digit."""
    assert odd_value([1.0, 1.0, 1.0, 1.0]) is None
    assert odd_value([1.0, 1.0, 1.2, 1.0]) == 2


@pytest.mark.parametrize(
    ("readings", "step"), [([18.6, 37.0], 0.1), ([500.0, 480.0], 1.0), ([1 / 3], 0.0), ([0.05], 0.01)]
)
def test_the_steps_of_a_scale(readings: list[float], step: float) -> None:
    """The last decimal of any reading; none where there are more than a scale has."""
    assert scale_step(np.array(readings)) == pytest.approx(step)


COARSE = st.lists(st.tuples(st.floats(0.5, 2), st.floats(0.001, 0.3)), min_size=2, max_size=8)


@given(COARSE)
def test_values_read_in_different_steps_count_by_what_they_can_tell(pairs: list[tuple[float, float]]) -> None:
    """Against Paule and Mandel's condition: the weighted squares come to n - 1, or the findings scatter not at all.

    SciPy finds the variance between them by itself.
    """
    values, least = (np.array(each) for each in zip(*pairs, strict=True))
    found = spread_of(values.tolist(), least)

    def squares(variance: float) -> float:
        weights = 1 / (variance + least**2)
        return float((weights * (values - np.average(values, weights=weights)) ** 2).sum()) - (len(values) - 1)

    variance = 0.0 if squares(0.0) <= 0 else optimize.brentq(squares, 0.0, 10.0, xtol=1e-14)
    weights = 1 / (variance + least**2)
    assert found.mean == pytest.approx(np.average(values, weights=weights), rel=1e-6)
    assert found.deviation / math.sqrt(len(values)) == pytest.approx(1 / math.sqrt(weights.sum()), rel=1e-5)


@given(st.lists(st.floats(0.5, 2), min_size=2, max_size=8), st.floats(0.001, 0.3))
def test_steps_that_are_almost_the_same_count_as_the_same(values: list[float], least: float) -> None:
    """The mean and the larger of scatter and step, with no jump from one to the other."""
    same, almost = spread_of(values, least), spread_of(values, np.linspace(least, least * 1.0001, len(values)))
    assert almost.mean == pytest.approx(same.mean, rel=1e-3)
    assert almost.deviation == pytest.approx(same.deviation, rel=1e-3)
    assert same.deviation == pytest.approx(max(float(np.std(values, ddof=1)), least))


def test_a_coarse_reading_is_not_odd_for_what_its_last_digit_leaves_open() -> None:
    """Four findings of 1.3 and one of 1.175, whose step is 0.29: it is odd only if it was read as finely as they were."""
    values, fine = [1.29, 1.29, 1.30, 1.31, 1.175], 0.01
    assert odd_value(values, [fine] * 5) == 4
    assert odd_value(values, [fine] * 4 + [0.29 / math.sqrt(12)]) is None
    assert odd_value([*values[:4], 0.3], [fine] * 4 + [0.29 / math.sqrt(12)]) == 4


def test_the_odd_one_is_the_same_by_either_way() -> None:
    """Steps that are almost the same give the verdict of steps that are the same, in 300 drawn samples."""
    random = np.random.default_rng(11)
    for draw in range(300):
        n = int(random.integers(3, 9))
        values = random.normal(1, 0.02, n)
        if draw % 2:
            values[random.integers(n)] += random.uniform(-0.3, 0.3)
        assert odd_value(values.tolist(), 0.01 * np.linspace(1, 1 + 1e-6, n)) == odd_value(values.tolist(), 0.01)
