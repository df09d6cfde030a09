"""How the words of every trial end: the lines for the config, or a JSON document."""

from __future__ import annotations

import json
from collections.abc import Sequence

from gpost import __version__
from gpost.common.layout import Line, Part, laid_out


def with_config(parts: Sequence[Part], config: Sequence[str], width: int | None = None) -> str:
    """The words, and after an empty line the lines for the config, if there are any; as `laid_out` has it."""
    return laid_out([*parts, *(["", *map(_line, config)] if config else [])], width)


def _line(text: str) -> Part:
    """A line of a config, also where it is broken: a comment goes on as one, a value stands further in."""
    margin = " " * (len(text) - len(text.lstrip(" ")))
    return Line(text, margin + ("  # " if " # " in text else "    "))


def json_text(**values: object) -> str:
    """The values as a document, with its version and gpost's."""
    return json.dumps({"version": 1, "gpost_version": __version__, **values}, indent=1) + "\n"
