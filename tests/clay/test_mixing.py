"""One clay after another through the line, against published cases and other numerics."""

from __future__ import annotations

import math
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.stats import gamma

from gpost.clay.holdup import round_ml
from gpost.clay.mixing import BEGINS, FULL, Hose, fit_line, stages_from_moments

STAGES = st.floats(1.0, 200.0)
PLUGS = st.floats(0.0, 0.95)
LINES = st.builds(Hose, st.floats(1.0, 500.0), STAGES, PLUGS)


# ---- published cases ----


def test_the_mixed_length_grows_with_the_root_of_the_line() -> None:
    """Levenspiel 1999, example 14.1: 8 bottles mixed at 32 m of wine line, 10 at 50 m.

    Its figures seen second-hand, its wording from memory. Stages grow with the length, as the line is of one kind.
    """
    short, long = Hose(32, 32 * 7), Hose(50, 50 * 7)
    assert 8 * long.width_ml / short.width_ml == pytest.approx(10, rel=1e-3)


def test_the_widths_of_a_change_tell_where_it_began() -> None:
    """Levenspiel 1999, example 14.2 (seen second-hand): 14 and 10.5 h wide, 119 miles apart, so 272 away."""
    per_mile = (14**2 - 10.5**2) / 119
    assert round(14**2 / per_mile) == 272
    assert Hose(272, 272).width_ml / Hose(153, 153).width_ml == pytest.approx(14 / 10.5, rel=1e-3)


def test_stages_from_mean_and_variance() -> None:
    """Levenspiel 1999, example 14.4 (seen second-hand): means 220 and 280, variances 100 and 1000, so 4 tanks."""
    assert stages_from_moments(280 - 220, 1000 - 100) == pytest.approx(4, rel=1e-12)


TABLE = [
    (1, 0.3934693403, 0.6321205588, 0.8646647168, 2.9957322736),
    (2, 0.2642411177, 0.5939941503, 0.9084218056, 2.3719322592),
    (3, 0.1911531695, 0.5768099189, 0.9380311956, 2.0985978740),
    (5, 0.1088219811, 0.5595067149, 0.9707473119, 1.8307038053),
    (10, 0.0318280573, 0.5420702855, 0.9950045877, 1.5705216422),
    (20, 0.0034543420, 0.5297427332, 0.9998236971, 1.3939619820),
    (50, 6.9533e-06, 0.5188083155, 0.9999999882, 1.2434211340),
]


@pytest.mark.parametrize(("stages", "half", "one", "two", "at_95"), TABLE)
def test_tanks_in_series(stages: float, half: float, one: float, two: float, at_95: float) -> None:
    """F at half, one and two hold-ups, and where it is 95 %: computed from the formula of ch. 14."""
    line = Hose(100, stages)
    assert line.new_share([50, 100, 200]) == pytest.approx([half, one, two], abs=1e-10)
    assert line.pushed_ml(FULL) == pytest.approx(100 * at_95, rel=1e-9)


# E(1), F(3), theta where F is 99 %, 99.9 % and 1 %: gamma distribution of shape N and scale 1 / N
MORE = [
    (1, 0.3678794412, 0.9502129316, 4.6051701860, 6.9077552790, 0.0100503359),
    (2, 0.5413411329, 0.9826487348, 3.3191760340, 4.6167067382, 0.0742773701),
    (3, 0.6721254230, 0.9937678049, 2.8019823050, 3.7429574141, 0.1453483884),
    (5, 0.8773368488, 0.9991433588, 2.3209251159, 2.9588298445, 0.2558212160),
    (10, 1.2511003572, 0.9999928782, 1.8783117393, 2.2657373309, 0.4130199166),
    (20, 1.7767063478, 0.9999999994, 1.5922684938, 1.8350489380, 0.5541065313),
    (50, 2.8162503163, 1.0, 1.3580672317, 1.4944925278, 0.7006489493),
]


def density(line: Hose, theta: float) -> float:
    """E = dF / d theta of a line without a plug, by a five-point difference; its error goes with the step^4."""
    step = 1e-3
    a, b, c, d = line.new_share(line.holdup_ml * (theta + step * np.array([-2, -1, 1, 2])))
    return float(a - 8 * b + 8 * c - d) / (12 * step)


@pytest.mark.parametrize(("stages", "peak", "three", "at_99", "at_999", "at_1"), MORE)
def test_tanks_in_series_to_their_ends(
    stages: float, peak: float, three: float, at_99: float, at_999: float, at_1: float
) -> None:
    """How fast the change is at one hold-up, and where it is 1 %, 99 % and 99.9 % done.

    Computed from Levenspiel 1999, ch. 14 (formulas from memory; E for J tanks as quoted elsewhere from him).
    """
    line = Hose(100, stages)
    assert density(line, 1) == pytest.approx(peak, rel=1e-8)
    assert line.new_share(300) == pytest.approx(three, abs=1e-10)
    found = [line.pushed_ml(share) for share in (0.99, 0.999, 0.01)]
    assert found == pytest.approx([100 * at_99, 100 * at_999, 100 * at_1], rel=1e-8)


