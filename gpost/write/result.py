"""What the second pass reports when the output is complete."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from gpost.write.sent import SentCommand


@dataclass(frozen=True, slots=True)
class Written:
    """The finished output, and where in it each intention of the plan ended up.

    Keys of both mappings are indexes into `plan.entries`.
    """

    size_bytes: int
    lines: int
    places: Mapping[int, tuple[int, int]] = field(default_factory=dict)
    """First and last output line, counted from 1, of the block inserted for that entry."""
    own_pauses: Mapping[int, int] = field(default_factory=dict)
    """Source line, from 0, of each of the file's own pauses to its output line, counted from 1."""
    edited: Mapping[int, int] = field(default_factory=dict)
    """Number of source lines that were edited or silenced for that entry."""
    sent: tuple[SentCommand, ...] = ()
    """Every command that was inserted and is no move."""
