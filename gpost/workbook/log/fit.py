"""What the prints of a log teach: clay per unit of E, reserve and time, each with its spread."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple, TypeAlias

import numpy as np

from gpost.clay.spread import Spread, odd_value, scale_step, spread_of, step_deviation
from gpost.clay.trials import one_variance_g2
from gpost.errors import PlanError
from gpost.workbook.log.doubts import LESS, MORE, is_far
from gpost.workbook.log.model import PrintRow, agree, agree_or_none

LEAST = 2
"""Prints that are needed to know a spread."""
LEAST_TO_TELL = 5
"""Prints of which one that the others contradict is left out; of fewer nobody can tell which one is wrong."""
MOST_LUCKY = 9
"""Of so many prints the usual errors count where theirs are smaller; more know their own spread, to a quarter
(1 / sqrt(2 (n - 1)) of it: textbook)."""
RESERVE_SHARE, RESERVE_CONFIDENCE = 0.95, 0.95
"""So many cartridges leave no more than the limit, and so sure is that."""


_Figure: TypeAlias = Callable[[PrintRow], float | None]
_FIELDS: dict[str, tuple[_Figure, _Figure]] = {
    "mass": (lambda row: row.mass_ratio, lambda row: row.found.weighed_g),
    "ml_per_unit": (lambda row: row.found_ml_per_unit, lambda row: row.found.weighed_g),
    "time": (lambda row: row.time_ratio, lambda row: row.found.minutes),
    "left_ml": (lambda row: row.left_ml, lambda row: row.found.left_g),
}
"""What is learnt from a print, and the reading that it rests on."""
_RATIOS: dict[str, _Figure] = {
    "mass": lambda row: row.mass_ratio,
    "ml_per_unit": lambda row: row.mass_ratio,
    "time": lambda row: row.time_ratio,
}
"""How a print stands to what was predicted, by the field that it teaches."""


class ByConfig(NamedTuple):
    """Prints that were predicted with the same clay."""

    ml_per_unit: float | None
    """Of E; None: metered by path."""
    density_g_ml: float
    numbers: tuple[int, ...]


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
    left_out: Mapping[str, int] = field(default_factory=dict)
    """The print that the others contradict, by the field's name: it is not in that field."""
    odd: Mapping[str, int] = field(default_factory=dict)
    """The same where it is still in it: of so few nobody can tell which is wrong, or what was left counts."""
    rare: Mapping[str, int] = field(default_factory=dict)
    """The same where it is no further off than a print may be that nothing is wrong with: it counts."""
    far: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    """Prints in that field that can hardly be meant: so many times what was predicted, or so small a part."""
    used: tuple[PrintRow, ...] = ()
    """The prints that were asked, whatever they say."""
    configs: tuple[ByConfig, ...] = ()
    """The prints that say the mass, by what their predictions rest on, in the order of adding."""

    @property
    def limit_ml(self) -> float | None:
        """What is left in no more than this in RESERVE_SHARE of all cartridges, with RESERVE_CONFIDENCE."""
        if self.left_ml is None:
            return None
        return self.left_ml.upper_limit(RESERVE_SHARE, RESERVE_CONFIDENCE)


def fit_prints(rows: Sequence[PrintRow], without: Iterable[int] = ()) -> LogFit:
    """The fit over all prints but those numbers and what was dropped.

    Raises PlanError when there are fewer than LEAST prints for everything, or a number is not there.
    """
    unused = set(without)
    unknown = unused - {row.number for row in rows}
    if unknown:
        raise PlanError(f"the log has no print {min(unknown)}; gpost log show lists them")
    used = [row for row in rows if row.number not in unused and row.dropped is None]
    found = _learnt(used)
    if found.mass is None and found.time is None and found.left_ml is None:
        raise PlanError(
            f"nothing can be fitted: at least {LEAST} prints with a weighed piece, with their minutes, or "
            "with what was left in the cartridge are needed; add more with gpost log add"
        )
    return found


