"""What a hand at the knob, and a weight on the scales, say of the clay: closed forms.

A flow knob at f from a net clay a on makes n planned ml into a + (n - a) f real ones, so that what needs x
real ml is reached at a + (x - a) / f planned ones. A cartridge that held h ml and gave n (1 + e) weighs e n
times its clay's density less than it should.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from gpost.clay.chances import INTERVAL, Spreads, reach_sds


def planned_ml(real_ml: float, from_ml: float, factor: float) -> float:
    """Net clay of the plan at which so much has really come, the flow turned from `from_ml` on, ml."""
    return real_ml if real_ml <= from_ml else from_ml + (real_ml - from_ml) / factor


def came_ml(planned_ml: float, turns: Sequence[tuple[float, float]]) -> float:
    """Clay that has really come when so much is planned to have, with turns as for `share_of_turns`, ml."""
    return planned_ml * share_of_turns(turns, planned_ml) if planned_ml > 0 else planned_ml


class Taken(NamedTuple):
    """A cartridge as it is taken off, ml."""

    held_ml: float
    """Clay in it when it was put on."""
    out_ml: float
    """Clay that is to have left it."""
    weighed: bool
    """Whether its clay was weighed in, rather than filled to the brim."""

    def left_ml(self, flow: float) -> float:
        """Clay still in it if `flow` times what was expected has come."""
        return self.held_ml - self.out_ml * flow

    def usual_share(self, spreads: Spreads) -> float | None:
        """Within what share of it the clay that came is, by its weight, in 95 prints of 100; None: not known.

        Of clay that was weighed in, the scales see the errors of E and of density together (e + d), as they
        see them in the next cartridge; of one filled to the brim, that of density in what is left alone. To
        the first order (JCGM 100:2008, section 5.1.2).
        """
        if (spreads.metered is None and spreads.density is None) or self.out_ml <= 0:
            return None
        metered, density = spreads.metered or 0.0, spreads.density or 0.0
        there = 1.0 if self.weighed else (self.held_ml - self.out_ml) / self.out_ml
        return reach_sds(INTERVAL) * math.hypot(metered, density * there)


def share_of_turns(turns: Sequence[tuple[float, float]], end: float, *, slower: bool = False) -> float:
    """Mean factor of something that goes from 0 to `end`, with turns (from where, factor) in rising order.

    1 before the first. `slower`: of the time that it takes, which goes with 1 / factor.
    """
    edges = [0.0, *(min(max(at, 0.0), end) for at, _ in turns), end]
    factors = [1.0, *(1 / factor if slower else factor for _, factor in turns)]
    whole = sum(
        (high - low) * factor for low, high, factor in zip(edges[:-1], edges[1:], factors, strict=True)
    )
    return whole / end if end > 0 else 1.0
