"""Weighings: slope, start loss and their intervals, and weighings that can't be trusted."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from gpost.clay.trials import Weighing, fit_weighings, share_of_due, straight_line


def weighings(x: list[float], y: list[float]) -> list[Weighing]:
    """Pairs as weighings."""
    return [Weighing(*pair) for pair in zip(x, y, strict=True)]


NORRIS = """
0.1 0.2  338.8 337.4  118.1 118.2  888.0 884.6  9.2 10.1  228.1 226.5  668.5 666.3  998.5 996.3
449.1 448.6  778.9 777.0  559.2 558.2  0.3 0.4  0.1 0.6  778.1 775.5  668.8 666.9  339.3 338.0
448.9 447.5  10.8 11.6  557.7 556.0  228.3 228.1  998.0 995.8  888.8 887.6  119.6 120.2  0.3 0.3
0.6 0.3  557.6 556.8  339.3 339.1  888.0 887.2  998.5 999.0  778.9 779.0  10.2 11.1  117.6 118.3
228.9 229.2  668.4 669.1  449.2 448.9  0.2 0.5
"""
"""y and x of the set."""


def test_a_published_line_with_an_intercept() -> None:
    """The set Norris of the NIST statistical reference datasets: both coefficients and their errors.

    Data and certified values from memory; that they agree to ten digits shows the memory right.
    """
    y, x = np.array(NORRIS.split(), dtype=np.float64).reshape(-1, 2).T
    line = straight_line(x, y, starts=True)
    assert line.freedom == 34
    assert line.start == pytest.approx(-0.262323073774029, rel=1e-10)
    assert line.start_error == pytest.approx(0.232818234301152, rel=1e-10)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-13)
    assert line.slope_error == pytest.approx(0.429796848199937e-03, rel=1e-10)


@pytest.mark.parametrize(
    ("x", "y", "slope", "error"),
    [
        (np.arange(60.0, 71), np.arange(130.0, 141), 2.07438016528926, 0.0165289256198347),
        (np.array([4.0, 5, 6]), np.array([3.0, 4, 4]), 0.727272727272727, 0.0420827318078432),
    ],
    ids=["NoInt1", "NoInt2"],
)
def test_published_lines_through_the_origin(x: np.ndarray, y: np.ndarray, slope: float, error: float) -> None:
    """The sets NoInt1 and NoInt2 of the NIST statistical reference datasets.

    Data and certified values, slope and its standard error, from memory; the second set is easily done by
    hand: 56 / 77.
    """
    line = straight_line(x, y, starts=False)
    assert (line.slope, line.start, line.start_error) == (pytest.approx(slope, rel=1e-13), 0.0, None)
    assert line.slope_error == pytest.approx(error, rel=1e-9)


def test_weights_count_as_repetitions() -> None:
    """A point of a quarter of the variance counts as four such points: slope and intercept are theirs."""
    x, y = np.array([1.0, 2, 4, 7]), np.array([1.1, 1.9, 4.2, 6.8])
    weighted = straight_line(x, y, 1 / np.array([1.0, 4, 2, 1]), starts=True)
    repeated = stats.linregress(np.repeat(x, [1, 4, 2, 1]), np.repeat(y, [1, 4, 2, 1]))
    assert (weighted.slope, weighted.start) == pytest.approx((repeated.slope, repeated.intercept), rel=1e-12)


def drawn(
    random: np.random.Generator, e: np.ndarray, loss_g: float, constant_g: float = 0.25, uneven: float = 0.01
) -> list[Weighing]:
    """Weighings of 0.00445 g a unit on a scale of a tenth: some lost at each start, some of it by chance."""
    grams = (SLOPE * e - loss_g) * (1 + uneven * random.standard_normal(len(e)))
    grams += constant_g * random.standard_normal(len(e))
    return weighings(e.tolist(), np.round(grams, 1).tolist())


SLOPE = 0.00445
FOUR, SIX = 4200 * np.array([1.0, 2, 3, 4]), 4200 * np.array([1.0, 1, 2, 2, 4, 4])
LOSSES_G = (0.0, 0.6, 1.2, 2.0)


@pytest.mark.parametrize("e", [FOUR, SIX], ids=["four", "six"])
@pytest.mark.parametrize("loss_g", LOSSES_G)
def test_the_intervals_cover_the_truth_as_often_as_they_say(e: np.ndarray, loss_g: float) -> None:
    """Of 1500 drawn trials 93 to 97 % hold the true slope, and as many the true loss, whatever a start loses.

    A line through the origin holds it in fewer than four of five as soon as there is a loss.
    """
    random = np.random.default_rng(3)
    slopes = losses = origins = 0
    for _ in range(1500):
        trial = drawn(random, e, loss_g)
        fit = fit_weighings(trial)
        assert fit.low is not None
        assert fit.high is not None
        assert fit.start is not None
        assert fit.start.reach is not None
        slopes += fit.low <= SLOPE <= fit.high
        losses += abs(fit.start.value + loss_g) <= fit.start.reach
        through = straight_line(e, np.array([one.grams for one in trial]), starts=False)
        assert through.slope_error is not None
        reach = stats.t.ppf(0.975, len(e) - 1) * through.slope_error
        origins += abs(through.slope - SLOPE) <= reach
    assert 0.93 <= slopes / 1500 <= 0.97
    assert 0.93 <= losses / 1500 <= 0.975
    assert origins / 1500 < 0.8 or loss_g == 0


@pytest.mark.parametrize(
    ("constant_g", "uneven"), [(0.25, 0.0), (0.0, 0.01), (0.4, 0.005), (0.1, 0.015), (0.25, 0.02)]
)
def test_the_slope_s_interval_bears_errors_of_another_make(constant_g: float, uneven: float) -> None:
    """Errors that are all constant, all in proportion or of other shares still leave 92 to 98 % for the slope."""
    random = np.random.default_rng(4)
    held = 0
    for _ in range(1500):
        fit = fit_weighings(drawn(random, FOUR, 1.0, constant_g, uneven))
        assert fit.low is not None
        assert fit.high is not None
        held += fit.low <= SLOPE <= fit.high
    assert 0.92 <= held / 1500 <= 0.98


@pytest.mark.parametrize("grams", [[2.5, 5.0, 7.5, 10.0], [2.0, 4.5, 7.0, 9.5]])
def test_weighings_without_error(grams: list[float]) -> None:
    """2.5 g for 1000 units, with and without 0.5 g lost: slope and loss, by hand; nothing to complain about.

    What is left of the interval is the scale's steps of 0.1 g: four at equal distances of 1000 units with
    0.1 / sqrt(12) g each have a slope that is off by that over 1000 sqrt(5), were all weights the same; Student's
    t for two degrees is 4.303 (tables).
    """
    fit = fit_weighings(weighings([1000.0, 2000, 3000, 4000], grams))
    assert fit.slope == pytest.approx(0.0025, rel=1e-12)
    assert fit.start is not None
    assert fit.start.value == pytest.approx(grams[0] - 2.5, abs=1e-12)
    assert fit.low is not None
    steps = 4.303 * 0.1 / math.sqrt(12) / (1000 * math.sqrt(5))
    assert fit.slope - fit.low == pytest.approx(steps, rel=0.1)
    assert fit.outliers == ()


def test_no_weighing_is_finer_than_its_scale() -> None:
    """Two readings of one amount that agree to the tenth are each off by 0.1 / sqrt(12) g all the same.

    Guide to the expression of uncertainty in measurement, JCGM 100:2008, F.2.2.1 (from memory). t is 12.706.
    """
    fit = fit_weighings(weighings([4.0, 4.0], [2.1, 2.1]))
    assert fit.high is not None
    assert fit.high - fit.slope == pytest.approx(12.706 * 0.1 / 12**0.5 / 4 / 2**0.5, rel=1e-4)


def test_one_weighing() -> None:
    """One weighing gives a slope and no interval."""
    fit = fit_weighings([Weighing(400, 2)])
    assert (fit.slope, fit.low, fit.start) == (pytest.approx(0.005), None, None)


def test_two_amounts_say_nothing_of_their_error() -> None:
    """Two points make a line, and no interval."""
    fit = fit_weighings([Weighing(400, 1.5), Weighing(800, 3.5)])
    assert (fit.slope, fit.low) == (pytest.approx(0.005), None)
    assert fit.start is not None
    assert (fit.start.value, fit.start.reach) == (pytest.approx(-0.5), None)


def test_equal_amounts_say_nothing_of_the_start() -> None:
    """If every amount is the same the line's start can't be known, and the slope is the mean's."""
    fit = fit_weighings(weighings([100.0] * 4, [1.0, 1.1, 0.9, 1.0]))
    assert (fit.start, fit.offset, fit.slope) == (None, None, pytest.approx(0.01))


