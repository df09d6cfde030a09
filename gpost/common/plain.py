"""Text from outside (file names, configs, files) made safe to show on a terminal."""

from __future__ import annotations

import re

_WRITTEN_OUT = re.compile(r"\\udc[89a-f][0-9a-f]")
"""A byte of a name that is no text (PEP 383), as `storable` writes it."""


def shown(text: object, *, keep_newlines: bool = False) -> str:
    r"""The text with everything that is not printable written out, so ESC becomes `\x1b`.

    That covers control characters, characters that turn the direction of writing, and bytes of a file
    name that are no text. `keep_newlines` leaves line ends alone, for messages of several lines.
    """
    return "".join(
        c if c.isprintable() or (keep_newlines and c == "\n") else c.encode("unicode_escape").decode()
        for c in str(text)
    )


def storable(text: object) -> str:
    """The text with bytes that are no text written out, so that it can be stored as UTF-8."""
    return str(text).encode("utf-8", "backslashreplace").decode("utf-8")


def restored(text: str) -> str:
    r"""The text of which `storable` has made another; a `\udc80` that stood in it is taken for a byte."""
    return _WRITTEN_OUT.sub(lambda found: chr(int(found[0][2:], 16)), text)
