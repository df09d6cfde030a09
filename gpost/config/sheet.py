"""What to tick off round a print, in the studio's own words."""

from __future__ import annotations

from gpost.config.settings import PlainText, Settings
from gpost.words import say

BEFORE = (
    say("ticks.clay_soft"),
    say("ticks.coupling"),
    say("ticks.nozzle_centred"),
    say("ticks.slab"),
    say("ticks.board"),
    say("ticks.hose"),
    say("ticks.nozzle_height"),
)
"""Before the start (common practice, no source)."""
DURING = (
    say("ticks.first_layer"),
    say("ticks.edge"),
    say("ticks.refills"),
)
"""While it prints."""
AFTER = (
    say("ticks.slid_off"),
    say("ticks.next_slab"),
    say("ticks.parts_in_water"),
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
