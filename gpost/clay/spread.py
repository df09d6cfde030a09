"""What repeated findings say: their mean and how sure it is, what the next will be, and which one is odd.

Textbook statistics of a normal sample: the mean lies within t s / sqrt(n), the next finding within
t s sqrt(1 + 1 / n), with Student's t for n - 1 degrees of freedom. A spread that a config keeps is the
standard deviation of the normal distribution with the same 95 % interval: where few findings are known, t
has made it wider, so that who reckons with it as exact is not too sure. SciPy is imported where it is used.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gpost.common.records import record

CONFIDENCE = 0.95
FINEST_DECIMALS = 6
NORMAL_REACH = 1.959963984540054
"""So many standard deviations a normal distribution's 95 % interval reaches to each side."""
_ROUNDING = 1e-9
"""Share of the findings that is nought but for rounding."""
_HALVINGS = 40
"""So often an interval is halved until it is no wider than a number's last digits."""

Floats = NDArray[np.float64]


@record(frozen=True, slots=True)
class Spread:
    """Two findings or more of one thing."""

    count: int
    mean: float
    deviation: float
    """Standard deviation of one finding, n - 1 degrees of freedom."""
    usual: float = 0.0
    """That of one finding as such findings usually err: these few are held to be no surer."""

    @property
    def reach(self) -> float:
        """Half of the 95 % interval of the mean."""
        return no_surer(self._own_reach, NORMAL_REACH * self.usual / math.sqrt(self.count))

    @property
    def lucky(self) -> bool:
        """Whether they agree better than is usual, and the usual is what counts."""
        return self.reach > self._own_reach

    @property
    def _own_reach(self) -> float:
        """`reach` as these findings alone have it."""
        return student(CONFIDENCE, self.count - 1) * self.deviation / math.sqrt(self.count)

    @property
    def mean_spread(self) -> float:
        """How far the mean may be off, as a standard deviation."""
        return self.reach / NORMAL_REACH

    @property
    def next_spread(self) -> float:
        """How far the next finding may lie from the mean, as a standard deviation."""
        return self.mean_spread * math.sqrt(self.count + 1)

    def upper_limit(self, share: float, confidence: float) -> float:
        """What that share of all findings does not exceed, with that confidence: mean + k s."""
        return self.mean + tolerance_factor(self.count, share, confidence) * self.deviation


def no_surer(reach: float, usual: float) -> float:
    """How sure findings are held to be: as their own errors say, but no surer than the usual ones make them.

    A few may agree by luck.
    """
    return max(reach, usual)


def spread_of(values: Sequence[float], least: ArrayLike = 0.0, usual: float = 0.0) -> Spread:
    """Mean and spread, the spread no less than `least`, which may be another for each value.

    Where it is, each value counts by what its own reading can tell: weights 1 / (s^2 + least^2), with s the
    spread that is left for the findings themselves (R. C. Paule, J. Mandel, Consensus values and weighting
    factors, J. Res. NBS 87, 1982; from memory). The deviation is that of one value of average weight. Raises
    ValueError for fewer than two values. `usual` as `Spread` has it.
    """
    if len(values) < 2:
        raise ValueError("one finding has no spread")
    found = np.asarray(values, dtype=np.float64)
    own = np.broadcast_to(np.asarray(least, dtype=np.float64), found.shape)
    if _even(own):
        return Spread(len(found), float(found.mean()), max(float(found.std(ddof=1)), float(own[0])), usual)
    mean, weight, _ = _weighted(found, own)
    return Spread(len(found), mean, math.sqrt(len(found) / weight), usual)


def _even(least: Floats) -> bool:
    """Whether all are the same, but for rounding."""
    return bool(np.ptp(least) <= _ROUNDING * float(least.max()))


def _squares(found: Floats, least: Floats) -> Floats:
    """The least variance of each value, which is never nought."""
    floor = _ROUNDING * max(float(np.abs(found).max()), _ROUNDING)
    return np.asarray(np.maximum(least, floor) ** 2)


def _weighted(found: Floats, least: Floats) -> tuple[float, float, float]:
    """(mean, sum of the weights, variance of the findings themselves), by Paule and Mandel."""
    scatter = _scatter(found, least)
    weights = 1 / (scatter + _squares(found, least))
    return float(np.average(found, weights=weights)), float(weights.sum()), scatter


