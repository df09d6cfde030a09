"""Weighings turned into the config's metering."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from gpost.clay.spread import NORMAL_REACH, no_surer
from gpost.clay.trials import LEAST_FREEDOM, Fit, Interval, Weighing, fit_weighings
from gpost.config.metering import ml_per_unit
from gpost.config.model import Metering
from gpost.errors import ConfigError
from gpost.workbook.sure import MOST_OFF_PERCENT, impossible, loose

LEAST_LOSS_ML = 0.001
"""A loss below it is none: a cube of 1 mm."""


@dataclass(frozen=True, slots=True)
class Calibration:
    """What weighings say of the metering."""

    weighings: tuple[Weighing, ...]
    fit: Fit
    density_g_ml: float
    config_ml: float | None
    """ml per unit after the present config; None if clay is metered by path."""
    config_spread_percent: float | None = None
    """How far that may be off, as a standard deviation; None: not known."""
    hose_ml: float | None = None
    """What the hose holds after the config; None: not asked."""

    @property
    def ml(self) -> float:
        """ml per unit of E, which goes with `loss_ml` where that is above 0, and else with no loss at all."""
        lossless = self.fit.lossless
        return (self.fit.slope if lossless is None else lossless) / self.density_g_ml

    @property
    def interval_ml(self) -> tuple[float, float] | None:
        """The 95 % interval of `ml`; None where nothing tells it. The density counts as exact."""
        if self.fit.low is None or self.fit.high is None:
            return None
        return self.fit.low / self.density_g_ml, self.fit.high / self.density_g_ml

    @property
    def reach_percent(self) -> float | None:
        """How far that interval reaches from `ml`, percent of it: half of it, if `ml` is its middle."""
        if self.interval_ml is None:
            return None
        low, high = self.interval_ml
        return 100 * max(high / self.ml - 1, 1 - low / self.ml)

    @property
    def spread_percent(self) -> float | None:
        """How far `ml` may be off, percent of it, as a standard deviation.

        The config's if that is wider: it is from print to print, and weighings of one day can't narrow it.
        """
        if self.safe_percent is None:
            return None
        return max(self.safe_percent / NORMAL_REACH, self.config_spread_percent or 0.0)

    @property
    def safe_percent(self) -> float | None:
        """`reach_percent`, but no less than the usual errors make: a few may agree by luck."""
        if self.reach_percent is None:
            return None
        return no_surer(self.reach_percent, 100 * self.fit.usual / self.fit.slope)

    @property
    def lucky(self) -> bool:
        """Whether the weighings agree better than is usual, and `spread_percent` is what is usual."""
        if self.safe_percent is None or self.safe_percent == self.reach_percent:
            return False
        return self.safe_percent / NORMAL_REACH >= (self.config_spread_percent or 0.0)

    @property
    def loss_ml(self) -> Interval | None:
        """Clay that each start loses; None if one E alone was tried."""
        start = self.fit.start
        if start is None:
            return None
        reach_ml = None if start.reach is None else start.reach / self.density_g_ml
        return Interval(-start.value / self.density_g_ml, reach_ml, start.usual / self.density_g_ml)

    @property
    def off_percent(self) -> float | None:
        """By how much more clay comes than the present config says, percent."""
        return None if self.config_ml is None else 100 * (self.ml / self.config_ml - 1)

    @property
    def ml_without(self) -> float | None:
        """ml per unit of E without the outlier; None without one."""
        return None if self.fit.without is None else self.fit.without / self.density_g_ml

    @property
    def flow_percent(self) -> float | None:
        """Flow that makes the machine lay what the present config says, percent."""
        return None if self.config_ml is None else 100 * self.config_ml / self.ml

    @property
    def no_line(self) -> str:
        """Why these weighings give no line for the config; empty if they do."""
        if len(self.weighings) == 1:
            return "one weighing says nothing of its own error"
        if self.fit.start is None:
            return "what each start loses is still in it"
        if self.fit.outliers:
            return f"weighing {self.fit.outliers[0] + 1} does not agree with the others"
        if self.fit.offset is not None and self.fit.offset > 0:
            return "the grams don't start at nought"
        if self.safe_percent is None or self.fit.freedom < LEAST_FREEDOM:
            return "so few weighings say too little of their own error"
        return loose(self.safe_percent, known=self.config_spread_percent)

    @property
    def no_loss_line(self) -> str:
        """Why they give none for `start_loss_ml`; empty if they do."""
        loss = self.loss_ml
        if self.no_line or loss is None or loss.reach is None:
            return self.no_line or "nothing tells it from the slope"
        if loss.value < LEAST_LOSS_ML:
            return "it can't be told from none"
        if self.hose_ml is None:
            return ""
        limit_ml = MOST_OFF_PERCENT / 100 * self.hose_ml
        return loose(loss.safe_reach, "ml", limit=limit_ml, of="what the hose holds")


def calibrate(
    weighings: Iterable[Weighing], density_g_ml: float, metering: Metering, hose_ml: float | None = None
) -> Calibration:
    """The calibration. Raises ConfigError when a weighing can't be one."""
    found = tuple(weighings)
    try:
        fit = fit_weighings(found)
    except ValueError as error:
        raise ConfigError(str(error)) from error
    made = Calibration(found, fit, density_g_ml, ml_per_unit(metering), metering.spread_percent, hose_ml)
    if wrong := impossible(made.ml):
        raise ConfigError(
            f"{wrong}: give each weighing as E=GRAMS, and the wet density in "
            f"g/ml (it is {density_g_ml:g} now)"
        )
    return made
