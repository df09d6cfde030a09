"""How long something takes, in words."""

from __future__ import annotations

SAID_IN_MIN_S = 120.0
"""From there on minutes tell more than seconds."""


def lasting(seconds: float) -> str:
    """Some seconds, or from two minutes on some minutes."""
    if seconds < SAID_IN_MIN_S:
        return f"{seconds:.3g} s"
    minutes = seconds / 60
    return f"{minutes:.3g} min" if minutes < 100 else f"{minutes:.0f} min"
