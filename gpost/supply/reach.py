"""Which share of each clay shows at each height of the piece."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

import numpy as np
from numpy.typing import NDArray

from gpost.common.records import record
from gpost.plan.plan import Plan
from gpost.supply import cartridges as supply
from gpost.supply.heights import Floats, Heights

LEAST_CHANGE = 0.01
"""Shares that differ by less from the last ones that were told are as before."""
LEAST_SHARE = 0.005
"""A clay of which there is less is not named."""
MOST_ROWS = 12
STEPS_MM = (1, 2, 5, 10, 20, 50, 100, 200, 500)


@record(frozen=True, slots=True)
class Reach:
    """Shares of the clays, layer by layer; arrays of shape (layers,)."""

    height_mm: Floats
    """Nozzle height on the middle of the layer's clay."""
    shares: dict[str, Floats]
    """Share of each clay there, 0 to 1; they add up to 1."""

    def mix(self, index: int) -> dict[str, float]:
        """Shares of the layer with that index, to three places, without the clays that it has none of."""
        found = {clay: round(float(share[index]), 3) for clay, share in self.shares.items()}
        return {clay: share for clay, share in found.items() if share}

    def changes(self, since: int = 0) -> Iterator[int]:
        """Indexes of the layers whose shares differ from the last one's given here; that of `since` is."""
        table = np.array(list(self.shares.values()))
        told = None
        for index in range(since, table.shape[1]):
            if told is None or float(np.abs(table[:, index] - told).max()) >= LEAST_CHANGE:
                told = table[:, index]
                yield index

    def across(self, begins_mm: float, ends_mm: float) -> list[int]:
        """Indexes of some layers from one height to the other, even steps apart and at most `MOST_ROWS` + 1.

        The steps are of a round number of mm. Nothing for a change at one height. Where a wall waves one may
        end lower than it begins.
        """
        low_mm, high_mm = sorted((begins_mm, ends_mm))
        if low_mm == high_mm:
            return []
        step_mm = next((step for step in STEPS_MM if high_mm - low_mm <= MOST_ROWS * step), STEPS_MM[-1])
        wanted_mm = (
            np.arange(np.ceil(low_mm / step_mm - 1e-6), np.floor(high_mm / step_mm + 1e-6) + 1) * step_mm
        )
        found = np.searchsorted(self._rising_mm, wanted_mm - 1e-3)
        return [int(index) for index in np.unique(found) if index < len(self.height_mm)]

    def words(self, index: int) -> str:
        """A layer's shares in words: `at 62 mm: 80 % blue, 20 % white`; the most first."""
        parts = [(clay, float(share[index])) for clay, share in self.shares.items()]
        parts = sorted((part for part in parts if part[1] >= LEAST_SHARE), key=lambda part: -part[1])
        told = ", ".join(f"{share * 100:.0f} % {clay}" for clay, share in parts)
        return f"at {round(float(self.height_mm[index]), 1):g} mm: {told}"

    @property
    def _rising_mm(self) -> NDArray[np.float64]:
        return np.maximum.accumulate(self.height_mm)


def reach(plan: Plan, shares: Callable[[Floats], dict[str, Floats]] | None = None) -> Reach:
    """The shares of each layer, from those at amounts of net clay; None: as the plan's own pauses load it."""
    height_mm, clay_ml = Heights(plan).middles()
    return Reach(height_mm, supply.shares(plan, clay_ml) if shares is None else shares(clay_ml))


def joined(spans_mm: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """The spans in rising order, those that overlap or touch made one."""
    found: list[tuple[float, float]] = []
    for low_mm, high_mm in sorted(spans_mm):
        if found and low_mm <= found[-1][1]:
            found[-1] = (found[-1][0], max(high_mm, found[-1][1]))
        else:
            found.append((low_mm, high_mm))
    return found
