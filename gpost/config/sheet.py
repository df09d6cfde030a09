"""What to tick off round a print, in the studio's own words."""

from __future__ import annotations

from gpost.config.settings import PlainText, Settings

BEFORE = (
    "the clay is soft and without air",
    "the coupling is clean, its seal greased",
    "the nozzle is centred",
    "the slab is rolled, and sealed to its board",
    "the board is clamped",
    "the hose is filled",
    "the nozzle is a sheet of paper over the slab, and wiped",
)
"""Before the start (common practice, no source)."""
DURING = (
    "the first layer is even on all sides",
    "the slab's edge is wetted",
    "each refill is ready before its time",
)
"""While it prints."""
AFTER = (
    "the piece is slid off with its board",
    "the next slab is ready",
    "the parts are in water before the clay dries",
)
"""When it is done."""


class TickList(Settings):
    """What to tick off on the sheet, in the order of the work. A list replaces gpost's own whole."""

    before: tuple[PlainText, ...] = BEFORE
    """Before the start. `[]`: nothing."""
    during: tuple[PlainText, ...] = DURING
    """While it prints."""
    after: tuple[PlainText, ...] = AFTER
    """When it is done."""
