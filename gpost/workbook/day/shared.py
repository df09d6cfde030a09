"""Which cartridge prints which pieces: as few as can be, in an order in which they can be printed.

The order of colours comes first (`order.py`). It cuts the day into stretches of one colour: each begins with
the hose's filling or with the end of a piece that brings the colour, and ends with a piece that takes it
away, or with the run. Within a colour cartridges are packed (`packing.py`). A cartridge that has been taken
off is not put back: what shares one is printed in a row, first the piece that has brought it, last the piece
that takes it to its end.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice, permutations, product
from typing import TypeAlias

from gpost.config.model import Config
from gpost.supply.sure import counted_on_ml
from gpost.workbook.day.order import order_jobs
from gpost.workbook.day.packing import MOST_NODES, Item, Packing, pack
from gpost.workbook.day.pieces import DayPiece, Printing, filling_ml
from gpost.workbook.day.strands import Ends
from gpost.workbook.day.wishes import Wishes

MOST_ORDERS = 120
"""Orders of the pieces that change the colour, and of the colours, that are tried."""

DAY_NODES = 3 * MOST_NODES
"""Choices looked at in all packing of one day."""
FIRST_FIT_NODES = 5
"""What first-fit decreasing counts for, an item: about what it takes."""

Way: TypeAlias = Mapping[DayPiece, Printing]
"""How each piece is printed."""


@dataclass(frozen=True, slots=True)
class DayLoad:
    """A cartridge put on between two pieces."""

    colour: str
    fill_ml: float
    """Clay run out first, so that the hose is full of its colour."""
    slugs_of: Printing | None = None
    """The piece whose colours lie in it in slugs, behind that; None: it is of one clay."""


Turn: TypeAlias = "DayLoad | tuple[DayPiece, Printing]"
"""What is done next: a cartridge is put on, or a piece is printed."""


@dataclass(frozen=True, slots=True)
class Unsure:
    """A colour for which fewer cartridges might do."""

    colour: str
    cartridges: int
    least: int


@dataclass(frozen=True, slots=True)
class Shared:
    """The day as it is printed."""

    turns: tuple[Turn, ...]
    colour_changes: int
    """How often another colour is put into the hose between two pieces."""
    unsure: tuple[Unsure, ...] = ()
    orders_left: bool = False
    """Whether orders of the pieces that change the colour were left untried."""


@dataclass(slots=True)
class _Stretch:
    """Printing in one colour. `brought` and `taken` are the pieces that change to it, and from it."""

    colour: str
    brought: DayPiece | None = None
    taken: DayPiece | None = None
    strands: list[list[_Bin]] = field(default_factory=list)


@dataclass(slots=True)
class _Bin:
    """A cartridge: the piece that has brought it, those that follow, and the one that takes it to its end."""

    brought: DayPiece | None = None
    fills: bool = False
    pieces: list[DayPiece] = field(default_factory=list)
    taken: DayPiece | None = None


@dataclass(frozen=True, slots=True)
class _Packed:
    """One colour's cartridges, as strands of bins for each stretch."""

    strands: list[list[list[_Bin]]]
    cartridges: int
    least: int


def share(pieces: Sequence[DayPiece], config: Config, wishes: Wishes) -> Shared:
    """As few changes of colour as can be, and then as few cartridges."""
    packer = _Packer(config, wishes)
    tried: list[tuple[list[list[_Stretch]], list[_Stretch], Way, dict[str, _Packed]]] = []
    orders, all_orders = _orders(pieces, wishes)
    for runs in orders:
        if tried and packer.spent:
            break
        stretches = [stretch for run in runs for stretch in run]
        tried.append((runs, stretches, *_best_way(pieces, stretches, packer)))
    runs, stretches, way, packed = min(tried, key=lambda found: _count(*found[2:]))
    for colour, found in packed.items():
        own = [stretch for stretch in stretches if stretch.colour == colour]
        for stretch, strands in zip(own, found.strands, strict=True):
            stretch.strands = strands
    turns = [turn for stretch in stretches for turn in _turns(stretch, way, config)]
    unsure = [
        Unsure(colour, found.cartridges, found.least)
        for colour, found in packed.items()
        if found.cartridges > found.least
    ]
    left = not all_orders or len(tried) < len(orders)
    return Shared(tuple(turns), max(len(runs) - 1, 0), tuple(unsure), left)


