"""Weighings: the line through the origin, its interval, and weighings that can't be trusted."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from gpost.clay.trials import Fit, Weighing, fit_weighings, scale_g, student


def weighings(x: list[float], y: list[float]) -> list[Weighing]:
    """Pairs as weighings."""
    return [Weighing(*pair) for pair in zip(x, y, strict=True)]


def error_of(fit: Fit, count: int) -> float:
    """Standard error of the slope that its 95 % interval says: half of that over Student's t (SciPy's)."""
    assert fit.low is not None
    assert fit.high is not None
    assert (fit.low + fit.high) / 2 == pytest.approx(fit.slope)
    return (fit.high - fit.low) / 2 / float(stats.t.ppf(0.975, count - 1))


@pytest.mark.parametrize(
    ("x", "y", "slope", "error"),
    [
        (
            [float(n) for n in range(60, 71)],
            [float(n) for n in range(130, 141)],
            2.07438016528926,
            0.0165289256198347,
        ),
        ([4.0, 5.0, 6.0], [3.0, 4.0, 4.0], 0.727272727272727, 0.0420827318078432),
    ],
)
def test_published_lines_through_the_origin(
    x: list[float], y: list[float], slope: float, error: float
) -> None:
    """The sets NoInt1 and NoInt2 of the NIST statistical reference datasets.

    Data and certified values, slope and its standard error, from memory; the second set is easily done by
    hand: 56 / 77. The interval is as wide as that error makes it, with n - 1 degrees of freedom.
    """
    fit = fit_weighings(weighings(x, y))
    assert fit.slope == pytest.approx(slope, rel=1e-13)
    assert error_of(fit, len(x)) == pytest.approx(error, rel=1e-9)


@pytest.mark.parametrize(("freedom", "t"), [(1, 12.706), (2, 4.303), (4, 2.776), (10, 2.228), (30, 2.042)])
def test_student(freedom: int, t: float) -> None:
    """Student's t for 95 %, two-sided, as in any printed table (from memory)."""
    assert student(0.95, freedom) == pytest.approx(t, abs=5e-4)


@given(st.floats(1e-4, 10), st.lists(st.floats(1, 1e4), min_size=2, max_size=8))
def test_weighings_without_error(slope: float, x: list[float]) -> None:
    """Exact weighings give the slope, no interval but for the scale's steps, and nothing to complain about."""
    y = [slope * e for e in x]
    fit = fit_weighings(weighings(x, y))
    assert fit.slope == pytest.approx(slope, rel=1e-12)
    steps = student(0.95, len(x) - 1) * scale_g(np.array(y)) / 12**0.5 / math.hypot(*x)
    assert fit.low == pytest.approx(slope - steps, rel=1e-6, abs=1e-6 * slope)
    assert (fit.offset, fit.outliers) == (None, ())


def test_the_interval_covers_the_truth_as_often_as_it_says() -> None:
    """Of 2000 trials with normal errors about 95 % hold the true slope (invented data, a fixed seed)."""
    random, x = np.random.default_rng(1), np.array([100.0, 200, 300, 400])
    held = 0
    for _ in range(2000):
        fit = fit_weighings(weighings(x.tolist(), (0.5 * x + random.normal(0, 2, 4)).tolist()))
        assert fit.low is not None
        assert fit.high is not None
        held += fit.low <= 0.5 <= fit.high
    assert held / 2000 == pytest.approx(0.95, abs=0.02)


def test_one_weighing() -> None:
    """One weighing gives a slope and no interval."""
    fit = fit_weighings([Weighing(400, 2)])
    assert (fit.slope, fit.low, fit.high, fit.offset) == (0.005, None, None, None)


NOISE = (0.02, -0.03, 0.01, -0.01, 0.03, -0.02)


def test_an_outlier_is_named() -> None:
    """A weighing with a bubble in it is found, and alone; without it there is none."""
    x = [100.0, 200, 300, 400, 500, 600]
    y = [0.01 * e + noise for e, noise in zip(x, NOISE, strict=True)]
    assert fit_weighings(weighings(x, y)).outliers == ()
    y[3] -= 0.4
    assert fit_weighings(weighings(x, y)).outliers == (3,)


@pytest.mark.parametrize("bad", [0, 1, 2])
def test_an_outlier_among_exact_weighings(bad: int) -> None:
    """Where all others agree to the last digit, the one that doesn't is the outlier."""
    y = [1.0, 2.0, 3.0, 4.0]
    y[bad] += 0.6
    assert fit_weighings(weighings([100.0, 200, 300, 400], y)).outliers == (bad,)


