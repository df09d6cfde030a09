"""How the words of reports are set: lines of a terminal's width, clocks, amounts, marks."""

from __future__ import annotations

import math
import textwrap

WIDTH = 80


def clock(seconds: float) -> str:
    """Hours and minutes, `h:mm`, to the nearest minute."""
    minutes = round(seconds / 60)
    return f"{minutes // 60}:{minutes % 60:02d}"


def at_least(amount: float) -> int:
    """An amount that must not be less, rounded up."""
    return math.ceil(amount - 1e-6)


def wrapped(text: str, *, first: str = "", indent: str = "") -> list[str]:
    """A text in lines of the terminal's width: what stands before the first one, and before the others."""
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=indent, break_on_hyphens=False)


def indented(text: str) -> list[str]:
    """The same, with all lines but the first a little in."""
    return wrapped(text, indent="  ")
