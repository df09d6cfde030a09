"""The day's sheet: which cartridge prints which pieces, when each begins and ends, when to be there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from gpost.clay.packing import Bins, pack
from gpost.config.model import Config
from gpost.day.order import order_jobs
from gpost.day.pieces import Piece, Printing
from gpost.errors import PlanError


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the potter says about the day."""

    start_s: float
    """Clock time at which the first cartridge is loaded, in seconds after midnight."""
    between_s: float
    """From the end of a piece to the start of the next: taking it off, cleaning, loading."""
    pause_s: float
    """How long the machine waits at each pause of a piece."""
    light_first: tuple[str, ...] = ()
    """Colours in the order in which they are printed, if the fewest changes leave that open."""
    fresh: bool = False
    """Pieces share a cartridge only if all are printed within the clay's working time."""


@dataclass(frozen=True, slots=True)
class Load:
    """A cartridge before it is printed: what goes into the line, and then the pieces."""

    colour: str
    fill_ml: float
    """Clay that fills the line first, and pushes out what another colour has left in it."""
    pieces: tuple[Piece, ...]
    filling: bool
    """The first piece's first cartridge is the one that fills the line."""

    def printing(self, piece: Piece) -> Printing:
        """How the piece is printed here."""
        return piece.filling if self.filling else piece.full


@dataclass(frozen=True, slots=True)
class CartridgeRow:
    """One cartridge of the day, in the order of loading."""

    number: int
    colour: str
    fill_ml: float
    pieces: tuple[str, ...]
    clay_ml: float
    """Clay the day takes out of it, with what fills the line."""
    load_ml: float
    """What must be in it at least: that, and the reserve."""
    wet_g: float
    """Wet mass of `load_ml`."""
    loaded_s: float
    done_s: float

    @property
    def minutes(self) -> float:
        """How long its clay is in it."""
        return (self.done_s - self.loaded_s) / 60


@dataclass(frozen=True, slots=True)
class PieceRow:
    """One piece of the day, in the order of printing."""

    name: str
    cartridges: tuple[int, ...]
    clay_ml: float
    before_ml: float
    """Clay in the cartridge when the piece begins: `first_ml` for its run."""
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Event:
    """Something the potter has to be there for."""

    clock_s: float
    text: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """The day. Clock times are seconds after its midnight, and estimates."""

    cartridges: tuple[CartridgeRow, ...]
    pieces: tuple[PieceRow, ...]
    events: tuple[Event, ...]
    colour_changes: int
    warnings: tuple[str, ...]


def make_sheet(pieces: Sequence[Piece], config: Config, wishes: Wishes) -> Sheet:
    """The day for these pieces: as few changes of colour, then as few cartridges of each colour, as can be.

    Raises PlanError when a cartridge doesn't even fill the line.
    """
    cartridge = config.cartridge
    if cartridge.line_ml > cartridge.usable_ml:
        raise PlanError(
            f"the line takes {cartridge.line_ml:g} ml, and a cartridge gives only {cartridge.usable_ml:g} "
            "ml; mend line_ml, volume_ml or reserve_ml"
        )
    runs = _runs(pieces, config, wishes)
    clock = _Clock(config, wishes)
    for run in runs:
        for load in run:
            clock.take(load)
    return clock.sheet(colour_changes=max(len(runs) - 1, 0))


def _runs(pieces: Sequence[Piece], config: Config, wishes: Wishes) -> list[list[Load]]:
    """Runs of loads; between two of them, and before the first, a new colour fills the line."""
    jobs = _jobs(pieces)
    order = order_jobs([_ends(job[0]) for job in jobs], wishes.light_first)
    return [
        [
            load
            for place, number in enumerate(run)
            for load in _loads(jobs[number], 0.0 if place else config.cartridge.line_ml, config, wishes)
        ]
        for run in order
    ]


def _jobs(pieces: Sequence[Piece]) -> list[list[Piece]]:
    """What is printed together: all pieces of one colour that share cartridges; each other piece alone."""
    small = [piece for piece in pieces if len(piece.full.uses) == 1]
    colours = dict.fromkeys(_ends(piece)[0] for piece in small)
    together = [[piece for piece in small if _ends(piece)[0] == colour] for colour in colours]
    return together + [[piece] for piece in pieces if len(piece.full.uses) > 1]


def _loads(job: Sequence[Piece], fill_ml: float, config: Config, wishes: Wishes) -> list[Load]:
    if len(job[0].full.uses) > 1:
        return [Load(_ends(job[0])[0], fill_ml, tuple(job), filling=fill_ml > 0)]
    return shared(job, fill_ml, config, wishes)


def shared(pieces: Sequence[Piece], fill_ml: float, config: Config, wishes: Wishes) -> list[Load]:
    """Pieces of one colour, each of less than a cartridge, on as few cartridges as can be.

    The one that fills the line comes first. In each the quickest piece comes first: then the most pieces
    are done before the clay has stood for its working time (J. Moore, Management Science 15, 1968, for the
    case of one date for all).
    """
    bins = _packed(pieces, fill_ml, config, wishes)
    bins.sort(key=lambda members: (len(pieces) not in members, min(members)))
    loads = []
    for members in bins:
        own = sorted((pieces[i] for i in members if i < len(pieces)), key=lambda piece: piece.full.time_s)
        own_fill_ml = fill_ml if len(pieces) in members else 0.0
        loads.append(Load(_ends(pieces[0])[0], own_fill_ml, tuple(own), filling=False))
    return loads


