"""What stands on the job sheet to be ticked off: the studio's own list, in the order of the work."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from gpost.config.settings import PlainText, Settings

Ticks = Annotated[tuple[PlainText, ...], Field(max_length=40)]


class Sheet(Settings):
    """The job sheet's lists of what is to be ticked off; a list that is given replaces ours whole."""

    before: Ticks = (
        "Clay soft, and without air",
        "Coupling clean, seal greased",
        "Nozzle centred in its cap, and wiped",
        "Slab rolled, and sealed to its board all round",
        "Board clamped",
        "Hose filled to the tip",
        "Nozzle a sheet of paper over the slab",
    )
    """Before the start, one sentence each. An empty list: nothing."""
    meanwhile: Ticks = (
        "First layer even on all sides",
        "Edge of the slab wetted",
        "Next cartridge loaded before its refill",
    )
    """While the machine prints."""
    after: Ticks = (
        "Slid off with its board",
        "Next slab ready",
        "Nozzle, hose and cartridge into water before the clay dries",
    )
    """After the print."""