def _scatter(found: Floats, least: Floats) -> float:
    """The variance of the findings themselves, beside what is least of each, by Paule and Mandel."""
    squares = _squares(found, least)

    def over(variance: float) -> float:
        weights = 1 / (variance + squares)
        return float(weights @ (found - weights @ found / weights.sum()) ** 2) - (len(found) - 1)

    low, high = 0.0, float(found.var(ddof=1))
    if over(low) <= 0:
        return low
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if over(middle) > 0 else (low, middle)
    return high


def scale_step(readings: Floats) -> float:
    """The steps in which readings were taken, as far as they tell: the last decimal of any.

    0 where there are more decimals than a scale or a clock has.
    """
    for decimals in range(FINEST_DECIMALS + 1):
        if np.allclose(readings, np.round(readings, decimals), rtol=1e-12, atol=0):
            return float(10.0**-decimals)
    return 0.0


def student(confidence: float, freedom: int) -> float:
    """How many standard errors a two-sided interval reaches to each side, after Student's t."""
    from scipy.special import stdtrit

    return float(stdtrit(freedom, (1 + confidence) / 2))


def tolerance_factor(count: int, share: float, confidence: float) -> float:
    """k of the one-sided normal tolerance limit, mean + k s, by the noncentral t distribution.

    k = t(confidence; n - 1, z(share) sqrt(n)) / sqrt(n): NIST/SEMATECH e-Handbook of Statistical Methods,
    section 7.2.6.3; ISO 16269-6 (both from memory).
    """
    from scipy.special import nctdtrit, ndtri

    root = math.sqrt(count)
    return float(nctdtrit(count - 1, float(ndtri(share)) * root, confidence)) / root


def step_deviation(readings: ArrayLike) -> float:
    """Standard deviation that the steps of the readings alone give: d / sqrt(12).

    That of a uniform distribution: Guide to the expression of uncertainty in measurement, JCGM 100:2008,
    F.2.2.1 (from memory).
    """
    return scale_step(np.asarray(readings, dtype=np.float64)) / math.sqrt(12)


def odd_value(values: Sequence[float], least: ArrayLike = 0.0) -> int | None:
    """The index of the one value that the others contradict, as `odd_one` finds it; None if they agree.

    `least`: the least standard deviation that there can be, or that of each value: one that was read in
    coarse steps is not contradicted by what its last digit leaves open.
    """
    found = np.asarray(values, dtype=np.float64)
    if len(found) < 3:
        return None
    least = np.maximum(np.asarray(least, dtype=np.float64), _ROUNDING * float(np.abs(found).max()))
    own = np.broadcast_to(least, found.shape)
    if _even(own):
        free = np.full(len(found), 1 - 1 / len(found))
        return odd_one(found - found.mean(), free, len(found) - 2, float(own[0]) ** 2)
    off = [_off(found, own, at) for at in range(len(found))]
    worst = int(np.argmax(off))
    return worst if off[worst] > _odd_limit(len(found), len(found) - 2) else None


def _off(found: Floats, least: Floats, at: int) -> float:
    """How many of its standard errors a value is off the mean of the others."""
    mean, weight, scatter = _weighted(np.delete(found, at), np.delete(least, at))
    return abs(float(found[at]) - mean) / math.sqrt(scatter + float(least[at]) ** 2 + 1 / weight)


def odd_one(rest: Floats, free: ArrayLike, freedom: int, least: float) -> int | None:
    """The residual that is too large for chance, the worst, by its externally studentised size.

    `rest`: residuals of equal variance; `free`: one less its leverage, for each; `freedom`: degrees of
    freedom of the fit without one of them; `least`: the least variance there can be. Each residual over its
    own standard error, from the fit without it, is compared with Student's t at 5 % over all n (Bonferroni):
    R. D. Cook, S. Weisberg, Residuals and Influence in Regression, 1982, section 2.2 (from memory).
    """
    if freedom < 1:
        return None
    # a residual that the fit follows whatever it is says nothing
    free = np.maximum(free, _ROUNDING)
    others = np.maximum((float(rest @ rest) - rest * rest / free) / freedom, least)
    with np.errstate(divide="ignore", invalid="ignore"):
        studentised = np.nan_to_num(np.abs(rest) / np.sqrt(others * free), posinf=np.inf)
    worst = int(np.argmax(studentised))
    return worst if studentised[worst] > _odd_limit(len(rest), freedom) else None


def _odd_limit(count: int, freedom: int) -> float:
    """Standard errors that the worst of so many findings reaches in 5 % of all cases (Bonferroni)."""
    return student(1 - (1 - CONFIDENCE) / count, freedom)
