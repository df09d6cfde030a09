"""What weighings say of the clay that one unit of E moves: least squares through the origin.

With x_i units commanded and y_i g weighed, the slope is b = sum(x y) / sum(x^2), with n - 1 degrees of
freedom and the standard error s / sqrt(sum(x^2)); textbook statistics, the same formulas as for the
no-intercept sets of the NIST statistical reference datasets. SciPy gives Student's t and is imported where
it is used.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

CONFIDENCE = 0.95
_ROUNDING = 1e-9
"""Share of the largest weighing that is nought but for rounding."""
FINEST_DECIMALS = 6
MOST = 1e6
"""No E and no weight is larger, or smaller than its inverse."""

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Weighing:
    """So many units of E were commanded, and so much clay came out."""

    e: float
    grams: float


@dataclass(frozen=True, slots=True)
class Fit:
    """A line through the origin."""

    slope: float
    """g per unit of E."""
    low: float | None
    """Lower end of the 95 % interval of the slope; None for one weighing."""
    high: float | None
    offset: float | None
    """What weighs in each weighing whatever was commanded, g, when the line need not go through the origin.

    None unless it can be told from nought (95 %, n - 2 degrees of freedom): then the scale was not tared,
    or the same string hung on each time, and the slope is wrong.
    """
    outliers: tuple[int, ...]
    """Indices of weighings that the others contradict; at most one, the worst."""
    without: float | None = None
    """Slope without the outlier; None without one."""


def fit_weighings(weighings: Sequence[Weighing]) -> Fit:
    """Grams per unit by least squares through the origin. Raises ValueError for what can't be a weighing.

    No weighing counts as finer than the scale shows: a reading in steps of d is off by d / sqrt(12) at the
    least (standard deviation of a uniform distribution, Guide to the expression of uncertainty in
    measurement, JCGM 100:2008, section 4.3.7).
    """
    x = np.array([w.e for w in weighings], dtype=np.float64)
    y = np.array([w.grams for w in weighings], dtype=np.float64)
    if not len(x) or not (np.isfinite([x, y]).all() and (x > 0).all() and (y > 0).all()):
        raise ValueError("there must be at least one weighing, and E and grams must be above 0 in each")
    if max(x.max(), y.max()) > MOST or min(x.min(), y.min()) < 1 / MOST:
        raise ValueError("a weighing is given as E=GRAMS, and neither is so large or so small")
    squares = float(x @ x)
    slope = float(x @ y) / squares
    if len(x) < 2:
        return Fit(slope, None, None, None, ())
    rest = y - slope * x
    least = scale_g(y) ** 2 / 12
    error = math.sqrt(max(float(rest @ rest) / (len(x) - 1), least) / squares)
    reach = student(CONFIDENCE, len(x) - 1) * error
    outliers = _outlier(x, rest, least)
    others = np.delete(x, outliers), np.delete(y, outliers)
    without = float(others[0] @ others[1] / (others[0] @ others[0])) if outliers else None
    return Fit(slope, slope - reach, slope + reach, _offset(x, y), outliers, without)


def scale_g(grams: Floats) -> float:
    """The steps in which the scale shows grams, as far as the weighings tell: the last decimal of any.

    0 where there are more decimals than a scale has.
    """
    for decimals in range(FINEST_DECIMALS + 1):
        if np.allclose(grams, np.round(grams, decimals), rtol=1e-12, atol=0):
            return float(10.0**-decimals)
    return 0.0


def student(confidence: float, freedom: int) -> float:
    """How many standard errors a two-sided interval reaches to each side, after Student's t."""
    from scipy.special import stdtrit

    return float(stdtrit(freedom, (1 + confidence) / 2))


def _offset(x: Floats, y: Floats) -> float | None:
    """The intercept of the ordinary line, if it can be told from nought."""
    freedom, spread = len(x) - 2, x - x.mean()
    if freedom < 1 or not spread.any():
        return None
    slope = float(spread @ y / (spread @ spread))
    offset = float(y.mean() - slope * x.mean())
    rest = y - offset - slope * x
    error = math.sqrt(float(rest @ rest) / freedom * (1 / len(x) + float(x.mean()) ** 2 / (spread @ spread)))
    limit = student(CONFIDENCE, freedom) * error + _ROUNDING * float(y.max())
    return offset if abs(offset) > limit else None


def _outlier(x: Floats, rest: Floats, least: float) -> tuple[int, ...]:
    """The weighing whose externally studentised residual is the largest, if it is too large for chance.

    Each residual over its own standard error, from the fit without it; compared with Student's t at 5 %
    over all n (Bonferroni). R. D. Cook, S. Weisberg, Residuals and Influence in Regression, 1982, section
    2.2 (from memory). `least`: the variance that the scale's steps alone give.
    """
    n = len(x)
    if n < 3:
        return ()
    free = 1 - x * x / float(x @ x)
    least = max(least, (_ROUNDING * float(np.abs(x).max())) ** 2)
    others = np.maximum((float(rest @ rest) - rest * rest / free) / (n - 2), least)
    studentised = np.abs(rest) / np.sqrt(others * free)
    worst = int(np.argmax(studentised))
    limit = student(1 - (1 - CONFIDENCE) / n, n - 2)
    return (worst,) if studentised[worst] > limit else ()