NOISE = (0.02, -0.03, 0.01, -0.01, 0.03, -0.02)


def test_a_cup_that_was_not_tared() -> None:
    """The same grams in every weighing are told from nought; with such small amounts as the ordinary line's."""
    x = [100.0, 200, 300, 400, 500, 600]
    y = [5 + 0.01 * e + noise for e, noise in zip(x, NOISE, strict=True)]
    assert fit_weighings(weighings(x, y)).offset == pytest.approx(stats.linregress(x, y).intercept, abs=0.01)


def test_an_outlier_is_named() -> None:
    """A weighing with a bubble in it is found, and alone; without it there is none."""
    x = [100.0, 200, 300, 400, 500, 600]
    y = [0.01 * e + noise for e, noise in zip(x, NOISE, strict=True)]
    assert fit_weighings(weighings(x, y)).outliers == ()
    y[3] -= 0.6
    fit = fit_weighings(weighings(x, y))
    assert fit.outliers == (3,)
    assert fit.without == pytest.approx(0.01, rel=0.02)


def test_outliers_by_chance_are_rare() -> None:
    """Good weighings are called outliers in no more than about 5 % of all trials (invented data)."""
    random = np.random.default_rng(2)
    found = sum(
        bool(fit_weighings(drawn(random, 4200 * np.arange(1.0, 7), 1.0)).outliers) for _ in range(1500)
    )
    assert 0.01 < found / 1500 < 0.06


