"""How high and how fast a wall of fresh clay may rise before it sinks under its own mass.

Three ways to fail. The base yields when what lies on it presses harder than the clay resists: pressure over
factor times yield stress in shear. The factor is sqrt(3) for a slender wall, pressed from above alone: so
von Mises' condition has it, and N. Roussel, Cement and Concrete Research 112 (2018) 76-85, takes it for
printed concrete (from memory); Tresca's condition has 2. (A. Perrot, D. Rangeard, A. Pierre, Materials and
Structures 49 (2016) 1213-1220, take a factor that goes with the shape of the column; it is not used here.)
The yield stress of clay at rest grows with time; taken as linear, tau = tau0 + A t, as by both (from memory).
Or the wall buckles as a whole, as a beam does (A. G. Greenhill, 1881), or dents, as a thin shell does: wide
thin pots dent first. All are estimates: they know no crack, no lean, no wet slab; only a trial with the clay
tells.

Lengths in mm, density in g per ml, stress in Pa: a column of 1 mm of 1 g per ml presses with 9.80665 Pa.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gpost.common.records import record

GRAVITY_M_S2 = 9.80665
SLENDER = math.sqrt(3)
GREENHILL = 7.837347438943428
"""9/4 j^2, with j the first zero of the Bessel function of order -1/3: a column that is fixed at its foot."""
EULER_OVER = 3.0
"""How many times too high a buckling height may be: theory gave 1.93 to 2.94 times what hollow cylinders of
printed cement paste stood (Cement and Concrete Composites 131 (2022), doi 10.1016/j.cemconcomp.2022.104538,
abstract), so that 2 to 3 is to be kept; for clay nothing was found."""

SHELL = 1 / math.sqrt(3 * (1 - 0.3**2))
"""0.605: the classical shell's constant, for a Poisson's ratio of 0.3."""

Floats = NDArray[np.float64]


def pressure_pa(height_mm: float, density_g_ml: float) -> float:
    """Pressure under a straight wall, rho g H."""
    return height_mm * density_g_ml * GRAVITY_M_S2


def yield_needed_pa(height_mm: float, density_g_ml: float, factor: float = SLENDER) -> float:
    """Yield stress that the base of a straight wall of that height needs, rho g H / factor."""
    return pressure_pa(height_mm, density_g_ml) / factor


def standing_mm(yield_pa: float, density_g_ml: float) -> float:
    """Height at which a straight wall's base yields, if the clay doesn't stiffen."""
    return SLENDER * yield_pa / (density_g_ml * GRAVITY_M_S2)


def safe_rise_mm_min(
    stiffening_pa_s: float, density_g_ml: float, factor: float = SLENDER, safety: float = 1.0
) -> float:
    """The fastest rise at which a straight wall's base always bears `safety` times its load.

    factor A / (safety rho g); 0 for clay that doesn't stiffen.
    """
    return 60 * factor * stiffening_pa_s / (safety * density_g_ml * GRAVITY_M_S2)


def buckling_mm(modulus_pa: float, gyration_mm2: float, density_g_ml: float) -> float:
    """Height at which a column buckles under its own mass: (K E I / (rho g A))^(1/3), after Greenhill.

    `gyration_mm2` is I / A of its section: thickness^2 / 12 for a flat wall with a free upper edge, radius^2
    / 4 for a solid cylinder, (R^2 + r^2) / 4 for a tube.
    """
    per_mm = density_g_ml * GRAVITY_M_S2
    return math.cbrt(GREENHILL * modulus_pa * gyration_mm2 / per_mm)


def flat_wall_mm(modulus_pa: float, thickness_mm: float, density_g_ml: float) -> float:
    """Buckling height of a flat wall that nothing holds: the lower bound for a pot's."""
    return buckling_mm(modulus_pa, thickness_mm**2 / 12, density_g_ml)


def tube_mm(modulus_pa: float, mean_radius_mm: float, thickness_mm: float, density_g_ml: float) -> float:
    """Buckling height of a round pot as a beam: an upper bound, as the wall's own dents are left out."""
    outer_mm, inner_mm = mean_radius_mm + thickness_mm / 2, mean_radius_mm - thickness_mm / 2
    return buckling_mm(modulus_pa, (outer_mm**2 + inner_mm**2) / 4, density_g_ml)


