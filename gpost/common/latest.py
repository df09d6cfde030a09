"""The last few answers, so that a question that comes again at once costs nothing."""

from __future__ import annotations

from collections.abc import Hashable
from typing import TypeVar

Key = TypeVar("Key", bound=Hashable)
Value = TypeVar("Value")


def keep(kept: dict[Key, Value], key: Key, found: Value, most: int) -> Value:
    """Keep what was found as the last of so many; returns it."""
    kept.pop(key, None)
    kept[key] = found
    if len(kept) > most:
        del kept[next(iter(kept))]
    return found