def _learnt(rows: Sequence[PrintRow]) -> LogFit:
    """Each field by itself, from the rows that say it.

    No cartridge is left out: one that kept much more than the others is what a reserve is for. A print goes
    only if the others contradict it and it is further off than prints of one clay are: one honest log in
    twenty has one that they contradict, and without that the rest would seem surer than they are.
    """
    left_out: dict[str, int] = {}
    odd: dict[str, int] = {}
    rare: dict[str, int] = {}
    far: dict[str, tuple[int, ...]] = {}
    spreads: dict[str, Spread | None] = {}
    for name, (value, reading) in _FIELDS.items():
        saying = [row for row in rows if value(row) is not None]
        wrong = _odd(saying, value, reading)
        if wrong is not None and name != "left_ml" and _may_differ(wrong, saying, value):
            rare[name] = wrong.number
        elif wrong is not None and len(saying) >= LEAST_TO_TELL and name != "left_ml":
            left_out[name] = wrong.number
            saying.remove(wrong)
        elif wrong is not None:
            odd[name] = wrong.number
        if numbers := _far(name, saying):
            far[name] = numbers
        spreads[name] = _spread(saying, value, reading, weighed=name in ("mass", "ml_per_unit"))
    return LogFit(
        **spreads,
        left_out=left_out,
        odd=odd,
        rare=rare,
        far=far,
        used=tuple(rows),
        configs=_by_config(rows),
    )


def _far(name: str, rows: Iterable[PrintRow]) -> tuple[int, ...]:
    """Those of the prints whose ratio can hardly be meant; what was left has no prediction."""
    ratio = _RATIOS.get(name)
    if ratio is None:
        return ()
    return tuple(row.number for row in rows if (found := ratio(row)) is not None and is_far(found))


def _by_config(rows: Iterable[PrintRow]) -> tuple[ByConfig, ...]:
    """Figures that agree, as where a density was weighed once more, are of one config."""
    found: list[ByConfig] = []
    for row in rows:
        if row.mass_ratio is None:
            continue
        said = row.predicted
        own = ByConfig(said.ml_per_unit, said.density_g_ml, (row.number,))
        for place, other in enumerate(found):
            if agree_or_none(own.ml_per_unit, other.ml_per_unit) and agree(
                own.density_g_ml, other.density_g_ml
            ):
                found[place] = other._replace(numbers=(*other.numbers, row.number))
                break
        else:
            found.append(own)
    return tuple(found)


def _odd(rows: Sequence[PrintRow], value: _Figure, reading: _Figure) -> PrintRow | None:
    """The print that the others contradict."""
    wrong = odd_value(_said(rows, value), _least(rows, value, reading))
    return None if wrong is None else rows[wrong]


def _may_differ(wrong: PrintRow, rows: Sequence[PrintRow], value: _Figure) -> bool:
    """Whether a print is no further from the mean of the others than prints of one clay may be."""
    others = _said([row for row in rows if row is not wrong], value)
    mean, (said,) = sum(others) / len(others), _said([wrong], value)
    return mean > 0 and LESS <= said / mean <= MORE


def _spread(rows: Sequence[PrintRow], value: _Figure, reading: _Figure, *, weighed: bool) -> Spread | None:
    """The spread of what the rows say; None for fewer than LEAST.

    Pieces that were weighed err as any weighing of printed clay does, clocks and remains as they will.
    """
    if len(rows) < LEAST:
        return None
    values = _said(rows, value)
    usual = _usual(values, _said(rows, reading)) if weighed and len(rows) <= MOST_LUCKY else 0.0
    return spread_of(values, _least(rows, value, reading), usual)


def _usual(values: Sequence[float], grams: Sequence[float]) -> float:
    """What scale and clay usually make of one of the values, on average, as a standard deviation."""
    variances = (one_variance_g2(found := np.array([each]), scale_step(found)) for each in grams)
    pairs = zip(values, grams, variances, strict=True)
    errors = [value * float(np.sqrt(g2[0])) / each for value, each, g2 in pairs if each > 0]
    return sum(errors) / max(len(errors), 1)


def _least(rows: Sequence[PrintRow], value: _Figure, reading: _Figure) -> list[float]:
    """What the step of each reading alone makes of its value, as a standard deviation.

    "4 min" is what a clock shows from 3.5 to 4.5: an eighth of a short piece, nothing of a long one.
    """
    values, readings = _said(rows, value), _said(rows, reading)
    mean = sum(values) / sum(readings) if any(readings) else 0.0
    return [
        step_deviation([read]) * (each / read if read else mean)
        for each, read in zip(values, readings, strict=True)
    ]


def _said(rows: Sequence[PrintRow], figure: _Figure) -> list[float]:
    return [found for row in rows if (found := figure(row)) is not None]
