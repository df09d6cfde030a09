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
    error: float | None
    """Standard error of the slope; None for one weighing."""
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


def fit_weighings(weighings: Sequence[Weighing]) -> Fit:
    """Grams per unit by least squares through the origin. Raises ValueError unless all are above 0."""
    x = np.array([w.e for w in weighings], dtype=np.float64)
    y = np.array([w.grams for w in weighings], dtype=np.float64)
    if not len(x) or not (np.isfinite([x, y]).all() and (x > 0).all() and (y > 0).all()):
        raise ValueError("there must be at least one weighing, and E and grams must be above 0 in each")
    squares = float(x @ x)
    slope = float(x @ y) / squares
    if len(x) < 2:
        return Fit(slope, None, None, None, None, ())
    rest = y - slope * x
    error = math.sqrt(float(rest @ rest) / (len(x) - 1) / squares)
    reach = student(CONFIDENCE, len(x) - 1) * error
    return Fit(slope, error, slope - reach, slope + reach, _offset(x, y), _outlier(x, rest))


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


def _outlier(x: Floats, rest: Floats) -> tuple[int, ...]:
    """The weighing whose externally studentised residual is the largest, if it is too large for chance.

    Each residual over its own standard error, from the fit without it; compared with Student's t at 5 %
    over all n (Bonferroni). R. D. Cook, S. Weisberg, Residuals and Influence in Regression, 1982, section
    2.2 (from memory).
    """
    n = len(x)
    if n < 3:
        return ()
    free = 1 - x * x / float(x @ x)
    least = (_ROUNDING * float(np.abs(x).max())) ** 2
    others = np.maximum((float(rest @ rest) - rest * rest / free) / (n - 2), least)
    studentised = np.abs(rest) / np.sqrt(others * free)
    worst = int(np.argmax(studentised))
    limit = student(1 - (1 - CONFIDENCE) / n, n - 2)
    return (worst,) if studentised[worst] > limit else ()
