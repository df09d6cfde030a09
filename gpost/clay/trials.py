"""What weighings say of the clay that one unit of E moves, and of what each start loses: a straight line.

x_i units were commanded and y_i g weighed. Each extrusion begins with clay that is squeezed and not yet
laid, so y = b x - loss: the slope b is what a wall without a stop needs, the intercept is what a start loses.
The errors grow with the amount, so each weighing counts with the inverse of its variance, which is held to
be in proportion to CUT_G^2 + step^2 / 12 + (UNEVEN y)^2: a constant part from cutting the string and from the
scale's steps, and one in proportion to the clay. Only the ratio of the two is assumed; how large they are is
told by the residuals, with n - 2 degrees of freedom. What a config is taught is held to be no surer than
errors of just that size make it. Where one E alone was tried there can be no intercept,
and the line goes through the origin. Weighted least squares as in any textbook.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gpost.clay.spread import CONFIDENCE, NORMAL_REACH, Floats, no_surer, odd_one, scale_step, student

CUT_G = 0.25
"""What cutting the string leaves more or less of it, standard deviation: common practice, no source."""
UNEVEN = 0.01
"""Share by which clay comes unevenly (packing, bubbles), standard deviation: common practice, no source."""
LEAST_FREEDOM = 2
"""Degrees of freedom with which an interval can be trusted: with one, three that agree by luck seem sure."""
_ROUNDING = 1e-9
"""Share of the largest weighing that is nought but for rounding."""
MOST = 1e6
"""No E and no weight is larger, or smaller than its inverse."""


@dataclass(frozen=True, slots=True)
class Weighing:
    """So many units of E were commanded, and so much clay came out."""

    e: float
    grams: float


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line, y = slope x + start."""

    slope: float
    start: float
    """0 where it goes through the origin."""
    slope_error: float | None
    """Standard error of the slope; None if there are no more points than unknowns."""
    start_error: float | None
    """As `slope_error`; None too where the line goes through the origin."""
    freedom: int
    slope_unit: float
    """Standard error of the slope, were the variances given those of the points themselves."""
    start_unit: float
    """The same of `start`."""


@dataclass(frozen=True, slots=True)
class Fit:
    """What weighings say."""

    slope: float
    """g per unit of E."""
    low: float | None
    """Lower end of the 95 % interval of the slope; None where nothing tells it."""
    high: float | None
    usual: float
    """Half of the interval that the usual errors alone make (`one_variance_g2`), g per unit of E."""
    start: Interval | None
    """What each weighing has more than its E says, g: below 0 it is lost at each start.

    None if it can't be told from the slope, as one E alone was tried.
    """
    outliers: tuple[int, ...]
    """Indices of weighings that the others contradict; at most one, the worst."""
    without: float | None = None
    """Slope without the outlier; None without one."""
    freedom: int = 0
    """Degrees of freedom: weighings more than what was to be found."""
    lossless: float | None = None
    """The slope through the origin, where by the line a start would lose less than nothing, as it can't, and
    that may be chance; None elsewhere."""

    @property
    def offset(self) -> float | None:
        """`start` if it can be told from nought (95 %), g.

        Above 0 the scale was not tared, or the nozzle dripped: then no weighing counts.
        """
        if self.start is None or self.start.reach is None:
            return None
        return self.start.value if abs(self.start.value) > self.start.safe_reach else None


@dataclass(frozen=True, slots=True)
class Interval:
    """A value and how sure it is."""

    value: float
    reach: float | None
    """Half of its 95 % interval; None where nothing tells it."""
    usual: float = 0.0
    """The same by the usual errors alone."""

    @property
    def safe_reach(self) -> float:
        """The larger of both: few weighings that agree by luck are no surer than usual."""
        return no_surer(self.reach or 0.0, self.usual)


