"""What the potter says about the day."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the potter says about the day."""

    start_s: float
    """Clock time at which the first cartridge is loaded, in seconds after midnight."""
    between_s: float
    """From the end of a piece to the start of the next: taking it off, cleaning, loading."""
    pause_s: float
    """How long the machine waits at each pause of a piece."""
    light_first: tuple[str, ...] = ()
    """Colours in the order in which they are printed, if the fewest changes leave that open."""
    fresh: bool = False
    """Pieces share a cartridge only if all are printed while its clay keeps (cartridge: keeps_min)."""
