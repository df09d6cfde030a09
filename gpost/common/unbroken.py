"""Numbers that stay with their units, and commands that stay whole, wherever a text is broken into lines."""

from __future__ import annotations

import re

NO_BREAK = "\N{NO-BREAK SPACE}"
UNITS = "mm|ml|l|g|kg|min|s|h|%|°C|MB|Pa|kPa"
"""Those that stay with their numbers."""
_AMOUNT = re.compile(rf"(\d[\u200f\u2069]*) (?=(?:{UNITS})(?!\w))")
"""Between them marks of the direction of writing may stand."""
_COMMAND = re.compile(r"(?<!\w)[GMT]\d+(?:\.\d+)?(?: [A-Z](?:-?\d+(?:\.\d+)?|<\w+>))+(?!\w|\.\d)")


def unbroken(text: str) -> str:
    """The text with a no-break space between a number and its unit (`44 %`, `3 mm/min`), and in commands.

    A command is a letter and a number with words after it, as `M302 P1` or `G92 E<value>`. Nothing else is
    changed, and no letter comes or goes.
    """
    found = _AMOUNT.sub(rf"\1{NO_BREAK}", text)
    return _COMMAND.sub(lambda command: command[0].replace(" ", NO_BREAK), found)
