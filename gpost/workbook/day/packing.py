"""Which pieces share a cartridge: bin packing, by branch and bound after first-fit decreasing.

An item is a tuple of what it takes of each thing that is scarce, such as (ml,) or (ml, minutes), and the
capacity is what one bin has of each. Some items are ends of strands (`Ends`): one comes first or last in its
bin, and what goes on from bin to bin must never come round in a circle.

* `first_fit_decreasing` comes first. For items of one thing without strands it takes at most
  (11 OPT + 6) / 9 bins, and no better bound is possible: G. Dosa, ESCAPE 2007, LNCS 4614. For several
  things, or with strands, there is no such bound.
* `least_bins` says below what it can't go: bound L2 of S. Martello and P. Toth, Discrete Applied Mathematics
  28, 1990 (from memory), for each thing by itself.
* What lies between is searched bin by bin (after R. Korf's bin completion, AAAI 2002; from memory). The
  largest item left gets a bin; the ways to fill it up are tried, the fullest first, without those that waste
  more than the number of bins allows, and those in which a larger item could take a smaller one's place. The
  search gives up after MOST_NODES, and then says that fewer might do.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from operator import itemgetter
from typing import TypeAlias

from gpost.workbook.day.strands import NO_ENDS, Ends, Links

Item: TypeAlias = tuple[float, ...]
Bins: TypeAlias = list[list[int]]
"""Indices of the items of each bin."""

MOST_NODES = 50_000
"""Choices looked at before the search gives up."""
SAME = 1e-9
"""Share of the capacity by which rounding may exceed it."""


@dataclass(frozen=True, slots=True)
class Packing:
    """Bins for all items."""

    bins: Bins
    least: int
    """No packing has fewer bins than this."""
    nodes: int = 0
    """Choices looked at to find it."""


def pack(
    items: Sequence[Item], capacity: Item, ends: Ends = NO_ENDS, *, most_nodes: int = MOST_NODES
) -> Packing:
    """The fewest bins for all items; if the search gives up, the fewest that were found.

    Raises ValueError for an item that is larger than a bin, or below 0.
    """
    found = first_fit_decreasing(items, capacity, ends)
    least = max(least_bins(items, capacity), len(ends.first), len(ends.last))
    proved, nodes = True, 0
    for bins in range(least, len(found)):
        # one that is looked for in vain may leave something for the next
        search = _Search(items, capacity, ends, (most_nodes - nodes) // 2)
        try:
            better = search.within(bins)
        except _SpentError:
            proved, better = False, None
        nodes += (most_nodes - nodes) // 2 - search.nodes_left
        if better is not None:
            found = better
            break
        least = bins + 1 if proved else least
    return Packing(found, least, nodes)


def least_bins(items: Sequence[Item], capacity: Item) -> int:
    """A number of bins that can't be gone below: the bound L2, of the thing that is scarcest."""
    return max(
        (
            _least([item[k] for item in items], whole, len(items) * SAME * whole)
            for k, whole in enumerate(capacity)
        ),
        default=0,
    )


def _least(sizes: Sequence[float], whole: float, slack: float) -> int:
    """L2: items above half need a bin each; from `small` on, what doesn't go in beside them needs more.

    For every size `small` up to half a bin, items larger than `whole - small` have no room beside them.
    """
    large = [size for size in sizes if size > whole / 2 + slack]
    medium = sorted((size for size in sizes if size <= whole / 2 + slack), reverse=True)
    best, medium_sum = len(large), 0.0
    for small in medium:
        medium_sum += small
        beside = sum(whole - size for size in large if size <= whole - small + slack)
        best = max(best, len(large) + math.ceil((medium_sum - beside - slack) / whole))
    return best


def first_fit_decreasing(items: Sequence[Item], capacity: Item, ends: Ends = NO_ENDS) -> Bins:
    """Each item, the largest first, into the first bin with room for it. Raises ValueError as `pack` does."""
    _check(items, capacity)
    bins: Bins = []
    rooms: list[Item] = []
    links = Links(ends)
    for index in by_size(items, capacity):
        item = items[index]
        for number, room in enumerate(rooms):
            joined = links.joined([*bins[number], index]) if _fits(item, room, capacity) else None
            if joined is not None and not joined.closed:
                links = joined
                bins[number].append(index)
                rooms[number] = _less(room, item)
                break
        else:
            bins.append([index])
            rooms.append(_less(capacity, item))
    return bins


def by_size(items: Sequence[Item], capacity: Item) -> list[int]:
    """Indices of the items, the largest first; an item is as large as the largest share it takes."""
    sizes = [
        max((part / whole for part, whole in zip(item, capacity, strict=True)), default=0) for item in items
    ]
    return sorted(
        range(len(items)), key=lambda index: (-sizes[index], [-part for part in items[index]], index)
    )


class _SpentError(Exception):
    """The search has looked at as many choices as it may."""


