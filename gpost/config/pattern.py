"""A pattern of the config's: a regular expression that no text and no pattern can make slow.

It is matched by RE2, whose time grows with the text alone, whatever the pattern; so it knows no back
references and does not look ahead (https://github.com/google/re2/wiki/Syntax). It is an extra,
`gpost[pattern]`, since not every system has it; without it a config that has a pattern is refused. Nothing
else matches in its place: Python's own `re` may take for ever.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Any

MISSING = (
    "a pattern takes the library google-re2, which is not installed; install it as gpost was, with the extra "
    "gpost[pattern], or leave the key out: then layers come from motion"
)


def line_pattern(text: str) -> str:
    """The text, if it is a pattern for lines. Raises ValueError with the reason if it can't be used."""
    try:
        import re2  # few configs have a pattern, and all others would wait for it
    except ImportError as error:
        raise ValueError(MISSING) from error

    try:
        found = _compiled(text)
    except re2.error as error:
        said = error.args[0] if error.args else ""
        reason = said.decode("utf-8", "replace") if isinstance(said, bytes) else said
        raise ValueError(f"this is no pattern that gpost can use ({reason}); fix it") from error
    if found.search(""):
        raise ValueError("the pattern fits every line; let it name what only a layer's comment holds")
    return text


def matching_lines(text: str, data: bytes) -> Iterator[int]:
    """Where in `data` the pattern begins to fit, once a line at most."""
    return (found.start() for found in _to_line_end(text).finditer(data))


@lru_cache(maxsize=1)
def _to_line_end(text: str) -> Any:
    """The pattern and the rest of its line, with `^` and `$` at the ends of every line."""
    return _compiled(b"(?m:(?:" + text.encode() + b")).*")


def _compiled(pattern: str | bytes) -> Any:
    import re2

    options = re2.Options()
    options.log_errors = False
    options.never_nl = True
    return re2.compile(pattern, options)
