"""Goes through the day turn by turn: which cartridge is on, when each piece begins, what the hose holds."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from gpost.clay.mixing import BEGINS
from gpost.config.model import Config
from gpost.supply.sure import counted_on_ml
from gpost.supply.working import ClayClock
from gpost.words import say
from gpost.workbook.day.pieces import DayPiece, Printing, filling_ml
from gpost.workbook.day.rest import Left
from gpost.workbook.day.shared import DayLoad, Turn
from gpost.workbook.day.wishes import Wishes


@dataclass(frozen=True, slots=True)
class Event:
    """Something the potter has to be there for."""

    clock_s: float
    text: str
    piece: str = ""
    """The piece that begins, waits or ends then; "": a cartridge is loaded."""
    lasts_s: float = 0.0
    """How long the machine is expected to wait."""
    starts: bool = False
    """The piece is started then."""
    waits: bool = False
    """The piece waits then."""
    cartridge: int | None = None
    """The cartridge that goes in then; None: none does."""
    fill_ml: float = 0.0
    """What is run out through the hose then."""
    shows_ml: float | None = None
    """After so much of it the new clay begins to show; None: it does when all of it is run out."""


@dataclass(slots=True)
class Used:
    """A cartridge of the day. Clay is counted from the start of the day, as it leaves the cartridges."""

    number: int
    colour: str
    """Its clay; of slugs all that leave it, in that order."""
    fill_ml: float
    loaded_s: float
    from_ml: float
    to_ml: float = 0.0
    done_s: float = 0.0
    need_ml: float = 0.0
    """What must be in it at least when it is loaded, without the reserve."""
    pieces: list[str] = field(default_factory=list)
    held_ml: float | None = None
    """What is in it, if it was on already when the day began; None: it is loaded as the sheet says."""
    slugs: tuple[Printing, int] | None = None
    """The piece whose colours lie in it in slugs, and which of its cartridges it is, from 0."""


@dataclass(frozen=True, slots=True)
class Printed:
    """A piece of the day."""

    piece: DayPiece
    printing: Printing
    first: int
    """Number of the cartridge on which it begins."""
    start_s: float
    end_s: float
    from_ml: float
    pushed_ml: float
    """Clay of its first colour that has gone into the hose just before it; inf at the day's start."""
    marks: tuple[tuple[float, float], ...]
    """(clock time, clay) at the start, round each wait, at the end; between in proportion."""


