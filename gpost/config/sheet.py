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

DURING_REST = (
    say("ticks.first_turn"),
    say("ticks.edge"),
    say("ticks.refills"),
)
"""While the rest of a stopped print is laid: common practice, no source."""


class RestTicks(Settings):
    """The same round the rest of a stopped print, which goes on with a piece that stands."""

    before: tuple[PlainText, ...] = ()
    """Before it is let go, beside what its page and summary say themselves."""
    during: tuple[PlainText, ...] = DURING_REST
    """While it prints. Left out: the studio's own `sheet: during`, if it has one."""
    after: tuple[PlainText, ...] = AFTER
    """When it is done. Left out: the studio's own `sheet: after`, if it has one."""


class TickList(Settings):
    """What to tick off on the sheet, in the order of the work. A list replaces gpost's own whole."""

    before: tuple[PlainText, ...] = BEFORE
    """Before the start. `[]`: nothing."""
    during: tuple[PlainText, ...] = DURING
    """While it prints."""
    after: tuple[PlainText, ...] = AFTER
    """When it is done."""
    rest: RestTicks = RestTicks()
    """What to tick off in the place of that where a stopped print goes on."""

    def of_rest(self) -> RestTicks:
        """What to tick off round a rest: what the studio says of one, then what it says of any print.

        What comes before a first start is done by then.
        """
        said = self.rest.model_fields_set
        own = {name: getattr(self, name) for name in self.model_fields_set & {"during", "after"} - said}
        return self.rest.model_copy(update=own)
