"""When a trial or the log may teach the config a line: one rule, and its words.

A line is given only if its 95 % interval reaches no further than MOST_OFF_PERCENT to each side, and no
further than that of what the config holds already. Else the words alone: what is found so loosely would
make a config worse.
"""

from __future__ import annotations

from collections.abc import Sequence

from gpost.clay.spread import NORMAL_REACH, odd_value, spread_of
from gpost.common.digits import few
from gpost.report.wording import times

MOST_OFF_PERCENT = 5.0
"""Of the value itself, or of what an amount is lost from: the hose's clay at a start, the cartridge's that is
left over."""

LEAST_ML, MOST_ML = 1e-5, 50.0
"""One unit of E moves no less (a hundredth of 1 mm^3) and no more (1 mm of a plunger of 250 mm) of clay."""

ROUNDED = 1.05
"""A spread was rounded to two digits when it was written: so much wider is the same."""
LEAST_FOR_LINE = 3
"""Findings from which a line may come: two that agree by luck seem sure."""


def impossible(ml: float) -> str:
    """That one unit of E moves no such amount; empty if it may."""
    return "" if LEAST_ML < ml < MOST_ML else f"{ml:.3g} ml per unit of E can't be"


def by_luck(errs: str) -> str:
    """That a line's spread is what is usual, not what these few findings make; `errs`: what makes it."""
    return (
        f"so few may agree by luck: the line's spread is what {errs} usually make (common practice, no "
        "source)"
    )


def unsure(values: Sequence[float], word: str, least: float, *, known: float | None = None) -> str:
    """Why findings of one thing, none of them 0, give no line; empty if they do.

    `word` is what each is (`lump`), `least` the least standard deviation there can be; `known` is the
    config's own spread, percent of the value.
    """
    if len(values) < LEAST_FOR_LINE:
        return f"{times(len(values), word)} can't say how sure that is; at least {LEAST_FOR_LINE} must say it"
    odd = odd_value(values, least)
    if odd is not None:
        return f"{word} {odd + 1} does not agree with the others; try that one again"
    found = spread_of(values, least)
    return loose(100 * found.reach / found.mean, known=known) if found.mean > 0 else "nothing was found"


def loose(
    reach: float,
    unit: str = "%",
    *,
    limit: float = MOST_OFF_PERCENT,
    of: str = "",
    known: float | None = None,
) -> str:
    """Why a value that is known to +-reach gives no line; empty if it gives one.

    `limit` and `known`, the config's own spread as a standard deviation, are in the same unit; `of` says what
    the limit is a share of.
    """
    if reach > limit:
        share = f", which is {MOST_OFF_PERCENT:g} % of {of}" if of else ""
        needed = f"{few(limit, 2)} {unit}{share}"
        return f"it is known to +-{few(reach, 2)} {unit} only (95 %), and must be to +-{needed}"
    if known is not None and reach > NORMAL_REACH * known * ROUNDED:
        return (
            f"it is known to +-{few(reach, 2)} {unit} (95 %), and the config knows better: its spread of "
            f"{few(known, 2)} {unit} says +-{few(NORMAL_REACH * known, 2)} {unit}"
        )
    return ""