def _packed(pieces: Sequence[Piece], fill_ml: float, config: Config, wishes: Wishes) -> Bins:
    """Indices of the pieces in each cartridge; the index after the last stands for the line's filling.

    With `wishes.fresh`, n pieces and the n - 1 gaps between them fit into the working time, less the
    time of filling; a piece that takes longer has its cartridge to itself.
    """
    items = [piece.full.clay_ml for piece in pieces] + ([fill_ml] if fill_ml else [])
    usable_ml = config.cartridge.usable_ml
    window_s = config.clay.working_min * 60 - _fill_s(fill_ml, config) + wishes.between_s
    if not wishes.fresh or window_s <= 0:
        return pack([(ml,) for ml in items], (usable_ml,))
    times = [min(piece.full.time_s + wishes.between_s, window_s) for piece in pieces] + [0.0]
    return pack(list(zip(items, times, strict=False)), (usable_ml, window_s))


def _ends(piece: Piece) -> tuple[str, str]:
    """Colour in the line when the piece begins, and when it ends."""
    return piece.full.uses[0][0], piece.full.uses[-1][0]


def _fill_s(fill_ml: float, config: Config) -> float:
    return fill_ml / config.machine.prime_flow_ml_min * 60


class _Clock:
    """Goes through the day load by load, and writes down what happens when."""

    def __init__(self, config: Config, wishes: Wishes) -> None:
        self._config, self._wishes = config, wishes
        self._now_s = wishes.start_s
        self._cartridges: list[CartridgeRow] = []
        self._pieces: list[PieceRow] = []
        self._events: list[Event] = []

    def take(self, load: Load) -> None:
        """Print everything of one load."""
        if self._pieces:
            self._now_s += self._wishes.between_s
        loaded_s, number = self._now_s, len(self._cartridges) + 1
        self._load_event(load, number)
        self._now_s += _fill_s(load.fill_ml, self._config)
        before_ml = self._config.cartridge.volume_ml - load.fill_ml
        ends: list[float] = []
        for place, piece in enumerate(load.pieces):
            printing = load.printing(piece)
            if place:
                self._now_s += self._wishes.between_s
            ends = self._print(piece.name, printing, number, before_ml)
            before_ml -= printing.clay_ml
        self._note_cartridges(load, number, loaded_s, ends)

    def _load_event(self, load: Load, number: int) -> None:
        fill = f", run out {load.fill_ml:.0f} ml until it shows" if load.fill_ml else ""
        self._events.append(Event(self._now_s, f"load cartridge {number} ({load.colour}){fill}"))

    def _print(self, name: str, printing: Printing, number: int, before_ml: float) -> list[float]:
        """Print one piece; returns the clock times at which each of its cartridges is done."""
        start_s = self._now_s
        self._events.append(Event(start_s, f"start {name}"))
        ends: list[float] = []
        for waits, stop in enumerate(printing.stops):
            at_s = start_s + stop.clock_s + waits * self._wishes.pause_s
            if stop.new_cartridge:
                ends.append(at_s)
                colour = printing.uses[len(ends)][0]
                text = f"{name} waits: load cartridge {number + len(ends)} ({colour})"
            else:
                text = f"{name} waits: {stop.text}"
            self._events.append(Event(at_s, text))
        self._now_s = start_s + printing.time_s + len(printing.stops) * self._wishes.pause_s
        self._events.append(Event(self._now_s, f"{name} is done: take it off"))
        numbers = tuple(range(number, number + len(printing.uses)))
        self._pieces.append(PieceRow(name, numbers, printing.clay_ml, before_ml, start_s, self._now_s))
        return [*ends, self._now_s]

    def _note_cartridges(self, load: Load, number: int, loaded_s: float, ends: list[float]) -> None:
        """A row for each cartridge of the load: one that pieces share, or those of one piece."""
        names = tuple(piece.name for piece in load.pieces)
        if len(load.pieces) == 1:
            uses = load.printing(load.pieces[0]).uses
        else:
            uses = ((load.colour, sum(piece.full.clay_ml for piece in load.pieces)),)
        for place, (colour, ml) in enumerate(uses):
            fill_ml = 0.0 if place else load.fill_ml
            load_ml = ml + fill_ml + self._config.cartridge.reserve_ml
            wet_g = load_ml * self._config.clay.wet_density_g_ml
            done_s = ends[place] if ends else self._now_s
            row = CartridgeRow(
                number + place, colour, fill_ml, names, ml + fill_ml, load_ml, wet_g, loaded_s, done_s
            )
            self._cartridges.append(row)
            loaded_s = done_s

    def sheet(self, *, colour_changes: int) -> Sheet:
        """What has been written down."""
        return Sheet(
            tuple(self._cartridges),
            tuple(self._pieces),
            tuple(self._events),
            colour_changes,
            tuple(_stiff(self._cartridges, self._pieces, self._config.clay.working_min)),
        )


def _stiff(cartridges: Sequence[CartridgeRow], pieces: Sequence[PieceRow], limit_min: float) -> Iterator[str]:
    """A sentence for each cartridge whose clay is in it for longer than its working time."""
    for row in cartridges:
        if row.minutes > limit_min:
            late = [
                p for p in pieces if row.number in p.cartridges and p.end_s > row.loaded_s + limit_min * 60
            ]
            yield (
                f"the clay of cartridge {row.number} is in it for {row.minutes:.0f} min, longer than the "
                f"{limit_min:g} min it stays workable (clay: working_min); stiff clay may come in "
                f"{', '.join(piece.name for piece in late)}"
            )
