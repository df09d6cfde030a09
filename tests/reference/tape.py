"""A plain account of clay: a tape that is pushed out of cartridges, through a hose, and out of the nozzle.

Written from what a plug is, and apart from gpost: what leaves the cartridge pushes all that is before it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise

Slugs = Iterable[tuple[str, float]]
"""(clay, ml) in the order of leaving; the last one goes on."""


class Tape:
    """The clay in one print, from what came first to what is deepest in the cartridge."""

    def __init__(self, line_ml: float, hose: Slugs, cartridge: Slugs) -> None:
        """`hose`: as it is at the start, what leaves first first."""
        self.line_ml = line_ml
        self.moved_ml = 0.0
        """How far it has been pushed: net clay."""
        self.parts: list[tuple[float, str]] = []
        """(moved_ml at which its first is at the nozzle, clay)."""
        self._append(0.0, hose)
        self.put_on(cartridge)

    def put_on(self, cartridge: Slugs) -> None:
        """Another cartridge: what was still in the last one is gone."""
        outlet_ml = self.moved_ml + self.line_ml
        self.parts = [part for part in self.parts if part[0] < outlet_ml]
        self._append(outlet_ml, cartridge)

    def fill_hose(self, clay: str) -> None:
        """The hose is emptied, and filled by hand."""
        outlet_ml = self.moved_ml + self.line_ml
        behind = [part for part in self.parts if part[0] > outlet_ml]
        self.parts = [(self.moved_ml, clay), (outlet_ml, self.at(outlet_ml)), *behind]

    def push(self, ml: float) -> None:
        """So much out of the nozzle, or back into it."""
        self.moved_ml += ml

    def at(self, moved_ml: float) -> str:
        """The clay at the nozzle when so much is pushed."""
        return [clay for begins_ml, clay in self.parts if begins_ml <= moved_ml][-1]

    def changes(self, since_ml: float) -> Iterator[tuple[float, str]]:
        """(moved_ml at which it is at the nozzle, clay) of each change of clay after so much was pushed."""
        for (_, before), (begins_ml, clay) in pairwise(self.parts):
            if clay != before and begins_ml > since_ml:
                yield begins_ml, clay

    def _append(self, begins_ml: float, slugs: Slugs) -> None:
        for clay, ml in slugs:
            self.parts.append((begins_ml, clay))
            begins_ml += ml


def one(clay: str) -> Sequence[tuple[str, float]]:
    """A cartridge, or a hose, of one clay."""
    return [(clay, math.inf)]
