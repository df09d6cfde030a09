"""How sure amounts of clay are: spreads in, margins out.

Three errors are one for a whole print: of the clay that a unit of E moves (a share e of it), of what the hose
holds (l ml), of the wet density (a share d). What stays behind in a cartridge is drawn anew for each. All are
taken for normal with mean 0; spreads are their standard deviations. With n ml metered since it was put on, a
cartridge of h ml runs dry when

    n (1 + e) > h (1 - d) - R,   R the clay that stays behind,

d only if its clay was weighed in: one that is filled to the brim holds its volume whatever it weighs. That is
linear in the errors, so that its margin h - R - n is normal with the variance (n s_e)^2 + (h s_d)^2 + s_R^2
exactly: the law of propagation of uncertainty (JCGM 100:2008, section 5.1.2) leaves nothing out here. For the
clay that has to be pushed before another shows it is the first-order term, good to s_e squared.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.common.records import record

CHANCE = 0.05
"""Chance of running dry that is taken where nobody says another."""
INTERVAL = 0.95
"""Share of all prints for which an interval holds."""
NODES = 400
"""Equally likely values that a shared error is divided into."""
_NORMAL = NormalDist()


@record(frozen=True, slots=True)
class Spreads:
    """Standard deviations; None: not known, and counted as none."""

    metered: float | None = None
    """Of the clay for a unit of E, a share of it."""
    density: float | None = None
    """Of the wet density, a share of it."""
    line_ml: float | None = None
    """Of what the hose holds."""
    reserve_ml: float | None = None
    """Of what stays behind in a cartridge; None: the reserve is a limit."""

    @property
    def of_cartridges(self) -> bool:
        """Whether anything is known of how sure it is that a cartridge does."""
        return self.metered is not None or self.density is not None or self.reserve_ml is not None

    @property
    def of_fronts(self) -> bool:
        """Whether anything is known of how sure it is where a clay shows."""
        return self.metered is not None or self.line_ml is not None


class Load(NamedTuple):
    """A cartridge, and what is asked of it."""

    need_ml: float
    """Most clay that is metered out of it."""
    held_ml: float
    """Clay in it when it is put on."""
    reserve_ml: float
    """What stays behind: on average, or at most where it has no spread."""
    weighed: bool
    """Whether its clay is weighed in, rather than filled to the brim."""


def sd_ml(load: Load, spreads: Spreads) -> float:
    """Standard deviation of what is left of a cartridge beyond its reserve, ml."""
    return math.hypot(*_parts_ml(load, spreads))


def dry_chance(load: Load, spreads: Spreads) -> float:
    """Chance that a cartridge runs dry before all that is asked of it has been metered."""
    left_ml, spread_ml = load.held_ml - load.reserve_ml - load.need_ml, sd_ml(load, spreads)
    if not spread_ml:
        return 0.0 if left_ml >= 0 else 1.0
    return _NORMAL.cdf(-left_ml / spread_ml)


def sure_ml(load: Load, spreads: Spreads, chance: float = CHANCE) -> float:
    """Clay that a cartridge gives before it runs dry, but for that chance, ml; `need_ml` is not looked at.

    The lower root of (h - R - n)^2 = z^2 ((n s_e)^2 + (h s_d)^2 + s_R^2) for n; never below 0.
    """
    usable_ml = load.held_ml - load.reserve_ml
    metered = spreads.metered or 0.0
    fixed_ml = math.hypot(*_parts_ml(load._replace(need_ml=0.0), spreads))
    return max(_root(usable_ml, metered, fixed_ml, -_quantile(chance)), 0.0)


def sure_load_ml(need_ml: float, reserve_ml: float, spreads: Spreads, chance: float = CHANCE) -> float:
    """Clay to weigh into a cartridge so that it runs dry with no more than that chance, reserve included, ml.

    The same relation as `sure_ml`, solved for h.
    """
    metered_ml = need_ml * (spreads.metered or 0.0)
    fixed_ml = math.hypot(metered_ml, spreads.reserve_ml or 0.0)
    return _root(need_ml + reserve_ml, spreads.density or 0.0, fixed_ml, _quantile(chance))


def any_dry_chance(loads: Sequence[Load], spreads: Spreads) -> float:
    """Chance that any cartridge of a print runs dry, its shared errors counted as shared.

    For each of many equally likely errors of E, and of density, the cartridges are independent.
    """
    metered, density = spreads.metered or 0.0, spreads.density or 0.0
    e = metered * _nodes(NODES if metered else 1)[:, None]
    d = density * _nodes(NODES // 8 if density and any(load.weighed for load in loads) else 1)[None, :]
    none = np.ones((len(e), d.shape[1]))
    for load in loads:
        held_ml = load.held_ml * (1 - d * load.weighed)
        left_ml = held_ml - load.reserve_ml - load.need_ml * (1 + e)
        none *= _not_below(left_ml, spreads.reserve_ml or 0.0)
    return float(1 - none.mean())


def front_sd_ml(behind_ml: float, pushed_ml: float, line_ml: float, spreads: Spreads) -> float:
    """Standard deviation of the net clay at which a change of clay shows, ml.

    `behind_ml`: clay in its own cartridge that leaves before it, the slugs weighed in one after the other, so
    that their errors of density add up; 0 for a cartridge of one clay. `pushed_ml`: clay to push from the
    cartridge's outlet till it counts as showing, of a hose that holds `line_ml`.
    """
    hose = (spreads.line_ml or 0.0) * (pushed_ml / line_ml if line_ml else 0.0)
    return math.hypot(
        hose, (behind_ml + pushed_ml) * (spreads.metered or 0.0), behind_ml * (spreads.density or 0.0)
    )


def reach_sds(share: float = INTERVAL) -> float:
    """How many standard deviations the middle share of a normal distribution reaches to each side."""
    return _NORMAL.inv_cdf((1 + share) / 2)


def _parts_ml(load: Load, spreads: Spreads) -> tuple[float, float, float]:
    return (
        load.need_ml * (spreads.metered or 0.0),
        load.held_ml * (spreads.density or 0.0) * load.weighed,
        spreads.reserve_ml or 0.0,
    )


def _root(middle_ml: float, share: float, fixed_ml: float, sds: float) -> float:
    """x with x - middle = sds hypot(share x, fixed): on the side of the middle that the sign of sds says.

    Infinite where the share is so wide that no x is so many standard deviations away.
    """
    if not sds or not (share or fixed_ml):
        return middle_ml
    free = 1 - (sds * share) ** 2
    if free <= 0:
        return math.inf if sds > 0 else 0.0
    root = math.hypot(sds * share * middle_ml, math.sqrt(free) * sds * fixed_ml)
    return (middle_ml + math.copysign(root, sds)) / free


def _quantile(chance: float) -> float:
    """Standard deviations above the mean that are passed with that chance."""
    return -_NORMAL.inv_cdf(chance)


def _nodes(count: int) -> NDArray[np.float64]:
    """The middles of that many equally likely parts of the normal distribution; shape (count,)."""
    return np.array([_NORMAL.inv_cdf((k + 0.5) / count) for k in range(count)])


def _not_below(left_ml: NDArray[np.float64], spread_ml: float) -> NDArray[np.float64]:
    """Chance that what is left is not below 0, where it spreads so much; shape of `left_ml`."""
    if not spread_ml:
        return (left_ml >= 0).astype(np.float64)
    return np.asarray(np.vectorize(_NORMAL.cdf, otypes=[np.float64])(left_ml / spread_ml))
