"""What a line is not broken in: a number and its unit, a command and its words."""

from __future__ import annotations

import re

NO_BREAK = "\u00a0"
"""A blank at which no line ends (UAX #14, class GL)."""
UNITS = (
    "ml|mm|mm²|mm³|cm|m|l|g|kg|s|min|h|%|°|°C|percent|Pa|kPa|bar|N|W|V|Hz|kB|MB|GB|KiB|MiB|GiB|times?|"
    "seconds?|minutes?|hours?|days?"
)
"""Those that stay with their numbers, as a regular expression."""
_NUMBER = re.compile(rf"(\d[\u200f\u2069]*\*?) (?=(?:{UNITS})(?!\w))")
"""The blank between them; a star at the number marks one of gpost's own, and marks may say a direction."""
_COUNT = re.compile(r"(?<=\w) x (?=\d)")
"""How often, as `G28 x 2`, or a size."""
_AXIS = re.compile(r"(?<!\w)([xyz]) (?=-?\d)")
"""An axis and its number, as `x 150`."""
_VALUE = r"(?:[A-Z]?(?:<[^<>]+>)|[A-Z][-+]?\.?\d[\d.]*|[XYZE](?!\w))"
_COMMAND = re.compile(rf"\b[GMT]\d+(?:\.\d+)?(?: {_VALUE})+")


def unbroken(text: str) -> str:
    """The text with no-break spaces inside what stays on one line; letter for letter as long."""
    held = _COMMAND.sub(lambda found: found[0].replace(" ", NO_BREAK), text)
    held = _AXIS.sub(rf"\1{NO_BREAK}", _COUNT.sub(f"{NO_BREAK}x{NO_BREAK}", held))
    return _NUMBER.sub(rf"\1{NO_BREAK}", held)
