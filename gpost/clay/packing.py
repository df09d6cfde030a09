"""Which pieces share a cartridge: bin packing, exact for few items, first-fit decreasing for many.

An item is a tuple of what it takes of each thing that is scarce, such as (ml,) or (ml, minutes), and the
capacity is what one bin has of each. Finding the fewest bins is as hard as trying them all, so:

* up to EXACT_ITEMS items: branch and bound, bin by bin (after R. Korf's bin completion, AAAI 2002; from
  memory). The largest item left gets a bin; every way to fill that bin up is tried, fullest first, and
  left as soon as more room has been wasted than the number of bins allows.
* beyond: first-fit decreasing. For items of one thing it takes at most (11 OPT + 6) / 9 bins, and no
  better bound is possible: G. Dosa, ESCAPE 2007, LNCS 4614. For several things there is no such bound.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from operator import itemgetter
from typing import TypeAlias

Item: TypeAlias = tuple[float, ...]
Bins: TypeAlias = list[list[int]]
"""Indices of the items of each bin."""

EXACT_ITEMS = 21
"""Twenty pieces, and the clay that fills the line."""
SAME = 1e-9
"""Share of the capacity by which rounding may exceed it."""


def pack(items: Sequence[Item], capacity: Item) -> Bins:
    """Bins for all items: the fewest for up to EXACT_ITEMS items, else as first-fit decreasing finds.

    Raises ValueError for an item that is larger than a bin, or below 0.
    """
    found = first_fit_decreasing(items, capacity)
    if len(items) > EXACT_ITEMS:
        return found
    for bins in range(least_bins(items, capacity), len(found)):
        better = _Search(items, capacity).within(bins)
        if better is not None:
            return better
    return found


def least_bins(items: Sequence[Item], capacity: Item) -> int:
    """A number of bins that can't be gone below: all there is over what one bin has."""
    needs = [sum(item[k] for item in items) / capacity[k] for k in range(len(capacity))]
    return max((math.ceil(need - len(items) * SAME) for need in needs), default=0)


def first_fit_decreasing(items: Sequence[Item], capacity: Item) -> Bins:
    """Each item, the largest first, into the first bin with room for it. Raises ValueError as `pack` does."""
    _check(items, capacity)
    bins: Bins = []
    rooms: list[Item] = []
    for index in by_size(items, capacity):
        item = items[index]
        for number, room in enumerate(rooms):
            if _fits(item, room, capacity):
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


class _Search:
    """Looks for a packing in a given number of bins; items are bits of a mask, the largest the lowest."""

    def __init__(self, items: Sequence[Item], capacity: Item) -> None:
        self._order = by_size(items, capacity)
        self._items = [items[index] for index in self._order]
        self._capacity = capacity
        self._dead: dict[int, int] = {}
        """Items left -> most bins that were found not to hold them."""

    def within(self, bins: int) -> Bins | None:
        """The packing, or None if there is none."""
        found = self._rest((1 << len(self._items)) - 1, bins)
        return None if found is None else [[self._order[i] for i in members] for members in found]

    def _rest(self, left: int, bins: int) -> Bins | None:
        if not left:
            return []
        if bins <= self._dead.get(left, 0) or least_bins(self._members(left), self._capacity) > bins:
            return None
        for chosen in self._fillings(left):
            rest = self._rest(left & ~sum(1 << i for i in chosen), bins - 1)
            if rest is not None:
                return [chosen, *rest]
        self._dead[left] = bins
        return None

    def _members(self, mask: int) -> list[Item]:
        return [item for i, item in enumerate(self._items) if mask >> i & 1]

    def _fillings(self, left: int) -> list[list[int]]:
        """Every way to fill a bin round the largest item so that no other goes in, the fullest first."""
        numbers = [i for i in range(len(self._items)) if left >> i & 1]
        room = _less(self._capacity, self._items[numbers[0]])
        found = [
            (_share(room_left, self._capacity), chosen)
            for chosen, room_left in self._grown(numbers[1:], room)
        ]
        return [[numbers[0], *chosen] for _, chosen in sorted(found, key=itemgetter(0))]

    def _grown(self, numbers: list[int], room: Item) -> Iterator[tuple[list[int], Item]]:
        """(chosen, room left) for every choice among `numbers` that leaves none of them fitting."""
        fitting = [i for i in numbers if _fits(self._items[i], room, self._capacity)]
        if not fitting:
            yield [], room
            return
        first, others = fitting[0], fitting[1:]
        item = self._items[first]
        for chosen, left in self._grown(others, _less(room, item)):
            yield [first, *chosen], left
        # without it, and then without its equals: they would only give the same again
        unequal = [i for i in others if self._items[i] != item]
        for chosen, left in self._grown(unequal, room):
            if not _fits(item, left, self._capacity):
                yield chosen, left


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


def _share(room: Item, capacity: Item) -> float:
    """How much of a bin stays empty, as a share of it."""
    return sum(free / whole for free, whole in zip(room, capacity, strict=True))
