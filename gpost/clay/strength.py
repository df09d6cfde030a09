"""Yield stress of fresh clay, from trials: a cylinder that sinks, tubes that fold, a cone that falls in.

All three are models, and none is exact for clay: what a trial gives is a range. Lengths in mm, density in g
per ml, stress in Pa, time in s. Formulas and their sources stand with each function.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.clay.folds import CONE_FACTORS, Fold
from gpost.clay.spread import CONFIDENCE, NORMAL_REACH, student
from gpost.clay.walls import GRAVITY_M_S2, SLENDER, pressure_pa

LEAST_SLUMP, MOST_SLUMP = 0.05, 0.7
"""Shares of its height by which a cylinder may sink for the relation to hold."""
BEST_SLUMP = 0.3
"""Well inside: a cylinder's height is advised for it."""
CYLINDER_OFF = 0.1
"""Standard deviation of what a cylinder says, share of it, at the least (common practice, no source)."""
FOLD_OFF = 0.05
"""Standard deviation of a tube's strength as its fold shows it, share of it, at the least: it is seen a layer
or two late, and tubes differ (common practice, no source)."""
LEAST_BETWEEN = 1.5
"""Tubes must rise at rates that differ so many times, or no stiffening can be told."""
CONE_DEPTHS_MM = (4.0, 25.0)
"""Depths that can be read and are still cone (common practice, no source)."""


class Range(NamedTuple):
    """A value with the ends of its 95 % interval."""

    low: float
    middle: float
    high: float
    """Infinite if nothing bounds it."""


def range_of(values: Sequence[float], off: float) -> Range:
    """Their mean and how sure it is, if each may be off by that share (a standard deviation) all alike.

    The wider of what that share gives, which no repeating makes less, and of what they differ by (Student).
    """
    found = np.asarray(values, dtype=np.float64)
    mean, count = float(found.mean()), len(found)
    reach = NORMAL_REACH * off * mean
    if count > 1:
        reach = max(reach, student(CONFIDENCE, count - 1) * float(found.std(ddof=1)) / math.sqrt(count))
    return Range(max(mean - reach, 0.0), mean, mean + reach)


# ---- a cylinder that sinks ----


def slump_yield_stress_pa(height_mm: float, slump_mm: float, density_g_ml: float) -> float:
    """Yield stress from how far a small cylinder of clay sinks when its mould is lifted off.

    Solves s = 1 - 2 t (1 - ln(2 t)) for t, with s = slump / height and t = yield stress / (rho g H):
    the top, 2 t of the height, stands as it was, and what is below spreads until it bears. After N.
    Pashias, D. V. Boger, J. Summers, D. J. Glenister, Journal of Rheology 40 (1996) 1179-1189 (from memory);
    their short form, t = (1 - sqrt(s)) / 2, gives more, so that this is the safer one. It can't show more
    than rho g H / 2, at which nothing sinks: 912 Pa for 100 mm of 1.86 g per ml.
    Raises ValueError, with the height that would do, for a slump that isn't 0.05 to 0.7 of the height.
    """
    if not (height_mm > 0 and 0 <= slump_mm < height_mm):
        raise ValueError("the slump is how far the top sank: from 0 to less than the cylinder's height")
    if slump_mm < LEAST_SLUMP * height_mm:
        raise ValueError(_stands(height_mm, slump_mm, density_g_ml))
    if slump_mm > MOST_SLUMP * height_mm:
        found = _inverted(slump_mm / height_mm) * pressure_pa(height_mm, density_g_ml)
        raise ValueError(
            f"{slump_mm:g} of {height_mm:g} mm is more than the {MOST_SLUMP:g} of its height up to which the "
            f"relation holds: the clay has some {found:.0f} Pa, too soft to print a wall with; a cylinder of "
            f"about {slump_height_mm(found, density_g_ml):.0f} mm would do"
        )
    return _inverted(slump_mm / height_mm) * pressure_pa(height_mm, density_g_ml)


def slump_height_mm(yield_pa: float, density_g_ml: float, slump: float = BEST_SLUMP) -> float:
    """Height of the cylinder of that clay that sinks by that share of it."""
    return yield_pa / (_inverted(slump) * density_g_ml * GRAVITY_M_S2)


def _inverted(slump: float) -> float:
    """Yield stress over rho g H for a relative slump."""
    from scipy.optimize import brentq

    double = brentq(lambda u: 1 - u * (1 - math.log(u)) - slump, 1e-300, 1.0, xtol=1e-15, rtol=1e-14)
    return float(double) / 2


def _stands(height_mm: float, slump_mm: float, density_g_ml: float) -> str:
    """What a cylinder that hardly sinks says, and what would do."""
    weighs_pa = pressure_pa(height_mm, density_g_ml)
    says_pa = _inverted(LEAST_SLUMP) * weighs_pa
    tall_mm = [slump_height_mm(yield_pa, density_g_ml, LEAST_SLUMP) for yield_pa in (1000, 3000)]
    return (
        f"{slump_mm:g} of {height_mm:g} mm is less than the {LEAST_SLUMP:g} of its height from which the "
        f"relation holds: it says only that the clay has more than {says_pa:.0f} Pa, and rho g H / 2, here "
        f"{weighs_pa / 2:.0f} Pa, is the top of what such a cylinder can show. Clay of 1000 Pa takes one of "
        f"{tall_mm[0]:.0f} mm or more, of 3000 Pa one of {tall_mm[1]:.0f} mm; so print a tube until it folds "
        "instead (gpost calibrate --tube)"
    )