@pytest.mark.parametrize("size", [0.2, -0.3, 0.5])
def test_a_slip_among_five_weighings_widens_the_interval_or_is_named(size: float) -> None:
    """Of 300 trials with one weighing 20 to 50 % off none has an interval within 5 % and no outlier."""
    random = np.random.default_rng(9)
    for _ in range(300):
        trial = drawn(random, 4200 * np.arange(1.0, 6), 1.0)
        wrong = int(random.integers(5))
        trial[wrong] = Weighing(trial[wrong].e, round(trial[wrong].grams * (1 + size), 1))
        fit = fit_weighings(trial)
        assert fit.high is not None
        assert fit.outliers or fit.high - fit.slope > 0.05 * fit.slope


def test_a_day_s_share_is_as_sure_as_it_says() -> None:
    """One weighing with the usual errors: the interval holds the true share in 95 % of 3000 draws."""
    random, due = np.random.default_rng(5), 75.0
    held = 0
    for _ in range(3000):
        true = random.uniform(0.9, 1.1)
        grams = true * due * (1 + 0.01 * random.standard_normal()) + 0.25 * random.standard_normal()
        found = share_of_due([round(grams, 1)], [due])
        assert found.reach is not None
        held += abs(found.value - true) <= found.reach
    assert held / 3000 == pytest.approx(0.95, abs=0.015)


@pytest.mark.parametrize(
    "pairs", [[], [(0.0, 1.0)], [(1.0, 0.0)], [(1.0, 1.0), (-5.0, 2.0)], [(math.inf, 1.0)], [(1.0, math.nan)]]
)
def test_what_is_no_weighing(pairs: list[tuple[float, float]]) -> None:
    """No weighing at all, and E or grams that are not above 0, are refused."""
    with pytest.raises(ValueError, match="weighing"):
        fit_weighings([Weighing(*pair) for pair in pairs])
