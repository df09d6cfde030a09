"""What the prints of a log teach: clay per unit of E, reserve and time, each with its spread."""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from gpost.clay.trials import CONFIDENCE, student
from gpost.errors import PlanError
from gpost.workbook.log.model import PrintRow

LEAST = 2
"""Prints that are needed to know a spread."""
MOST_RESERVE = 0.5
"""Share of the cartridge; who leaves more than half in it doesn't know the reserve."""


@dataclass(frozen=True, slots=True)
class Spread:
    """The mean of what prints say, and how far they differ."""

    prints: int
    mean: float
    deviation: float
    """Standard deviation of one print, n - 1 degrees of freedom."""
    low: float
    """Lower end of the 95 % interval of the mean, after Student: mean - t s / sqrt(n)."""
    high: float

    @property
    def firm(self) -> bool:
        """Whether the interval stays above 0, where all that is learnt here lies: else it teaches nothing."""
        return self.low > 0

    @property
    def limit(self) -> float:
        """What the next print exceeds once in twenty times: mean + t s sqrt(1 + 1 / n), one-sided."""
        t = student(2 * CONFIDENCE - 1, self.prints - 1)
        return self.mean + t * self.deviation * math.sqrt(1 + 1 / self.prints)


@dataclass(frozen=True, slots=True)
class LogFit:
    """What could be fitted; None where fewer than LEAST prints say anything."""

    mass: Spread | None
    """Weighed over predicted mass of the piece."""
    ml_per_unit: Spread | None
    """Clay per unit of E, whatever the config said when each piece was printed."""
    time: Spread | None
    """Taken over predicted time."""
    left_ml: Spread | None
    """Clay left in a cartridge that gave no more."""

    def reserve_ml(self, volume_ml: float) -> float | None:
        """The reserve for a cartridge of that volume, that one in twenty exceeds.

        None if it is not known, or if the trials scatter so much that it would take more than MOST_RESERVE of
        the cartridge.
        """
        if self.left_ml is None or self.left_ml.limit > MOST_RESERVE * volume_ml:
            return None
        return self.left_ml.limit


def fit_prints(rows: Sequence[PrintRow], without: Iterable[int] = ()) -> LogFit:
    """The fit over all prints but those numbers and what was dropped.

    Raises PlanError when there are fewer than LEAST prints for everything, or a number is not there.
    """
    left_out = set(without)
    unknown = left_out - {row.number for row in rows}
    if unknown:
        raise PlanError(f"the log has no print {min(unknown)}; gpost log show lists them")
    used = [row for row in rows if row.number not in left_out and row.dropped is None]
    found = LogFit(
        spread(row.mass_ratio for row in used),
        spread(row.found_ml_per_unit for row in used),
        spread(row.time_ratio for row in used),
        spread(row.left_ml for row in used),
    )
    if found.mass is None and found.time is None and found.left_ml is None:
        raise PlanError(
            f"nothing can be fitted: at least {LEAST} prints with a weighed piece, with their minutes, or "
            "with what was left in the cartridge are needed; add more with gpost log add"
        )
    return found


def spread(values: Iterable[float | None]) -> Spread | None:
    """Mean and spread of the values that are there; None for fewer than LEAST."""
    there = [value for value in values if value is not None]
    if len(there) < LEAST:
        return None
    mean, deviation = statistics.fmean(there), statistics.stdev(there)
    reach = student(CONFIDENCE, len(there) - 1) * deviation / math.sqrt(len(there))
    return Spread(len(there), mean, deviation, mean - reach, mean + reach)
