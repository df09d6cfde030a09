"""Packing: published instances, the bound of first-fit decreasing, and brute force on small cases."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gpost.workbook.day.packing import Item, first_fit_decreasing, least_bins, pack
from gpost.workbook.day.strands import Ends

DOSA = "FFD <= 11/9 OPT + 6/9 (G. Dosa, ESCAPE 2007, LNCS 4614)"


def one(sizes: Sequence[float]) -> list[Item]:
    """Items of one thing."""
    return [(size,) for size in sizes]


def check(bins: list[list[int]], items: Sequence[Item], capacity: Item) -> None:
    """Every item is in one bin, and no bin holds more than it can."""
    assert sorted(index for members in bins for index in members) == list(range(len(items)))
    for members in bins:
        for k, whole in enumerate(capacity):
            assert sum(items[index][k] for index in members) <= whole * (1 + 1e-6)


def fewest(items: Sequence[Item], capacity: Item) -> int:
    """The least number of bins, by trying every bin for every item in turn."""

    @cache
    def rest(index: int, rooms: tuple[Item, ...]) -> int:
        if index == len(items):
            return len(rooms)
        best = len(items)
        for number, room in enumerate((*rooms, capacity)):
            left = tuple(free - part for free, part in zip(room, items[index], strict=True))
            if min(left) >= 0:
                grown = [*rooms[:number], left, *rooms[number + 1 :]]
                best = min(best, rest(index + 1, tuple(sorted(grown))))
        return best

    return rest(0, ())


@pytest.mark.parametrize(
    ("capacity", "sizes", "optimum", "ffd"),
    [
        (10, [6, 6, 5, 5, 4, 4], 3, 3),
        (10, [7, 6, 5, 4, 4, 2, 2], 4, 4),
        (60, [44, 24, 24, 22, 21, 17, 8, 8, 6, 6], 3, 3),
        (7, [3, 3, 2, 2, 2, 2], 2, 3),
        (10, [6, 5, 3, 2, 2, 2], 2, 3),
        (100, [51] * 4 + [27] * 4 + [26] * 4 + [23] * 8, 6, 8),
        (10, [5, 7, 5, 2, 4, 2, 5, 1, 6], 4, 4),
        (1000, [420, 380, 350, 300, 250, 220, 180, 150, 120, 80], 3, 3),
        (100, [46, 44, 40, 40, 35, 35, 30, 30], 4, 4),
    ],
)
def test_instances(capacity: float, sizes: list[float], optimum: int, ffd: int) -> None:
    """Known optima (computed by exhaustive search), and what first-fit decreasing makes of them.

    The instance of 51, 27, 26 and 23 is of Johnson's kind (from memory) and meets Dosa's bound exactly.
    """
    exact, simple = pack(one(sizes), (capacity,)).bins, first_fit_decreasing(one(sizes), (capacity,))
    check(exact, one(sizes), (capacity,))
    check(simple, one(sizes), (capacity,))
    assert (len(exact), len(simple)) == (optimum, ffd)
    assert len(simple) <= (11 * optimum + 6) // 9, DOSA


def test_a_search_given_up_leaves_first_fit_decreasing() -> None:
    """When the search may not look at anything the bound is met: 30 items whose optimum is 9 take 11 bins.

    Johnson's kind of instance (from memory, verified: each of the nine bins is full).
    """
    sizes = [51.0] * 6 + [27.0] * 6 + [26.0] * 6 + [23.0] * 12
    found = pack(one(sizes), (100,), most_nodes=0)
    check(found.bins, one(sizes), (100,))
    assert found.least == least_bins(one(sizes), (100,)) == 9
    assert len(found.bins) == 11 == (11 * 9 + 6) // 9, DOSA
    assert len(pack(one(sizes), (100,)).bins) == 9


def test_first_fit_decreasing_by_hand() -> None:
    """44+8+8, 24+24+6+6, 22+21+17 (done by hand)."""
    sizes = [44.0, 24, 24, 22, 21, 17, 8, 8, 6, 6]
    bins = first_fit_decreasing(one(sizes), (60,))
    assert [[sizes[i] for i in members] for members in bins] == [[44, 8, 8], [24, 24, 6, 6], [22, 21, 17]]


def test_one_large_vase_and_two_small_ones_but_never_two_large() -> None:
    """L + 2 S <= C < 2 L: a cartridge does a large vase and two small ones, and never two large ones.

    Common practice, no source.
    """
    large, small, usable = 560.0, 190.0, 950.0
    assert large + 2 * small <= usable < 2 * large
    assert len(pack(one([large, small, small]), (usable,)).bins) == 1
    bins = pack(one([large, large, small, small, small, small]), (usable,)).bins
    assert [sorted(index // 2 for index in members) for members in bins] == [[0, 1, 1], [0, 2, 2]]
    assert len(pack(one([large, large]), (usable,)).bins) == 2


SIZES = st.lists(st.integers(1, 20), max_size=8)


@given(SIZES, st.integers(20, 40))
def test_exact_against_brute_force(sizes: list[int], capacity: int) -> None:
    """Up to eight items: as few bins as trying everything finds; first-fit decreasing within its bound."""
    items, room = one(sizes), (float(capacity),)
    exact = pack(items, room).bins
    check(exact, items, room)
    assert len(exact) == fewest(items, room)
    assert least_bins(items, room) <= len(exact)
    assert len(first_fit_decreasing(items, room)) <= (11 * len(exact) + 6) // 9, DOSA


@given(st.lists(st.tuples(st.integers(1, 9), st.integers(0, 9)), max_size=7))
def test_two_things_at_once_against_brute_force(pairs: list[tuple[int, int]]) -> None:
    """Clay and time together: as few bins as trying everything finds."""
    items: list[Item] = [(float(a), float(b)) for a, b in pairs]
    bins = pack(items, (10.0, 9.0)).bins
    check(bins, items, (10.0, 9.0))
    assert len(bins) == fewest(items, (10.0, 9.0))


@given(st.lists(st.integers(5, 60), min_size=9, max_size=20))
def test_twenty_items(sizes: list[int]) -> None:
    """Up to twenty items: never more bins than first-fit decreasing, never fewer than the clay needs."""
    bins = pack(one(sizes), (100,)).bins
    check(bins, one(sizes), (100,))
    assert least_bins(one(sizes), (100,)) <= len(bins) <= len(first_fit_decreasing(one(sizes), (100,)))


def test_twenty_alike_are_settled_soon() -> None:
    """20 pieces of 110 to 149 ml, six or five to a cartridge: few choices show that four don't do, or do.

    The sizes come in equal steps, from 110 by 2 to 148 (sum 2580): by fives of the largest and smallest in
    turn each of four cartridges holds 645 (computed by hand). Of 141 to 142 ml (sum 2830 > 4 x 704.6) five are
    needed.
    """
    easy = pack(one([110.0 + 2 * k for k in range(20)]), (704.6,), most_nodes=5000)
    assert len(easy.bins) == easy.least == 4
    hard = pack(one([141.0 + k / 20 for k in range(20)]), (704.6,), most_nodes=5000)
    assert len(hard.bins) == hard.least == 5


@pytest.mark.parametrize(
    ("sizes", "least"),
    [
        ([6, 6, 6], 3),
        ([6, 6, 4, 4], 2),
        ([6, 6, 5, 5], 3),
        ([5, 5, 5], 2),
        ([7, 7, 4, 4], 3),
        ([3, 3, 3, 3], 2),
    ],
)
def test_the_lower_bound_by_hand(sizes: list[float], least: int) -> None:
    """L2 for bins of 10: what is above half needs a bin each, and has no room for what doesn't fit beside it."""
    assert least_bins(one(sizes), (10.0,)) == least