# ---- tubes that fold ----


def fold_yield_pa(fold: Fold, density_g_ml: float) -> float:
    """Yield stress of the foot at that age, rho g H / sqrt(3) (von Mises; `gpost.clay.walls`).

    A lower bound unless it `yields` there. `stand` multiplies by the same factor, so that what a wall bears
    hangs on rho g H alone.
    """
    return pressure_pa(fold.height_mm, density_g_ml) / SLENDER


class Stiffening(NamedTuple):
    """Yield stress as the clay is laid, and how it grows: tau = tau0 + A t."""

    fresh_pa: Range
    per_s: Range
    """Pa/s; below 0 if they show no stiffening."""
    freedom: int
    """Tubes beyond the two that it takes."""

    def at_pa(self, age_s: float) -> float:
        """Yield stress at an age."""
        return self.fresh_pa.middle + self.per_s.middle * age_s


def stiffening(folds: Sequence[Fold], density_g_ml: float) -> Stiffening | None:
    """Fit of tubes that folded at the foot, two or more at different rates of rise; None if these don't tell.

    A tube that rises at v folds where rho g H = sqrt(3) (tau0 + A H / v), so that 1 / H falls evenly with
    1 / v: least squares of a - b / v, tau0 = rho g / (sqrt(3) a) and A = tau0 b. As the rate is chosen, not
    found, and a tube stronger by a share folds higher by just so much of a, the errors are alike in all. Each
    is FOLD_OFF of a, or what they differ by from the line (Student) if that is more. The interval of A is
    that of a quotient after E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175-185 (from memory).
    """
    used = [fold for fold in folds if fold.yields]
    rises = [fold.rise_mm_s for fold in used]
    if len(used) < 2 or max(rises) < LEAST_BETWEEN * min(rises):
        return None
    x = np.array([1 / rise for rise in rises])
    y = np.array([1 / fold.height_mm for fold in used])
    design = np.column_stack([np.ones(len(x)), -x])
    spread = np.linalg.inv(design.T @ design)
    a, b = (float(value) for value in spread @ design.T @ y)
    if a <= 0:
        return None
    freedom = len(x) - 2
    reach = NORMAL_REACH * FOLD_OFF * a
    if freedom:
        rest = y - design @ [a, b]
        reach = max(reach, student(CONFIDENCE, freedom) * math.sqrt(float(rest @ rest) / freedom))
    per_mm = density_g_ml * GRAVITY_M_S2 / SLENDER
    reach_a = reach * math.sqrt(float(spread[0, 0]))
    fresh = Range(per_mm / (a + reach_a), per_mm / a, per_mm / (a - reach_a) if a > reach_a else math.inf)
    low, high = _fieller(b, a, spread * reach**2)
    return Stiffening(fresh, Range(per_mm * low, per_mm * b / a, per_mm * high), freedom)


def _fieller(b: float, a: float, spread: NDArray[np.float64]) -> tuple[float, float]:
    """Ends of the interval of b / a: where (b - r a)^2 is its own squared reach; without end if a may be 0.

    `spread`: of (a, b), each as the square of how far its interval reaches.
    """
    first = a * a - float(spread[0, 0])
    middle, last = a * b - float(spread[0, 1]), b * b - float(spread[1, 1])
    under = middle * middle - first * last
    if first <= 0 or under < 0:
        return -math.inf, math.inf
    return (middle - math.sqrt(under)) / first, (middle + math.sqrt(under)) / first


# ---- a cone that falls in ----


def cone_yield_pa(depth_mm: float, mass_g: float, angle_deg: float) -> Range:
    """Strength in shear from how deep a cone sinks in that is let go at the surface: K m g / d^2.

    Hansbo's relation; K and how far it is known are `CONE_FACTORS`. Raises ValueError for another angle, or a
    depth that tells nothing.
    """
    if angle_deg not in CONE_FACTORS:
        raise ValueError(f"the factor is known for cones of 30 and 60 degrees, not of {angle_deg:g}")
    low_mm, high_mm = CONE_DEPTHS_MM
    if not low_mm <= depth_mm <= high_mm:
        kind = "heavier or sharper" if depth_mm < low_mm else "lighter or blunter"
        raise ValueError(
            f"{depth_mm:g} mm is outside the {low_mm:g} to {high_mm:g} mm in which a cone tells the "
            f"strength; take a {kind} one"
        )
    per_k = mass_g * GRAVITY_M_S2 * 1000 / depth_mm**2
    return Range(*(factor * per_k for factor in CONE_FACTORS[angle_deg]))