def ends(piece: DayPiece) -> tuple[str, str]:
    """Colour in the hose when the piece begins, and when it ends."""
    return piece.full.hose


def _orders(pieces: Sequence[DayPiece], wishes: Wishes) -> tuple[list[list[list[_Stretch]]], bool]:
    """Orders of the pieces that change the colour with the fewest changes between pieces; and if that is all.

    The one that comes of the pieces' own order is the first. Others come of putting the pieces in another
    order, and the colours, but for those whose order is wished.
    """
    changing = [piece for piece in pieces if len(set(ends(piece))) == 2]
    colours = dict.fromkeys(colour for piece in pieces for colour in ends(piece))
    free = [colour for colour in colours if colour not in wishes.light_first]
    found: dict[tuple[object, ...], list[list[_Stretch]]] = {}
    some = islice(permutations(free), MOST_ORDERS), islice(permutations(changing), MOST_ORDERS)
    for rest, order in islice(product(*some), MOST_ORDERS if changing else 1):
        runs = _runs(pieces, order, (*wishes.light_first, *rest))
        key = tuple((s.colour, s.brought and s.brought.name) for run in runs for s in run)
        found.setdefault(key, runs)
    ways = math.factorial(len(free)) * math.factorial(len(changing))
    return list(found.values()), not changing or ways <= MOST_ORDERS


def _runs(
    pieces: Sequence[DayPiece], changing: Sequence[DayPiece], colours: Sequence[str]
) -> list[list[_Stretch]]:
    """Stretches, in runs without a change between pieces; pieces that stay with a colour are one job."""
    staying = dict.fromkeys(ends(piece)[0] for piece in pieces if len(set(ends(piece))) == 1)
    jobs = [*((colour, colour) for colour in staying), *map(ends, changing)]
    runs = []
    for order in order_jobs(jobs, colours):
        run = [_Stretch(jobs[order[0]][0])]
        for number in order:
            if number >= len(staying):
                piece = changing[number - len(staying)]
                run[-1].taken = piece
                run.append(_Stretch(ends(piece)[1], brought=piece))
        runs.append(run)
    return runs


def _best_way(
    pieces: Sequence[DayPiece], stretches: Sequence[_Stretch], packer: _Packer
) -> tuple[Way, dict[str, _Packed]]:
    """How pieces are printed, and cartridges packed.

    A piece of several cartridges can begin on the one that fills the hose: its pauses then come earlier, and
    it may end in a cartridge with another rest. Such pieces are changed to that one by one while it saves a
    cartridge.
    """
    way = {piece: piece.full for piece in pieces}
    packed = packer.day(way, stretches)
    could = _unlike([piece for piece in pieces if piece.filling != piece.full])
    for _ in stretches:
        for piece in could:
            if packer.spent:
                return way, packed
            other = {**way, piece: piece.filling}
            packed_other = packer.day(other, stretches)
            if way[piece] is piece.full and _count(other, packed_other) < _count(way, packed):
                way, packed = other, packed_other
                break
        else:
            break
    return way, packed


def _unlike(pieces: Sequence[DayPiece]) -> list[DayPiece]:
    """One piece of each kind that takes the same clay."""
    alike = {(*_clay(piece.full), *_clay(piece.filling)): piece for piece in reversed(pieces)}
    return list(alike.values())[::-1]


def _clay(printing: Printing) -> tuple[object, ...]:
    return printing.uses, printing.needs_ml


def _count(way: Way, packed: Mapping[str, _Packed]) -> int:
    """All cartridges; those in the middle of a piece are its own."""
    middle = sum(max(len(printing.uses) - 2, 0) for printing in way.values())
    return middle + sum(found.cartridges for found in packed.values())


