"""How the words of every trial end: the lines for the config, or a JSON document."""

from __future__ import annotations

import json
from collections.abc import Sequence

from gpost import __version__


def with_config(lines: Sequence[str], config: Sequence[str]) -> str:
    """The words, and after an empty line the lines for the config, if there are any."""
    return "\n".join([*lines, *(["", *config] if config else []), ""])


def json_text(**values: object) -> str:
    """The values as a document, with its version and gpost's."""
    return json.dumps({"version": 1, "gpost_version": __version__, **values}, indent=1) + "\n"


def times(number: int, word: str) -> str:
    """`1 bar`, `3 bars`."""
    return f"{number} {word}{'s' * (number != 1)}"
