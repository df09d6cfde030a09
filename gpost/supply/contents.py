"""Which clay leaves the cartridges when: what is in them, in the order in which it leaves.

What leaves the cartridge pushes everything in the line forward: as a plug, so that clay reaches the nozzle
when one hose volume more has come, or mixed in stages, as the config's line is (`gpost.clay.mixing`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gpost.clay.mixing import Hose
from gpost.plan.starts import Starts
from gpost.supply.bands import Mix

Floats = NDArray[np.float64]
LEAST_ML = 1e-6
"""Less clay is none: sums of many lines are not exact."""


class Cut(NamedTuple):
    """Where one mixture follows another."""

    outlet_ml: float
    """Net clay at which it begins to leave its cartridge; below 0: it lies in the hose from the start."""
    mix: Mix
    wanted_mm: float | None = None
    """Nozzle height from which on it was asked for; None: it was not."""


class Contents(NamedTuple):
    """The clay of a whole job, from what is in the hose at the start to what is loaded last."""

    first: Mix
    """What the hose is full of at the start, and what comes behind it."""
    cuts: tuple[Cut, ...]
    """The mixtures that follow."""
    hose: Hose
    starts: Starts

    @property
    def clays(self) -> list[str]:
        """Names of all clays, in the order of leaving."""
        return list(dict.fromkeys(clay for mix in self._mixes for clay in mix))

    @property
    def _mixes(self) -> list[Mix]:
        return [self.first, *(cut.mix for cut in self.cuts)]

    def shares(self, clay_ml: ArrayLike) -> dict[str, Floats]:
        """Share of each clay at the nozzle at those net clays, shape of `clay_ml`; they add up to 1."""
        come_ml = self.starts.come_ml
        at_ml = come_ml(clay_ml)
        arrived = [self.hose.new_share(at_ml - come_ml(cut.outlet_ml)) for cut in self.cuts]
        return self._weighted([np.ones_like(at_ml), *arrived, np.zeros_like(at_ml)])

    def left_ml(self, from_ml: float, to_ml: float) -> dict[str, float]:
        """ml of each clay that leave the nozzle between two amounts of net clay, but for what starts lose."""
        come_ml = self.starts.come_ml
        edges = come_ml([from_ml, to_ml])
        past = [np.diff(self.hose.new_ml(edges - come_ml(cut.outlet_ml))) for cut in self.cuts]
        found = self._weighted([np.diff(edges), *past, np.zeros(1)])
        return {clay: float(amount[0]) for clay, amount in found.items()}

    def between(self, low_ml: float, high_ml: float) -> Iterator[tuple[Mix, float]]:
        """(mixture, ml) that leave the cartridges between two amounts of net clay, in that order."""
        for cut, following in pairwise((*self._from, Cut(math.inf, {}))):
            amount_ml = min(following.outlet_ml, high_ml) - max(cut.outlet_ml, low_ml)
            if amount_ml > LEAST_ML:
                yield cut.mix, amount_ml

    def at(self, clay_ml: float) -> Mix:
        """The mixture that leaves its cartridge at that net clay."""
        return next(cut.mix for cut in reversed(self._from) if cut.outlet_ml <= clay_ml)

    @property
    def _from(self) -> list[Cut]:
        return [Cut(-math.inf, self.first), *self.cuts]

    def _weighted(self, arrived: Sequence[Floats]) -> dict[str, Floats]:
        found = {clay: np.zeros_like(arrived[0]) for clay in self.clays}
        for mix, own, following in zip(self._mixes, arrived[:-1], arrived[1:], strict=True):
            for clay, share in mix.items():
                found[clay] = found[clay] + share * (own - following)
        return found
