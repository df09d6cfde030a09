"""A place in the source, as every stage names it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, order=True)
class Spot:
    """A place in the source: before `line` (0-based), or inside the move on it.

    `fraction` 0 is before the line; 0 < fraction < 1 splits the straight move on that line there,
    by path length. What can't be split is not, and an arc only where a stopped print goes on: see
    `Survey.stands_at`.
    """

    line: int
    fraction: float = 0.0


START = Spot(0)
"""The start of the file."""