class _Items:
    """Items to pack for one colour: pieces of one cartridge, both ends of longer ones, and fillings.

    What is scarce in a cartridge: the places in it, of which a piece whose colours lie in slugs takes all;
    clay; and, where clay has to be fresh, time.
    """

    def __init__(self, way: Way, config: Config, wishes: Wishes) -> None:
        self._way, self._config, self._wishes = way, config, wishes
        cartridge, self._usable_ml = config.cartridge, counted_on_ml(config, None)
        self._fill_ml = filling_ml(cartridge)
        window_s = (cartridge.keeps_min or 0.0) * 60 + wishes.between_s
        timed = wishes.fresh and cartridge.keeps_min is not None and window_s > self._fill_s
        self._window_s = window_s if timed else None
        self._places = 2.0 * len(way) + 1 if any(printing.slugs for printing in way.values()) else None
        self.capacity = self._item(self._places or 0.0, self._usable_ml, window_s)
        self.items: list[Item] = []
        self.owners: list[DayPiece | None] = []

    @property
    def _fill_s(self) -> float:
        return self._fill_ml / self._config.machine.prime_flow_ml_min * 60

    def _item(self, places: float, ml: float, time_s: float) -> Item:
        """What counts of it; clay, or time if that counts, is the last."""
        of_places = () if self._places is None else (places,)
        return (*of_places, ml) if self._window_s is None else (*of_places, ml, time_s)

    def fill(self) -> int:
        """Add the hose's filling; returns the index."""
        self.owners.append(None)
        self.items.append(self._item(0.0, self._fill_ml, self._fill_s))
        return len(self.items) - 1

    def use(self, piece: DayPiece, number: int) -> int:
        """Add what a piece needs of its first cartridge (0) or its last (-1); returns the index.

        n uses and the n - 1 gaps between them fit into the time that clay keeps. One that takes longer by
        itself has its cartridge alone, but for the hose's filling.
        """
        printing = self._way[piece]
        ml = printing.need_ml(number)
        if number == 0 and printing.only_from_ml is not None:
            ml = counted_on_ml(self._config, printing.only_from_ml)
        time_s = use_times_s(printing, self._wishes.pause_s)[number] + self._wishes.between_s
        if self._window_s is not None and time_s > self._window_s:
            time_s = self._window_s - self._fill_s
        places = 1.0 if printing.slugs is None else self._places or 0.0
        self.owners.append(piece)
        self.items.append(self._item(places, min(ml, self._usable_ml), time_s))
        return len(self.items) - 1


def use_times_s(printing: Printing, pause_s: float) -> list[float]:
    """How long each cartridge is in use, its waits counted, s."""
    found, since_s, waits = [], 0.0, 0
    for stop in printing.stops:
        if stop.new_cartridge:
            found.append(stop.clock_s - since_s + waits * pause_s)
            since_s, waits = stop.clock_s, 0
        waits += 1
    return [*found, printing.time_s - since_s + waits * pause_s]


