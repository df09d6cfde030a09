"""Parts of English sentences."""

from __future__ import annotations

from collections.abc import Sequence


def all_of(words: Sequence[str]) -> str:
    """One or more of them: `a`, `a and b`, `a, b and c`."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
