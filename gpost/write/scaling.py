"""What the edits of feeds, clay and places share: whom lines concern, what holds on them, what sets it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import field
from typing import Generic, Protocol, TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

from gpost.common.among import distinct
from gpost.common.records import record
from gpost.motion import codes
from gpost.motion.follow import Follower

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Which: TypeAlias = Ints | slice
"""Some of many, by their indexes; a slice takes them without copying."""


class LineRange(Protocol):
    """An intention for the lines first_line <= line < end_line."""

    @property
    def first_line(self) -> int: ...
    @property
    def end_line(self) -> int: ...


S = TypeVar("S", bound=LineRange)


class Stretches(Generic[S]):
    """Intentions for lines, of which few concern a block."""

    def __init__(self, entries: Iterable[tuple[int, S]]) -> None:
        """`entries`: (index of the plan entry, intention)."""
        self._entries = list(entries)
        self._first = np.array([own.first_line for _, own in self._entries], np.int64)
        self._end = np.array([own.end_line for _, own in self._entries], np.int64)
        self.edges = distinct(np.concatenate([self._first, self._end]))
        """Lines at which any of them begins, or has ended."""

    def on(self, first_line: int, end_line: int) -> list[tuple[int, S]]:
        """Those that share lines with first_line <= line < end_line."""
        which = np.flatnonzero((self._first < end_line) & (self._end > first_line))
        return [self._entries[place] for place in which.tolist()]


def count_edits(owner: NDArray[np.int32] | Ints, edited: dict[int, int]) -> None:
    """Add to `edited` how often each entry stands in `owner`, where -1 is none."""
    counts = np.bincount(owner[owner >= 0])
    for index in np.flatnonzero(counts).tolist():
        edited[index] = edited.get(index, 0) + int(counts[index])


@record(slots=True)
class Column:
    """A value of the output that holds from one line to the next, such as the feed in force.

    It is that before the block, and each that follows. Lines are 0-based within the block.
    """

    initial: float = 0.0
    line: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    """After which each value holds, ascending; of several on one line the last counts."""
    value: Floats = field(default_factory=lambda: np.zeros(0))

    @staticmethod
    def joined(initial: float, *parts: tuple[Ints, Floats]) -> Column:
        """Several (line, value) lists as one column; on one line a later list comes later."""
        said = [part for part in parts if len(part[0])] or list(parts[:1])
        if len(said) == 1:
            return Column(initial, *said[0])
        line = np.concatenate([part[0] for part in said])
        order = np.argsort(line, kind="stable")
        return Column(initial, line[order], np.concatenate([part[1] for part in said])[order])

    def at(self, line: Ints) -> Floats:
        """The value before each of some lines, once the lines before have run."""
        place = np.searchsorted(self.line, line)
        return np.concatenate([[self.initial], self.value])[place]

    def before(self, line: int) -> float:
        """The value before one line."""
        place = int(np.searchsorted(self.line, line))
        return float(self.value[place - 1]) if place else self.initial

    def is_always(self, value: float) -> bool:
        """Whether it has one value before, through and after the block."""
        return self.initial == value and bool((self.value == value).all())

    @property
    def last(self) -> float:
        """The value after the block."""
        return float(self.value[-1]) if len(self.value) else self.initial


def all_of(flags: NDArray[np.bool_], first: int = 0) -> Which:
    """Those flagged of what begins at `first`: most often all are."""
    return slice(first, first + len(flags)) if flags.all() else np.flatnonzero(flags) + first


def setters(follower: Follower, letter: str) -> tuple[Ints, Ints]:
    """(line within the block, code times ten) of what sets the axis, in order.

    A G92 without axis words sets all of them, a bare G28 homes X, Y and Z; of E only G92 is told.
    """
    special = follower.special
    line = np.array(sorted(special), np.int64)
    code = np.array([special[at] for at in line.tolist()], np.int64)
    if not len(line):
        return line, code
    stands = {axis: follower.block.stands(axis)[line] for axis in "XYZE"}
    place = stands["X"] | stands["Y"] | stands["Z"]
    concerns = (code == codes.SET_REGISTER) & (stands[letter] | ~(place | stands["E"]))
    if letter != "E":
        concerns |= (code == codes.HOME) & (stands[letter] | ~place)
        concerns |= code == codes.CLEAR_OFFSETS
    return line[concerns], code[concerns]
