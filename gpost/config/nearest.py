"""Which known word a person may have meant."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

_MOST_OFFERED = 3
_LONGEST_WORD = 60
_ALIKE = 0.6


def nearest(word: str, known: Iterable[str]) -> list[str]:
    """Up to three known words near this one, the nearest first.

    A word that only lacks its unit (`volume` for `volume_ml`) comes first, then words that are spelt
    alike, then keys that hold the word as one of their parts (`feed` for `travel_feed_mm_min`).
    """
    word = word.lower().replace("-", "_").replace(" ", "_")
    if not word or len(word) > _LONGEST_WORD:
        return []
    known = sorted(known)
    unitless = [key for key in known if key.startswith(f"{word}_")]
    if len(unitless) == 1:
        return unitless
    alike = difflib.get_close_matches(word, known, n=1, cutoff=_ALIKE)
    parts = [key for key in known if word in key.split("_")]
    return (unitless or alike or parts)[:_MOST_OFFERED]


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """`did you mean volume_ml?`, or nothing if no known word is near."""
    offered = nearest(word, known)
    return f"did you mean {' or '.join(offered)}?" if offered else ""
