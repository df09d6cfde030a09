"""A measure filled with clay and weighed, several times: the wet density."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gpost.clay.spread import Spread, spread_of, step_deviation
from gpost.config.model import Config
from gpost.errors import ConfigError
from gpost.workbook.sure import unsure

LEAST_G_ML, MOST_G_ML = 1.0, 3.0
"""Clay is no lighter than water, and no heavier: the config's own limits of wet density."""


@dataclass(frozen=True, slots=True)
class Measures:
    """Fillings of a measure."""

    fillings: tuple[tuple[float, float], ...]
    """ml and g of each."""
    config_spread_percent: float | None = None

    @property
    def each_g_ml(self) -> list[float]:
        """Density of each filling."""
        return [grams / ml for ml, grams in self.fillings]

    @property
    def density_g_ml(self) -> float:
        """On average."""
        return float(np.mean(self.each_g_ml))

    @property
    def spread(self) -> Spread | None:
        """How they differ, no finer than the scale's steps; None for one filling."""
        if len(self.fillings) < 2:
            return None
        return spread_of(self.each_g_ml, self._least_g_ml)

    @property
    def reach_percent(self) -> float | None:
        """Half of the 95 % interval, percent of the density."""
        return None if self.spread is None else 100 * self.spread.reach / self.spread.mean

    @property
    def spread_percent(self) -> float | None:
        """How far the density may be off, as a standard deviation; the config's if that is wider.

        The config's is from batch to batch; one batch can't narrow it.
        """
        if self.spread is None:
            return None
        return max(100 * self.spread.mean_spread / self.spread.mean, self.config_spread_percent or 0.0)

    @property
    def no_line(self) -> str:
        """Why they give no line; empty if they do."""
        return unsure(self.each_g_ml, "filling", self._least_g_ml, known=self.config_spread_percent)

    @property
    def _least_g_ml(self) -> float:
        """What the scale's steps alone make of it, as a standard deviation."""
        return step_deviation([grams for _, grams in self.fillings]) / max(ml for ml, _ in self.fillings)


def measures(fillings: Sequence[tuple[float, float]], config: Config) -> Measures:
    """Fillings as (ml, g). Raises ConfigError for what no clay weighs."""
    for ml, grams in fillings:
        if not (ml > 0 and LEAST_G_ML <= grams / ml <= MOST_G_ML):
            raise ConfigError(
                f"--measure {ml:g}={grams:g}: wet clay weighs {LEAST_G_ML:g} to {MOST_G_ML:g} g per ml; "
                "write the ml of the measure first, then the grams of the clay in it without the measure"
            )
    return Measures(tuple(fillings), config.clay.wet_density_spread_percent)