def trials(number: int) -> Iterator[list[list[int]]]:
    """Every way to part that many items into bins."""
    if not number:
        yield []
        return
    for bins in trials(number - 1):
        for place in range(len(bins)):
            yield [*bins[:place], [*bins[place], number - 1], *bins[place + 1 :]]
        yield [*bins, [number - 1]]


def printable(bins: list[list[int]], ends: Ends) -> bool:
    """Whether some order prints these bins: found by putting one bin after the other, every order tried.

    A bin whose first item is the rest of a piece comes straight after the one with that piece's beginning.
    One that begins a stretch comes in its turn, and one that ends a stretch while that is going on.
    """

    def marked(bin_: list[int], marks: Iterable[int]) -> list[int]:
        return [item for item in bin_ if item in marks]

    def orders(todo: list[list[int]], stretch: int, closed: bool, due: int | None) -> bool:
        if not todo:
            return due is None
        for place, bin_ in enumerate(todo):
            rest = [*todo[:place], *todo[place + 1 :]]
            tails, begins = marked(bin_, ends.goes_on.values()), marked(bin_, ends.stretch_begins)
            heads, stops = marked(bin_, ends.goes_on), marked(bin_, ends.stretch_ends)
            if len(tails) + len(begins) > 1 or len(heads) + len(stops) > 1:
                return False
            if tails != ([] if due is None else [due]):
                continue
            now = ends.stretch_begins[begins[0]] if begins else stretch
            open_ends = stretch in ends.stretch_ends.values() and not closed
            if begins and (now != stretch + 1 or open_ends):
                continue
            if now < 0 or (closed and not begins) or (stops and ends.stretch_ends[stops[0]] != now):
                continue
            if orders(rest, now, bool(stops), ends.goes_on[heads[0]] if heads else None):
                return True
        return False

    return orders(bins, -1, False, None)