def shell_limit_pa(modulus_pa: float, mean_radius_mm: ArrayLike, thickness_mm: float) -> Floats:
    """Stress at which a thin round wall pressed from above dents, by theory: 0.605 E t / R.

    E t / (R sqrt(3 (1 - nu^2))), the classical load of a perfect cylinder (0.605 as it is quoted; the formula
    from memory: S. P. Timoshenko, J. M. Gere, Theory of Elastic Stability, 2nd ed. 1961), with nu = 0.3; wet
    clay, nearer to 0.5, would have 0.667.
    The dents are small, about sqrt(R t) high, so that under its own mass a wall has them where stress over
    limit is the largest: a straight one at its foot, where the stress is rho g H. Shape of the radii.
    """
    return np.asarray(SHELL * modulus_pa * thickness_mm / np.asarray(mean_radius_mm, dtype=np.float64))


def shell_knock_down(mean_radius_mm: ArrayLike, thickness_mm: float) -> Floats:
    """Share of the classical load at which real cylinders dented, at the least: 1 - 0.901 (1 - e^-phi).

    phi = sqrt(R / t) / 16; NASA SP-8007, Buckling of Thin-Walled Circular Cylinders, 1965, revised 1968, a
    line that 95 % of many tests lie above (so it is quoted; the formula from memory). They were of metal and
    plastic; of wet clay none is known. Shape of the radii.
    """
    phi = np.sqrt(np.asarray(mean_radius_mm, dtype=np.float64) / thickness_mm) / 16
    return np.asarray(1 + 0.901 * np.expm1(-phi))


class Stiffness(NamedTuple):
    """What a potter's trial says of the clay, with the safety to keep."""

    yield_pa: float
    stiffening_pa_s: float
    density_g_ml: float
    factor: float = SLENDER
    safety: float = 2.0


@record(frozen=True, slots=True)
class Wall:
    """A piece's layers as they press and bear, from the bottom up; all of shape (layers,)."""

    laid_ml: Floats
    area_mm2: Floats
    """What each layer stands on: its clay over its height."""

    def pressure_pa(self, upto: int, density_g_ml: float) -> Floats:
        """Pressure in the layers 0 to `upto` once that one is laid, shape (upto + 1,)."""
        above_ml = np.cumsum(self.laid_ml[upto::-1])[::-1]
        return np.asarray(above_ml * 1000 / self.area_mm2[: upto + 1] * density_g_ml * GRAVITY_M_S2)


def wall_of(height_mm: Floats, laid_ml: Floats) -> Wall:
    """The wall of layers with those top heights and that clay, shape (layers,).

    A first layer that is far from zero (a slab below it) counts as high as the others are on the middle.
    """
    rise_mm = np.diff(height_mm, prepend=0.0)
    if len(rise_mm) > 1:
        usual_mm = float(np.sort(rise_mm[1:])[(len(rise_mm) - 1) // 2])
        rise_mm[0] = min(rise_mm[0], usual_mm) if usual_mm > 0 else rise_mm[0]
    rise_mm = np.maximum(rise_mm, 1e-3)
    return Wall(laid_ml, np.maximum(laid_ml * 1000 / rise_mm, 1e-6))


def margins(wall: Wall, done_s: Floats, clay: Stiffness) -> Floats:
    """How many times each layer bears what comes to lie on it, at its worst moment; shape (layers,).

    `done_s`: when each layer is laid. 1 is just yielding; the safety is not in it.
    """
    found = np.full(len(done_s), np.inf)
    for top in range(len(done_s)):
        age_s = done_s[top] - done_s[: top + 1]
        bears_pa = clay.factor * (clay.yield_pa + clay.stiffening_pa_s * age_s)
        ratio = bears_pa / np.maximum(wall.pressure_pa(top, clay.density_g_ml), 1e-12)
        found[: top + 1] = np.minimum(found[: top + 1], ratio)
    return found


def waits_s(wall: Wall, done_s: Floats, clay: Stiffness) -> Floats:
    """Time that each layer has to take longer so that every layer below bears it with the safety, s.

    The least there is: each layer is put off until the last of those below has stiffened enough, and no
    longer. Shape (layers,); infinite where no time helps, because the clay doesn't stiffen.
    """
    waits = np.zeros(len(done_s))
    ready_s = np.array(done_s, dtype=np.float64)
    for top in range(len(done_s)):
        ready_s[top] = done_s[top] + waits[:top].sum()
        wall_pa = wall.pressure_pa(top, clay.density_g_ml) * clay.safety / clay.factor - clay.yield_pa
        weak = np.flatnonzero(wall_pa > 0)
        if not len(weak):
            continue
        if clay.stiffening_pa_s <= 0 or weak[-1] == top:
            waits[top:] = np.inf
            break
        earliest_s = float((ready_s[weak] + wall_pa[weak] / clay.stiffening_pa_s).max())
        waits[top] = max(earliest_s - ready_s[top], 0.0)
        ready_s[top] += waits[top]
    return waits