@pytest.mark.parametrize(("stages", "theta", "expected"), [(2, 0.5, 0.7357588823), (3, 2 / 3, 0.8120116995)])
def test_a_change_is_fastest_a_stage_before_the_hold_up(stages: float, theta: float, expected: float) -> None:
    """E at its peak, (N - 1) / N: computed from the formula of ch. 14; to both sides it is less."""
    line = Hose(100, stages)
    assert density(line, theta) == pytest.approx(expected, rel=1e-8)
    assert density(line, theta) > max(density(line, theta - 0.05), density(line, theta + 0.05))


@pytest.mark.parametrize(("stages", "fits"), [(11, False), (12, True), (13, False)])
def test_the_width_of_a_pulse_tells_the_stages(stages: int, fits: bool) -> None:
    """Levenspiel 1999, example 14.3 (seen second-hand): peak at 1/6, width 1/10 at 61 % of it, so 12 tanks.

    The pulse is how fast the share of the new clay grows; of lines with that peak only twelve stages are so wide.
    """
    at = (stages - 1) / stages
    line = Hose(1 / 6 / at, stages)
    least = 0.61 * density(line, at)
    ends = [brentq(lambda theta: density(line, theta) - least, *span) for span in ((0.1, at), (at, 3))]
    width = (ends[1] - ends[0]) * line.holdup_ml
    assert (width == pytest.approx(1 / 10, rel=5e-3)) is fits


def test_what_a_hose_takes_to_change() -> None:
    """10 mm by 1.5 m hold 117.8097 ml; through ten stages it takes 221.2834 ml to be 99 % new: computed."""
    hose_ml = round_ml(10, 1500)
    assert hose_ml == pytest.approx(117.8097245, abs=1e-7)
    assert Hose(hose_ml, 10).pushed_ml(0.99) == pytest.approx(221.2834, abs=5e-5)


def test_one_tank_is_an_exponential() -> None:
    """99 % of a single tank is new after ln 100 hold-ups."""
    assert Hose(1, 1).pushed_ml(0.99) == pytest.approx(math.log(100), rel=1e-12)


@pytest.mark.parametrize("stages", [1, 2, 5, 12])
def test_whole_stages_follow_the_sum(stages: int) -> None:
    """F = 1 - exp(-x) sum x^k / k!, k below n, with x = n theta: the form with factorials."""
    theta = np.linspace(0, 4, 41)
    x = stages * theta
    summed = 1 - np.exp(-x) * sum(x**k / math.factorial(k) for k in range(stages))
    assert Hose(1, stages).new_share(theta) == pytest.approx(summed, abs=1e-12)


# ---- laws ----


@given(LINES, st.lists(st.floats(0, 2000), min_size=1, max_size=20))
def test_the_line_is_a_plug_and_a_gamma_distribution(line: Hose, pushed: list[float]) -> None:
    """As scipy.stats has it: shape n, from the plug on, with the mixed part as its mean."""
    plug, mixed = line.plug_part * line.holdup_ml, (1 - line.plug_part) * line.holdup_ml
    expected = gamma.cdf(pushed, line.stages, loc=plug, scale=mixed / (line.stages or 1))
    assert line.new_share(pushed) == pytest.approx(expected, abs=1e-9)


@given(LINES)
def test_on_average_new_clay_is_one_hold_up_late(line: Hose) -> None:
    """Mean and standard deviation by integrating 1 - F and its moment: nothing is lost in the line."""
    far_ml = line.pushed_ml(1 - 1e-13)
    half_ml = line.pushed_ml(0.5)
    old_ml, _ = quad(lambda v: 1 - float(line.new_share(v)), 0, far_ml, limit=400, points=[half_ml])
    assert old_ml == pytest.approx(line.holdup_ml, rel=1e-5)
    assert far_ml - float(line.new_ml(far_ml)) == pytest.approx(line.holdup_ml, rel=1e-9)


@pytest.mark.parametrize("line", [Hose(60, 4), Hose(60, 7.5, 0.4), Hose(60, 1, 0.9), Hose(60)])
@pytest.mark.parametrize("pushed", [10, 55, 60, 80, 200])
def test_new_clay_is_the_integral_of_its_share(line: Hose, pushed: float) -> None:
    """The closed form against adaptive quadrature."""
    summed, _ = quad(lambda v: float(line.new_share(v)), 0, pushed, limit=400, points=[24, 54, 60])
    assert float(line.new_ml(pushed)) == pytest.approx(summed, abs=1e-6)


@given(LINES, st.floats(0.001, 0.999))
def test_share_and_pushed_clay_are_inverse(line: Hose, share: float) -> None:
    """The clay to push for a share gives that share."""
    assert float(line.new_share(line.pushed_ml(share))) == pytest.approx(share, abs=1e-7)