@st.composite
def strands(draw: st.DrawFn) -> tuple[list[int], Ends]:
    """Sizes of items of which some are ends of long pieces, and begin or end a stretch; seven at most."""
    stretches = draw(st.integers(1, 2))
    long = draw(st.integers(0, 2))
    closed = draw(st.lists(st.booleans(), min_size=stretches, max_size=stretches))
    number = 2 * long + stretches + sum(closed)
    goes_on = {2 * k: 2 * k + 1 for k in range(long)}
    begins = {2 * long + k: k for k in range(stretches)}
    stops = {2 * long + stretches + sum(closed[:k]): k for k in range(stretches) if closed[k]}
    plain = draw(st.integers(0, max(7 - number, 0)))
    sizes = draw(st.lists(st.integers(1, 10), min_size=number + plain, max_size=number + plain))
    return sizes, Ends(goes_on, begins, stops)


@given(strands())
@settings(max_examples=150, deadline=None)
def test_strands_against_every_packing(case: tuple[list[int], Ends]) -> None:
    """With pieces of several cartridges: what is found can be printed, and no packing that can has fewer bins."""
    sizes, ends = case
    items, room = one(sizes), (10.0,)
    found = pack(items, room, ends)
    check(found.bins, items, room)
    check(first_fit_decreasing(items, room, ends), items, room)
    assert len(found.bins) == found.least
    assert printable(found.bins, ends)
    assert printable(first_fit_decreasing(items, room, ends), ends)
    fewer = (bins for bins in trials(len(sizes)) if len(bins) < len(found.bins))
    fit = (bins for bins in fewer if all(sum(sizes[i] for i in members) <= 10 for members in bins))
    assert not any(printable(bins, ends) for bins in fit)


@given(st.lists(st.floats(0.01, 1), max_size=30))
def test_any_number_of_fractions(sizes: list[float]) -> None:
    """Whatever the sizes and their number, everything is packed and nothing overflows."""
    check(pack(one(sizes), (1.0,)).bins, one(sizes), (1.0,))


def test_twenty_thirds_that_do_not_fit_by_threes() -> None:
    """Sizes just over a third go two by two: twenty of them need ten bins (computed by hand)."""
    assert len(pack(one([34.0 + k / 100 for k in range(20)]), (100,)).bins) == 10


def test_rounding_does_not_cost_a_bin() -> None:
    """Ten tenths fill a bin, though their floats add up to a little less or more than one."""
    assert len(pack(one([0.1] * 10), (1.0,)).bins) == 1
    assert len(pack(one([1.1, 2.2]), (3.3,)).bins) == 1  # 1.1 + 2.2 > 3.3 in floats


def test_nothing_needs_no_bin() -> None:
    """No items, no bins."""
    assert pack([], (10.0,)).bins == []


@pytest.mark.parametrize(("item", "capacity"), [(11.0, 10.0), (-1.0, 10.0), (float("nan"), 10.0), (0.0, 0.0)])
def test_what_cannot_be_packed(item: float, capacity: float) -> None:
    """An item larger than a bin or below nothing, and a bin without room, are refused."""
    with pytest.raises(ValueError, match="bin"):
        pack([(item,)], (capacity,))