class Clock:
    """Takes the turns of a day, and keeps what happens when."""

    def __init__(self, config: Config, wishes: Wishes, first_number: int = 1) -> None:
        """`first_number`: what the first cartridge is called."""
        self._config, self._wishes, self._first_number = config, wishes, first_number
        self._now_s = wishes.start_s
        self._clay_ml = 0.0
        self._hose = ("", 0.0)
        """The clay that goes into it, and from which clay of the day on."""
        self.cartridges: list[Used] = []
        self.pieces: list[Printed] = []
        self.events: list[Event] = []

    def take(self, turn: Turn) -> None:
        """Put on a cartridge, or print a piece."""
        if isinstance(turn, DayLoad):
            self._load(turn)
            return
        piece, printing = turn
        self._pause_between()
        self._print(piece, printing)

    def go_on(self, left: Left) -> None:
        """Begin with a cartridge that is on, and a hose full of its clay."""
        self._put_on(left.colour, 0.0, self._now_s)
        self.cartridges[-1].held_ml = left.held_ml
        self._feed(left.colour)
        self._say(
            self._now_s,
            say("day.on", number=self._first_number, clay=left.colour, ml=f"{left.held_ml:.0f}"),
        )

    def _pause_between(self) -> None:
        """The break before a piece, or before the cartridge that is loaded for it."""
        if self.pieces and self._now_s == self.pieces[-1].end_s:
            self._now_s += self._wishes.between_s

    def cartridge(self, number: int) -> Used:
        """The cartridge of that number."""
        return self.cartridges[number - self._first_number]

    def clay_clock(self) -> ClayClock:
        """Clock time by the clay that has left the cartridges."""
        flow_ml_s = self._config.machine.prime_flow_ml_min / 60
        points = [(used.from_ml, used.loaded_s) for used in self.cartridges]
        points += [(u.from_ml + u.fill_ml, u.loaded_s + u.fill_ml / flow_ml_s) for u in self.cartridges]
        points += [(clay_ml, clock_s) for printed in self.pieces for clock_s, clay_ml in printed.marks]
        clay_ml, time_s = np.array(points).reshape(-1, 2).T
        return ClayClock.of(clay_ml, time_s)

    def _load(self, load: DayLoad) -> None:
        self._pause_between()
        colour = load.colour if load.slugs_of is None else load.slugs_of.uses[0][0]
        self._put_on(colour, load.fill_ml, self._now_s, load.slugs_of)
        self._feed(load.colour)
        hose, number = self._config.cartridge.hose, self.cartridges[-1].number
        shows_ml = hose.pushed_ml(BEGINS) if hose.mixes else None
        self.events.append(Event(self._now_s, "", cartridge=number, fill_ml=load.fill_ml, shows_ml=shows_ml))
        self._now_s += load.fill_ml / self._config.machine.prime_flow_ml_min * 60
        self._take_out(load.fill_ml)

    def _put_on(
        self, colour: str, fill_ml: float, at_s: float, slugs_of: Printing | None = None, number: int = 0
    ) -> None:
        called = self._first_number + len(self.cartridges)
        used = Used(called, colour, fill_ml, at_s, self._clay_ml, done_s=at_s)
        used.slugs = None if slugs_of is None else (slugs_of, number)
        self.cartridges.append(used)

    def _feed(self, colour: str) -> None:
        """From here on this clay goes into the hose."""
        if colour != self._hose[0]:
            self._hose = colour, self._clay_ml if len(self.cartridges) > 1 else -math.inf

    def _take_out(self, clay_ml: float, least_ml: float = 0.0) -> None:
        """Clay that leaves the cartridge that is on; `least_ml` of it must be there before."""
        on = self.cartridges[-1]
        on.need_ml = max(on.need_ml, self._clay_ml - on.from_ml + max(clay_ml, least_ml))
        self._clay_ml += clay_ml
        on.to_ml, on.done_s = self._clay_ml, self._now_s

    def _print(self, piece: DayPiece, printing: Printing) -> None:
        start_s, first, from_ml = self._now_s, self.cartridges[-1].number, self._clay_ml
        pushed_ml, in_slugs = from_ml - self._hose[1], printing if printing.slugs is not None else None
        self._say(start_s, say("day.start", piece=piece.name), piece.name, starts=True)
        least_ml = 0.0
        if printing.only_from_ml is not None:
            least_ml = counted_on_ml(self._config, printing.only_from_ml)
        marks, changes = [(start_s, from_ml)], 0
        changed_s = [0.0, *(stop.clock_s for stop in printing.stops if stop.new_cartridge), printing.time_s]
        for waits, stop in enumerate(printing.stops):
            self._now_s = start_s + stop.clock_s + waits * self._wishes.pause_s
            text, number = stop.text, None
            if stop.new_cartridge:
                self._use(piece, printing, changes, least_ml)
                changes, least_ml = changes + 1, 0.0
                self._put_on(printing.uses[changes][0], 0.0, self._now_s, in_slugs, changes)
                self._feed(printing.uses[changes][0])
                text, number = "", self.cartridges[-1].number
            began_s, ends_s = changed_s[changes : changes + 2]
            part = (stop.clock_s - began_s) / max(ends_s - began_s, 1e-9)
            clay_ml = self._clay_ml + printing.uses[changes][1] * part
            marks += [(self._now_s, clay_ml), (self._now_s + self._wishes.pause_s, clay_ml)]
            if number is None:
                text = say("day.waits", piece=piece.name, what=text)
            waits_s = self._wishes.pause_s
            self.events.append(Event(self._now_s, text, piece.name, waits_s, waits=True, cartridge=number))
        self._now_s = start_s + printing.time_s + len(printing.stops) * self._wishes.pause_s
        self._use(piece, printing, -1, least_ml)
        marks.append((self._now_s, self._clay_ml))
        if in_slugs is not None:
            self._hose = printing.hose[1], self._clay_ml - filling_ml(self._config.cartridge)
        self._say(self._now_s, say("waits.done", piece=piece.name), piece.name)
        self.pieces.append(
            Printed(piece, printing, first, start_s, self._now_s, from_ml, pushed_ml, tuple(marks))
        )

    def _use(self, piece: DayPiece, printing: Printing, number: int, least_ml: float) -> None:
        self._take_out(printing.uses[number][1], max(least_ml, printing.need_ml(number)))
        self.cartridges[-1].pieces.append(piece.name)

    def _say(self, clock_s: float, text: str, piece: str = "", *, starts: bool = False) -> None:
        self.events.append(Event(clock_s, text, piece, starts=starts))


def names(pieces: Sequence[Printed]) -> str:
    """Their names in a row."""
    return ", ".join(printed.piece.name for printed in pieces)
