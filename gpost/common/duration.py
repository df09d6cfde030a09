"""How long something takes, in words."""

from __future__ import annotations

SAID_IN_MIN_S = 120.0
"""From there on minutes tell more than seconds."""


def lasting(seconds: float) -> str:
    """Some seconds, or from two minutes on some minutes."""
    return f"{seconds:.3g} s" if seconds < SAID_IN_MIN_S else f"{seconds / 60:.3g} min"
