"""Numbers of a JSON document, to the digits that mean something."""

from __future__ import annotations

from typing import Any

DIGITS, DECIMALS = 10, 12
"""Further ones would be of rounding alone, and tell how a sum was added up."""


def rounded(value: Any) -> Any:
    """The document with its numbers to DIGITS, and to DECIMALS; never -0.0."""
    match value:
        case float():
            return float(f"{round(value, DECIMALS):.{DIGITS}g}") + 0.0
        case dict():
            return {key: rounded(item) for key, item in value.items()}
        case list() | tuple():
            return [rounded(item) for item in value]
    return value
