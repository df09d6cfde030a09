"""The morning's check: an extrusion weighed, or two, and what it says of today's clay."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from gpost.clay.spread import NORMAL_REACH
from gpost.clay.trials import Interval, Weighing, share_of_due
from gpost.config.metering import ml_per_unit
from gpost.config.model import Config
from gpost.errors import ConfigError
from gpost.workbook.sure import loose

FAR = 2.0
"""More or less than so many times what was due is no matter of the day."""
UNLIKELY = 3.0
"""Standard deviations that chance goes beyond once in four hundred times."""


@dataclass(frozen=True, slots=True)
class Morning:
    """What came beside what was due by the config."""

    weighings: tuple[Weighing, ...]
    due_g: tuple[float, ...]
    config_ml: float
    """ml per unit of E after the config."""
    config_spread_percent: float | None

    @property
    def share(self) -> Interval:
        """Clay that came over what was due, all together."""
        return share_of_due([one.grams for one in self.weighings], self.due_g)

    @property
    def off_percent(self) -> float:
        """By how much more came than was due."""
        return 100 * (self.share.value - 1)

    @property
    def reach_percent(self) -> float:
        """Half of the 95 % interval, percent of what came."""
        return _reach_percent(self.share)

    @property
    def spread_percent(self) -> float:
        """The same as a standard deviation."""
        return self.reach_percent / NORMAL_REACH

    @property
    def ml(self) -> float:
        """ml per unit of E today."""
        return self.config_ml * self.share.value

    @property
    def flow_percent(self) -> float:
        """The machine's flow for today, percent."""
        return 100 / self.share.value

    @property
    def no_line(self) -> str:
        """Why nothing is to be changed; empty if today's flow is another.

        The config's spread is no reason: it may be that of one day, and this is another.
        """
        reason = loose(self.reach_percent)
        if reason:
            return f"{reason}. Weigh a larger amount"
        if self._differ:
            return "the weighings do not agree. Look for air, and weigh again"
        if abs(self.off_percent) <= self.reach_percent:
            return "that is no more than weighing errs by"
        usual = math.hypot(self.config_spread_percent or 0.0, self.spread_percent)
        if len(self.weighings) == 1 and abs(self.off_percent) > UNLIKELY * usual:
            return (
                "for one weighing that is much, and it may be a bubble. Weigh once more, and give both "
                "(--morning twice)"
            )
        return ""

    @property
    def _differ(self) -> bool:
        """Whether the weighings are further from one another than chance puts them."""
        each = [share_of_due([one.grams], [due]) for one, due in zip(self.weighings, self.due_g, strict=True)]
        return any(
            100 * abs(one.value / self.share.value - 1) > UNLIKELY * _reach_percent(one) / NORMAL_REACH
            for one in each
        )


def morning(weighings: Sequence[Weighing], density_g_ml: float, config: Config) -> Morning:
    """What was due by the config, its start loss counted.

    Raises ConfigError when it can't be of the same clay, or there is no E.
    """
    unit_ml = ml_per_unit(config.clay.metering)
    if unit_ml is None:
        raise ConfigError("clay is metered by path, so there is no E to check; set clay: metering first")
    due_g = tuple((one.e * unit_ml - config.cartridge.start_loss_ml) * density_g_ml for one in weighings)
    for one, due in zip(weighings, due_g, strict=True):
        if due <= 0 or not 1 / FAR < one.grams / due < FAR:
            raise ConfigError(
                f"--morning: {one.grams:g} g came and {max(due, 0):.3g} g were due by the config, which is "
                "no matter of the day; give it as E=GRAMS, or find clay: metering anew with --weighing"
            )
    return Morning(tuple(weighings), due_g, unit_ml, config.clay.metering.spread_percent)


def _reach_percent(share: Interval) -> float:
    assert share.reach is not None
    return 100 * share.reach / share.value