def fit_weighings(weighings: Sequence[Weighing]) -> Fit:
    """Grams per unit and at each start. Raises ValueError for what can't be a weighing.

    No weighing counts as finer than the scale shows: a reading in steps of d has a variance of d^2 / 12 at
    the least (Guide to the expression of uncertainty in measurement, JCGM 100:2008, F.2.2.1).
    """
    x = np.array([w.e for w in weighings], dtype=np.float64)
    y = np.array([w.grams for w in weighings], dtype=np.float64)
    if not len(x) or not (np.isfinite([x, y]).all() and (x > 0).all() and (y > 0).all()):
        raise ValueError("there must be at least one weighing, and E and grams must be above 0 in each")
    if max(x.max(), y.max()) > MOST or min(x.min(), y.min()) < 1 / MOST:
        raise ValueError("a weighing is given as E=GRAMS, and neither is so large or so small")
    step_g = scale_step(y)
    least = step_g**2 / 12
    shape = one_variance_g2(_smooth(x, y), step_g)
    starts = bool(np.ptp(x) > _ROUNDING * x.max())
    line = straight_line(x, y, shape, starts=starts, least=least / float(shape.min()))
    low = high = None
    if line.slope_error is not None:
        reach = student(CONFIDENCE, line.freedom) * line.slope_error
        low, high = line.slope - reach, line.slope + reach
    start = lossless = None
    if starts:
        start = Interval(line.start, _start_reach(line), NORMAL_REACH * line.start_unit)
        if start.reach is not None and 0 <= start.value <= start.safe_reach:
            # the best line with a loss of 0 or more: the squares are convex, so it lies at that bound
            lossless = straight_line(x, y, shape, starts=False).slope
    outliers = _outlier(x, y, shape, line, least)
    without = None
    if outliers:
        x, y, shape = (np.delete(column, outliers) for column in (x, y, shape))
        without = straight_line(x, y, shape, starts=bool(np.ptp(x) > 0)).slope
    usual = NORMAL_REACH * line.slope_unit
    return Fit(line.slope, low, high, usual, start, outliers, without, line.freedom, lossless)


def one_variance_g2(grams: Floats, step_g: float) -> Floats:
    """Variance of a weighing of so many grams, as usual: cut, scale's steps, uneven clay."""
    return np.asarray(CUT_G**2 + step_g**2 / 12 + (UNEVEN * grams) ** 2)


def straight_line(
    x: Floats, y: Floats, variance: Floats | None = None, *, starts: bool, least: float = 0.0
) -> Line:
    """Least squares, each point weighted by the inverse of its `variance`, of which the size doesn't matter.

    Through the origin unless it `starts` elsewhere. `least`: the least that the residuals' variance counts
    for, in units of `variance`. There must be points enough for the unknowns, at two x or more if it starts.
    """
    weight = 1 / (np.ones(len(x)) if variance is None else variance)
    middle = float(weight @ x / weight.sum()) if starts else 0.0
    mean = float(weight @ y / weight.sum()) if starts else 0.0
    away = x - middle
    squares = float(weight @ away**2)
    slope = float(weight @ (away * (y - mean))) / squares
    start = mean - slope * middle
    slope_unit = math.sqrt(1 / squares)
    start_unit = math.sqrt(1 / float(weight.sum()) + middle**2 / squares) if starts else 0.0
    freedom = len(x) - 1 - starts
    if freedom < 1:
        return Line(slope, start, None, None, freedom, slope_unit, start_unit)
    rest = y - mean - slope * away
    size = math.sqrt(max(float(weight @ rest**2) / freedom, least))
    start_error = size * start_unit if starts else None
    return Line(slope, start, size * slope_unit, start_error, freedom, slope_unit, start_unit)


def share_of_due(grams: Sequence[float], due_g: Sequence[float]) -> Interval:
    """Clay that came over what was due, and how sure so few weighings are of it.

    One or two can't tell their own error: the usual one counts (`one_variance_g2`).
    """
    came, due = np.asarray(grams, dtype=np.float64), float(sum(due_g))
    variance = one_variance_g2(came, scale_step(came))
    return Interval(float(came.sum()) / due, NORMAL_REACH * math.sqrt(float(variance.sum())) / due)


def _smooth(x: Floats, y: Floats) -> Floats:
    """Grams in proportion to E: a weighing that went wrong is not to choose its own weight."""
    return np.asarray(x * float(np.median(y / x)))


def _start_reach(line: Line) -> float | None:
    return None if line.start_error is None else student(CONFIDENCE, line.freedom) * line.start_error


def _outlier(x: Floats, y: Floats, shape: Floats, line: Line, least: float) -> tuple[int, ...]:
    """The weighing that the others contradict, if there is one."""
    root = 1 / np.sqrt(shape)
    columns = np.column_stack([x, np.ones(len(x))] if line.start_error is not None else [x])
    basis, _ = np.linalg.qr(columns * root[:, None])
    free = 1 - (basis**2).sum(axis=1)
    rest = (y - line.start - line.slope * x) * root
    finest = max(least, (_ROUNDING * float(y.max())) ** 2) / float(shape.min())
    odd = odd_one(rest, free, line.freedom - 1, finest)
    return () if odd is None else (odd,)
