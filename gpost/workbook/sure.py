"""When a trial or the log may teach the config a line: one rule, and its words.

A line is given only if its 95 % interval reaches no further than MOST_OFF_PERCENT to each side, and no
further than that of what the config holds already. Else the words alone: what is found so loosely would
make a config worse.
"""

from __future__ import annotations

from gpost.clay.spread import NORMAL_REACH

MOST_OFF_PERCENT = 5.0
"""Of the value itself, or of what an amount is lost from: the hose's clay at a start, the cartridge's that is
left over."""


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
        return f"it is known to +-{reach:.2g} {unit} only (95 %), and must be to +-{limit:.2g} {unit}{share}"
    if known is not None and reach > NORMAL_REACH * known:
        return (
            f"it is known to +-{reach:.2g} {unit} (95 %), and the config knows better: its spread of "
            f"{known:.2g} {unit} says +-{NORMAL_REACH * known:.2g} {unit}"
        )
    return ""