class _Search:
    """Looks for a packing in a given number of bins; items are bits of a mask, the largest the lowest."""

    def __init__(self, items: Sequence[Item], capacity: Item, ends: Ends, most_nodes: int) -> None:
        self._order = by_size(items, capacity)
        self._items = [items[index] for index in self._order]
        self._capacity = capacity
        self._ends = ends.renumbered(self._order)
        self._plain = [not self._ends.has(i) for i in range(len(items))]
        self.nodes_left = most_nodes
        self._bins = 0
        self._dead: dict[tuple[int, frozenset[tuple[int, int]]], int] = {}
        """Items left, and how bins are linked -> most bins that were found not to hold them."""

    def within(self, bins: int) -> Bins | None:
        """The packing, or None if there is none. Raises _SpentError when it gives up."""
        self._bins = bins
        found = self._rest((1 << len(self._items)) - 1, bins, Links(self._ends))
        return None if found is None else [[self._order[i] for i in members] for members in found]

    def _rest(self, left: int, bins: int, links: Links) -> Bins | None:
        if not left:
            return []
        key = left, links.matters(left)
        if bins <= self._dead.get(key, 0):
            return None
        numbers = [i for i in range(len(self._items)) if left >> i & 1]
        items = [self._items[i] for i in numbers]
        self._look(len(items) // 4)
        if least_bins(items, self._capacity) <= bins:
            waste = tuple(
                bins * whole - sum(item[k] for item in items) + SAME * whole * len(items)
                for k, whole in enumerate(self._capacity)
            )
            for chosen, linked in self._fillings(numbers, waste, links):
                self._look()
                after = left & ~sum(1 << i for i in chosen)
                if linked.closed and (after or linked.bins <= self._bins - bins):
                    continue
                rest = self._rest(after, bins - 1, linked)
                if rest is not None:
                    return [chosen, *rest]
        self._dead[key] = bins
        return None

    def _fillings(self, numbers: list[int], waste: Item, links: Links) -> list[tuple[list[int], Links]]:
        """Every way to fill a bin round the largest item that may be needed, the fullest first."""
        seed, others = numbers[0], numbers[1:]
        plain = [i for i in others if self._plain[i]]
        found = []
        for marked in self._marked(seed, others):
            self._look()
            room, linked = self._room(marked), links.joined(marked)
            if room is None or linked is None:
                continue
            for chosen, room_left in self._grown(plain, room, waste):
                if not self._outdone(plain, chosen, room_left):
                    share = sum(free / whole for free, whole in zip(room_left, self._capacity, strict=True))
                    found.append((share, [*marked, *chosen], linked))
        return [(chosen, linked) for _, chosen, linked in sorted(found, key=itemgetter(0, 1))]

    def _look(self, choices: int = 1) -> None:
        self.nodes_left -= choices
        if self.nodes_left < 0:
            raise _SpentError

    def _marked(self, seed: int, others: list[int]) -> Iterator[list[int]]:
        """The largest item, with none or one that comes first in its bin, and none or one that comes last."""
        firsts = [i for i in others if i in self._ends.first] if seed not in self._ends.first else []
        lasts = [i for i in others if i in self._ends.last] if seed not in self._ends.last else []
        for first in [[], *([i] for i in firsts)]:
            for last in [[], *([i] for i in lasts)]:
                yield [seed, *first, *last]

    def _room(self, members: list[int]) -> Item | None:
        """Room left beside them; None if they don't go into one bin."""
        room = self._capacity
        for i in members:
            if not _fits(self._items[i], room, self._capacity):
                return None
            room = _less(room, self._items[i])
        return room

    def _grown(self, numbers: list[int], room: Item, waste: Item) -> Iterator[tuple[list[int], Item]]:
        """(chosen, room left) for every choice that leaves none fitting, and wastes no more than it may."""
        self._look()
        fitting = [i for i in numbers if _fits(self._items[i], room, self._capacity)]
        for k, free in enumerate(room):
            if free - sum(self._items[i][k] for i in fitting) > waste[k]:
                return
        if not fitting:
            yield [], room
            return
        first, others = fitting[0], fitting[1:]
        item = self._items[first]
        for chosen, left in self._grown(others, _less(room, item), waste):
            yield [first, *chosen], left
        # without it, and then without its equals: they would only give the same again
        unequal = [i for i in others if self._items[i] != item]
        for chosen, left in self._grown(unequal, room, waste):
            if not _fits(item, left, self._capacity):
                yield chosen, left

    def _outdone(self, numbers: list[int], chosen: list[int], room: Item) -> bool:
        """Whether a larger item left out could take a chosen one's place: that way is tried as well.

        The two may change places in any packing, so the way with the larger one does no worse.
        """
        out = set(numbers).difference(chosen)
        for i in chosen:
            small = self._items[i]
            free = tuple(a + b for a, b in zip(room, small, strict=True))
            for j in out:
                large = self._items[j]
                between = all(b <= a <= c for a, b, c in zip(large, small, free, strict=True))
                if large != small and between:
                    return True
        return False


def _check(items: Sequence[Item], capacity: Item) -> None:
    if not all(part > 0 for part in capacity):
        raise ValueError("a bin must have room for something")
    for item in items:
        if not all(part >= 0 for part in item) or not _fits(item, capacity, capacity):
            raise ValueError(f"an item of {item} can't go into a bin of {capacity}")


def _fits(item: Item, room: Item, capacity: Item) -> bool:
    return all(part <= free + SAME * whole for part, free, whole in zip(item, room, capacity, strict=True))


def _less(room: Item, item: Item) -> Item:
    return tuple(free - part for free, part in zip(room, item, strict=True))