@given(st.floats(1, 300), PLUGS)
def test_more_stages_are_a_sharper_change(holdup: float, plug: float) -> None:
    """The width falls with every stage, towards nothing as for a plug."""
    widths = [Hose(holdup, stages, plug).width_ml for stages in (1, 2, 5, 20, 1000)]
    assert widths == sorted(widths, reverse=True)
    assert Hose(holdup, None, plug).width_ml == 0


def test_a_plug_arrives_at_once() -> None:
    """Without stages, or without anything to mix in, nothing shows before the hold-up is pushed, then all."""
    for line in (Hose(60), Hose(60, None, 0.5)):
        assert line.new_share([0, 59.999, 60, 61]).tolist() == [0, 0, 1, 1]
        assert line.pushed_ml(BEGINS) == line.pushed_ml(FULL) == 60
        assert line.new_ml([50, 60, 75]).tolist() == [0, 0, 15]
    assert Hose(0, 5).new_share([0, 1]).tolist() == [1, 1]


@pytest.mark.parametrize("share", [0, 1, -0.1, math.nan])
def test_no_clay_is_ever_quite_pure(share: float) -> None:
    """A share of nothing or of all is reached nowhere."""
    with pytest.raises(ValueError, match="between 0 and 1"):
        Hose(60, 4).pushed_ml(share)


# ---- fitting ----


@given(st.floats(10, 300), st.floats(1.5, 200), st.floats(0, 0.8))
def test_a_fit_gives_back_the_line_that_made_the_trial(holdup: float, stages: float, plug: float) -> None:
    """From where the change was 5 % and 95 %."""
    line = Hose(holdup, stages, plug)
    fit = fit_line([(line.pushed_ml(BEGINS), line.pushed_ml(FULL))], plug_part=plug)
    assert fit.line.holdup_ml == pytest.approx(holdup, rel=1e-4)
    assert fit.line.stages == pytest.approx(stages, rel=1e-3)
    assert fit.off_ml < 1e-3 * holdup


def test_several_trials_are_balanced() -> None:
    """Errors of 2 ml to both sides leave the line between them, and are what is left over."""
    line = Hose(80, 10)
    begins, full = line.pushed_ml(BEGINS), line.pushed_ml(FULL)
    fit = fit_line([(begins - 2, full - 2), (begins + 2, full + 2)])
    assert fit.line.holdup_ml == pytest.approx(80, rel=1e-3)
    assert fit.line.stages == pytest.approx(10, rel=1e-2)
    assert fit.off_ml == pytest.approx(2, rel=1e-3)


def test_a_change_broader_than_one_stage_is_one_stage() -> None:
    """The fit stays where a line can be, and says how far off it is."""
    fit = fit_line([(1, 300)])
    assert fit.line.stages == pytest.approx(1, abs=1e-3)
    assert fit.off_ml > 1


@pytest.mark.parametrize("trials", [[], [(0, 5)], [(5, 5)], [(9, 5)], [(1, math.nan)], [(1, 9), (3, 2)]])
def test_trials_that_cannot_be_are_refused(trials: list[tuple[float, float]]) -> None:
    """A change begins after some clay and ends later."""
    with pytest.raises(ValueError, match="trial"):
        fit_line(trials)


@pytest.mark.parametrize(("mean", "variance"), [(0, 1), (1, 0), (-1, 1)])
def test_moments_that_cannot_be_are_refused(mean: float, variance: float) -> None:
    """Nothing comes at no time, or all at one."""
    with pytest.raises(ValueError, match="above 0"):
        stages_from_moments(mean, variance)


def test_a_plug_line_loads_no_scipy() -> None:
    """The commands start as fast as before for those who don't use stages."""
    code = (
        "import sys; from gpost.clay.mixing import Hose; l = Hose(60); l.new_share([1]); l.pushed_ml(.5); "
        "import gpost_plugins.swap; sys.exit('scipy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], timeout=60, check=False).returncode == 0


@pytest.mark.parametrize("count", [2, 3, 5])
def test_the_hose_is_within_its_spread_as_often_as_it_says(count: int) -> None:
    """Trials of a hose of 60 ml read to 2 ml or so: taken for normal, the spread holds 60 in 95 % of 150 draws.

    Where it began and where it was full, 36.3 and 88.6 ml, from SciPy's gamma distribution of 14 stages.
    """
    random, held = np.random.default_rng(count), 0
    ends = gamma(14, scale=60 / 14).ppf([0.05, 0.95])
    for _ in range(150):
        found = fit_line((ends + random.normal(0, 2, (count, 2))).tolist())
        assert found.spread_ml is not None
        held += abs(found.line.holdup_ml - 60) <= 1.96 * found.spread_ml
    assert held / 150 == pytest.approx(0.95, abs=0.045)


def test_one_trial_says_nothing_of_the_hose_s_spread() -> None:
    """It agrees with itself."""
    assert fit_line([(40, 95)]).spread_ml is None