def test_a_kitchen_scale_calls_nothing_an_outlier_by_its_own_steps() -> None:
    """Grams rounded to a tenth, with half a tenth of true scatter: false alarms in 5 % at most (invented data)."""
    random, x = np.random.default_rng(5), np.array([4200.0, 8400, 12600])
    for count in (3, 4):
        at = np.append(x, 16800.0)[:count]
        trials = [np.round(0.00445 * at + random.normal(0, 0.05, count), 1).tolist() for _ in range(2000)]
        found = sum(bool(fit_weighings(weighings(at.tolist(), y)).outliers) for y in trials)
        assert found / 2000 < 0.05


def test_no_weighing_is_finer_than_its_scale() -> None:
    """Two readings that agree to the tenth of a gram are each off by 0.1 / sqrt(12) g all the same.

    Guide to the expression of uncertainty in measurement, JCGM 100:2008, section 4.3.7 (from memory).
    """
    fit = fit_weighings(weighings([3.0, 4.0], [1.5, 2.0]))
    assert error_of(fit, 2) == pytest.approx(0.1 / 12**0.5 / 5)


def test_the_slope_without_the_outlier_is_given() -> None:
    """What the others alone say."""
    fit = fit_weighings(weighings([100.0, 200, 300, 400], [1.0, 2.0, 3.0, 4.9]))
    assert fit.outliers == (3,)
    assert fit.without == pytest.approx(0.01)


def test_outliers_by_chance_are_rare() -> None:
    """Good weighings are called outliers in about 5 % of all trials (invented data, a fixed seed)."""
    random, x = np.random.default_rng(2), np.array([100.0, 200, 300, 400, 500])
    found = sum(
        bool(fit_weighings(weighings(x.tolist(), (0.5 * x + random.normal(0, 2, 5)).tolist())).outliers)
        for _ in range(2000)
    )
    assert found / 2000 == pytest.approx(0.05, abs=0.02)


def test_a_cup_that_was_not_tared() -> None:
    """The same grams in every weighing are told from nought; the intercept is the ordinary line's."""
    x = [100.0, 200, 300, 400, 500, 600]
    y = [5 + 0.01 * e + noise for e, noise in zip(x, NOISE, strict=True)]
    fit = fit_weighings(weighings(x, y))
    assert fit.offset == pytest.approx(float(stats.linregress(x, y).intercept), rel=1e-9)


def test_equal_amounts_say_nothing_of_an_offset() -> None:
    """If every amount is the same, the line's start can't be known."""
    assert fit_weighings(weighings([100.0] * 4, [1.0, 1.1, 0.9, 1.0])).offset is None


@pytest.mark.parametrize(
    "pairs", [[], [(0.0, 1.0)], [(1.0, 0.0)], [(1.0, 1.0), (-5.0, 2.0)], [(math.inf, 1.0)], [(1.0, math.nan)]]
)
def test_what_is_no_weighing(pairs: list[tuple[float, float]]) -> None:
    """No weighing at all, and E or grams that are not above 0, are refused."""
    with pytest.raises(ValueError, match="weighing"):
        fit_weighings([Weighing(*pair) for pair in pairs])


def test_an_offset_is_told_where_its_own_interval_leaves_nought_out() -> None:
    """By SciPy's standard error of the intercept, for 300 drawn trials, of which some are told and some are not."""
    random, told = np.random.default_rng(11), 0
    for _ in range(300):
        x = 100 * np.arange(1.0, 7.0)
        y = 0.02 * x + random.uniform(0, 0.6) + random.normal(0, 0.2, 6)
        line = stats.linregress(x, y)
        beyond = abs(line.intercept) > stats.t.ppf(0.975, 4) * line.intercept_stderr
        assert (fit_weighings(weighings(x.tolist(), y.tolist())).offset is not None) == beyond
        told += beyond
    assert 30 < told < 270


def test_what_differs_by_rounding_alone_is_no_outlier() -> None:
    """A billionth of the largest weighing is nought, however well the others agree."""
    weighings = [Weighing(1000.0 * n, 0.5 * math.pi * n + (5e-7 if n == 3 else 0.0)) for n in range(1, 6)]
    assert fit_weighings(weighings).outliers == ()
    weighings[2] = Weighing(3000.0, 1.5 * math.pi + 5e-3)
    assert fit_weighings(weighings).outliers == (2,)