class _Packer:
    """Packs the colours of a day; what has been packed once is not packed again."""

    def __init__(self, config: Config, wishes: Wishes) -> None:
        self._config, self._wishes = config, wishes
        self._known: dict[tuple[object, ...], Packing] = {}
        self._nodes_left = DAY_NODES

    @property
    def spent(self) -> bool:
        """Whether no more may be looked for."""
        return self._nodes_left <= 0

    def day(self, way: Way, stretches: Sequence[_Stretch]) -> dict[str, _Packed]:
        """Each colour's cartridges."""
        return {
            colour: self._colour(
                [piece for piece in way if set(ends(piece)) == {colour}],
                [stretch for stretch in stretches if stretch.colour == colour],
                way,
            )
            for colour in dict.fromkeys(stretch.colour for stretch in stretches)
        }

    def _colour(self, staying: Sequence[DayPiece], stretches: Sequence[_Stretch], way: Way) -> _Packed:
        items = _Items(way, self._config, self._wishes)
        goes_on: dict[int, int] = {}
        begins: dict[int, int] = {}
        stops: dict[int, int] = {}
        for piece in staying:
            first = items.use(piece, 0)
            if len(way[piece].uses) > 1:
                goes_on[first] = items.use(piece, -1)
        for number, stretch in enumerate(stretches):
            begins[items.use(stretch.brought, -1) if stretch.brought else items.fill()] = number
            if stretch.taken is not None:
                stops[items.use(stretch.taken, 0)] = number
        marks = Ends(goes_on, begins, stops)
        found = self._pack(items, marks)
        strands = _strands(found.bins, marks, len(stretches))
        bins = [[[_bin(members, marks, items) for members in s] for s in own] for own in strands]
        return _Packed(bins, len(found.bins), found.least)

    def _pack(self, items: _Items, marks: Ends) -> Packing:
        parts = (marks.goes_on, marks.stretch_begins, marks.stretch_ends)
        key = (*items.items, *(tuple(part.items()) for part in parts))
        if key not in self._known:
            most = max(min(MOST_NODES, self._nodes_left), 0)
            found = self._known[key] = pack(items.items, items.capacity, marks, most_nodes=most)
            self._nodes_left -= found.nodes + FIRST_FIT_NODES * len(items.items)
        return self._known[key]


def _bin(members: Sequence[int], marks: Ends, items: _Items) -> _Bin:
    """The quickest piece comes first: then the most are done before the clay has stood for long.

    (J. Moore, Management Science 15, 1968, for the case of one date for all.)
    """
    found = _Bin()
    for item in sorted(members, key=lambda item: items.items[item][-1]):
        owner = items.owners[item]
        if owner is None:
            found.fills = True
        elif item in marks.first:
            found.brought = owner
        elif item in marks.last:
            found.taken = owner
        else:
            found.pieces.append(owner)
    found.pieces.sort(key=lambda piece: piece.full.time_s)
    return found


def _strands(bins: list[list[int]], marks: Ends, stretches: int) -> list[list[list[list[int]]]]:
    """Each stretch's strands of bins, in printing order; those bound to none are where there is a place."""
    by_first = {item: members for members in bins for item in members if item in marks.first}
    inside = {id(by_first[item]) for item in marks.goes_on.values()}
    begun: list[list[list[list[int]]]] = [[] for _ in range(stretches)]
    free: list[list[list[int]]] = []
    ended: list[list[list[list[int]]]] = [[] for _ in range(stretches)]
    for members in sorted(bins, key=min):
        if id(members) in inside:
            continue
        strand = [members]
        while (last := _last(strand[-1], marks)) in marks.goes_on:
            strand.append(by_first[marks.goes_on[last]])
        begins = [marks.stretch_begins[item] for item in members if item in marks.stretch_begins]
        if begins:
            begun[begins[0]].append(strand)
        elif last in marks.stretch_ends:
            ended[marks.stretch_ends[last]].append(strand)
        else:
            free.append(strand)
    closed = [_last(begun[n][0][-1], marks) in marks.stretch_ends for n in range(stretches)]
    place = closed.index(False) if free else -1
    return [begun[n] + (free if n == place else []) + ended[n] for n in range(stretches)]


def _last(members: Sequence[int], marks: Ends) -> int:
    """The item that is last in its bin; -1 if there is none."""
    return next((item for item in members if item in marks.last), -1)


def _turns(stretch: _Stretch, way: Way, config: Config) -> Iterator[Turn]:
    for strand in stretch.strands:
        for found in strand:
            if found.brought is None:
                fill_ml = filling_ml(config.cartridge) if found.fills else 0.0
                own = [*found.pieces, *([found.taken] if found.taken is not None else [])]
                in_slugs = way[own[0]] if own and way[own[0]].slugs is not None else None
                yield DayLoad(stretch.colour, fill_ml, in_slugs)
            yield from ((piece, way[piece]) for piece in found.pieces)
            if found.taken is not None:
                yield found.taken, way[found.taken]
