"""What a survey is asked of single lines and spots, which its tables don't say: one protocol."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple, Protocol, TypeAlias

import numpy as np
from numpy.typing import NDArray

from gpost.common.frozen import locked
from gpost.spot import START, Spot
from gpost.survey.stands import Stand

Floats = NDArray[np.float64]

MORE_LINES = 30
"""Times as many lines are looked at where nothing is found on the first ones: most often it is there."""


class Pushes(NamedTuple):
    """Moves that push clay, or draw it back, in one place; four arrays of shape (k,)."""

    line: NDArray[np.int64]
    """0-based source line."""
    clay_ml: Floats
    """Clay pushed; below 0 where it is drawn back."""
    time_s: Floats
    """At full feed; 0 where the file has said none."""
    alone: NDArray[np.bool_]
    """Whether the line does nothing else, so that it can be silenced: see SilencePush."""

    def some(self, which: NDArray[np.bool_]) -> Pushes:
        """Those of them."""
        return Pushes(
            locked(self.line[which]),
            locked(self.clay_ml[which]),
            locked(self.time_s[which]),
            locked(self.alone[which]),
        )


NO_PUSHES = Pushes(
    locked(np.zeros(0, np.int64)), locked(np.zeros(0)), locked(np.zeros(0)), locked(np.zeros(0, np.bool_))
)


Place: TypeAlias = tuple[float, float, float]
"""x, y, z in machine mm."""


class Lookup(Protocol):
    """Answers for lines and spots of a surveyed file. Arrays are read-only.

    `gpost/survey/lookup.py` reads the file again for them, so that each may raise SourceError if it has
    changed; `gpost/testing/pot.py` has those of a pot without a file.
    """

    def find_clay(self, clay_ml: float, since: Spot = START, until: Spot | None = None) -> Spot:
        """The first spot from `since` on where net clay reaches clay_ml; `until` if it doesn't before that.

        It is exact, inside a move. `until` is the end of the file if it is left out.
        """

    def clay_before(self, spot: Spot) -> float:
        """Net clay in ml metered before the spot."""

    def most_clay(self, start: Spot, end: Spot) -> float:
        """The highest net clay in ml at any spot from `start` to `end`, both counted."""

    def stands_at(self, spot: Spot, *, arcs: bool = False) -> Spot:
        """Where something inserted at the spot stands: before the line, if its move can't be split.

        An arc is split only for what goes on with a stopped print, which asks with `arcs`.
        """

    def laid_at(self, spot: Spot) -> Place | None:
        """Where clay is laid at the spot, or next after it; None if none is."""

    def rises_to(self, first_line: int, end_line: int, height_mm: float) -> Spot | None:
        """The first spot on these lines at which clay is laid at that height or above; None without one."""

    def laid_points(self, first_line: int, end_line: int) -> Floats:
        """Points that the clay laid on these lines leads through: x and y, machine mm, shape (2, k)."""

    def laid_path(self, first_line: int, end_line: int) -> tuple[NDArray[np.int64], Floats]:
        """(lines among these that lay clay, the path laid on each in mm), both of shape (k,)."""

    def laid_way(self, spot: Spot, length_mm: float) -> tuple[NDArray[np.int64], Floats]:
        """The laid path that leads to a spot, that long or as far as it hangs together, from its start.

        (line that lays to or from each place, its x, y, z in machine mm), of shapes (k,) and (3, k); none
        where the nozzle was moved aside since.
        """

    def pushes(self, first_line: int, end_line: int) -> Pushes:
        """What pushes clay in place on these lines, or draws it back."""

    def stands(self, lines: Sequence[int]) -> tuple[Stand, ...]:
        """Where the nozzle stands on these lines, which rise, if it is off the bead there."""

    def time_share(self, first_line: int, end_line: int, spot: Spot) -> float:
        """The part of the time of the moves on these lines that has passed at a spot among them, 0 to 1."""

    def lifted_from(self, line: int, height_mm: float) -> int:
        """The line, from this one on, before which the nozzle has gone above a height, or homed.

        The end of the file if it never does.
        """


def first_bead(layers: NDArray[np.void], lines: int, lookup: Lookup) -> int:
    """The line that lays the first clay of layer 1, which itself begins where the file's own prime ends."""
    if not len(layers):
        return lines
    first, end = (*layers["first_line"][:2].tolist(), lines)[:2]
    upto = first
    while upto < end:
        upto = min(first + MORE_LINES * (upto + 1 - first), end)
        laid, _ = lookup.laid_path(first, upto)
        if len(laid):
            return int(laid[0])
    return int(first)
