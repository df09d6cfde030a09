"""Items that come first or last in their bin, and what goes on from one bin to the next.

A piece of several cartridges begins on one, as the last that is taken of it, and ends on another, as the
first that is taken of that: its two ends hang together. A stretch of printing in one colour begins with a
certain item (the hose's filling, or the end of a piece that brought the colour) and may end with a certain
one (the beginning of a piece that takes the colour away).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Ends:
    """Which items are ends, by their indices."""

    goes_on: Mapping[int, int] = field(default_factory=dict)
    """An item that is last in its bin -> the one of the same piece that is first in a later bin."""
    stretch_begins: Mapping[int, int] = field(default_factory=dict)
    """An item that is first in its bin -> the number of the stretch that begins with it."""
    stretch_ends: Mapping[int, int] = field(default_factory=dict)
    """An item that is last in its bin -> the number of the stretch that ends with it."""
    first: frozenset[int] = field(init=False)
    """Items that are first in their bin: no two go into one."""
    last: frozenset[int] = field(init=False)
    """Items that are last in their bin: no two go into one."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "first", frozenset([*self.goes_on.values(), *self.stretch_begins]))
        object.__setattr__(self, "last", frozenset([*self.goes_on, *self.stretch_ends]))

    def has(self, item: int) -> bool:
        """Whether the item is an end."""
        return item in self.first or item in self.last

    def renumbered(self, order: Sequence[int]) -> Ends:
        """The same for items put in this order."""
        place = {item: number for number, item in enumerate(order)}
        return Ends(
            {place[last]: place[first] for last, first in self.goes_on.items()},
            {place[item]: stretch for item, stretch in self.stretch_begins.items()},
            {place[item]: stretch for item, stretch in self.stretch_ends.items()},
        )


NO_ENDS = Ends()


class Links:
    """Bins that hold both a first and a last item, and whether the strands through them can be printed."""

    __slots__ = ("_ends", "_pairs")

    def __init__(self, ends: Ends, pairs: frozenset[tuple[int, int]] = frozenset()) -> None:
        self._ends = ends
        self._pairs = pairs

    @property
    def bins(self) -> int:
        """Bins that hold both a first and a last item."""
        return len(self._pairs)

    @property
    def closed(self) -> bool:
        """Whether each stretch ends with the very strand that begins it: no other bin has a place then."""
        begun = self._ends.stretch_begins
        pairs = dict(self._pairs)
        if len(self._ends.stretch_ends) < len(begun) or not begun:
            return False
        lasts = [self._end(pairs[item], item) if item in pairs else None for item in begun]
        return all(last in self._ends.stretch_ends for last in lasts)

    def matters(self, left: int) -> frozenset[tuple[int, int]]:
        """What of the links can still forbid anything, if the items of the mask `left` are to come.

        (begin, end) of the strands that can grow at one end at least, or that close a stretch; where all
        stretches may end up closed, the number of links too.
        """
        ends, before = self._ends, {after: last for last, after in self._ends.goes_on.items()}
        found = set()
        for first, last in self._pairs:
            begin, end = self._begin(first), self._end(last, first)
            if end is None:
                continue
            grows = end in ends.stretch_ends or bool(left >> ends.goes_on[end] & 1)
            earlier = begin in ends.stretch_begins or bool(left >> before[begin] & 1)
            if grows and earlier:
                found.add((begin, end))
        if len(ends.stretch_ends) == len(ends.stretch_begins) > 0:
            found.add((-1, len(self._pairs)))
        return frozenset(found)

    def joined(self, members: Sequence[int]) -> Links | None:
        """With one more bin, or one bin of more members; None if that can't be printed in any order."""
        firsts = [item for item in members if item in self._ends.first]
        lasts = [item for item in members if item in self._ends.last]
        if len(firsts) > 1 or len(lasts) > 1:
            return None
        if not firsts or not lasts or (firsts[0], lasts[0]) in self._pairs:
            return self
        begin, end = self._begin(firsts[0]), self._end(lasts[0], firsts[0])
        if end is None:
            return None
        stretch = self._ends.stretch_begins.get(begin), self._ends.stretch_ends.get(end)
        if None not in stretch and stretch[0] != stretch[1]:
            return None
        return Links(self._ends, self._pairs | {(firsts[0], lasts[0])})

    def _begin(self, first: int) -> int:
        """The item with which the strand begins that comes to `first`."""
        before = {after: last for last, after in self._ends.goes_on.items()}
        pairs = {last: begin for begin, last in self._pairs}
        while first in before and before[first] in pairs:
            first = pairs[before[first]]
        return first

    def _end(self, last: int, start: int) -> int | None:
        """The item with which the strand ends that goes on from `last`; None if it comes round to `start`."""
        pairs = dict(self._pairs)
        while last in self._ends.goes_on:
            following = self._ends.goes_on[last]
            if following == start:
                return None
            if following not in pairs:
                return last
            last = pairs[following]
        return last
