"""The day's sheet: which cartridge prints which pieces, when each begins and ends, when to be there."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from gpost.clay.chances import CHANCE
from gpost.config.model import Config
from gpost.errors import PlanError
from gpost.supply.sure import counted_on_ml, loaded_ml
from gpost.workbook.day.clock import Clock, Event, Printed, Used
from gpost.workbook.day.doubts import doubts
from gpost.workbook.day.pieces import DayPiece, filling_ml
from gpost.workbook.day.shared import share
from gpost.workbook.day.wishes import Wishes

ROUNDING_ML = 1e-6


@dataclass(frozen=True, slots=True)
class CartridgeRow:
    """One cartridge of the day, in the order of loading."""

    number: int
    colour: str
    fill_ml: float
    pieces: tuple[str, ...]
    clay_ml: float
    """Clay the day takes out of it, with what fills the hose."""
    load_ml: float
    """What must be in it at least: that, the reserve, and the margin that the config's spreads give."""
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
    """Clay in its first cartridge when it begins, if no more was loaded than `load_ml`."""
    first_ml: float
    """The same to give to the piece's own run (cartridge: first_ml): full ml, never more than a cartridge."""
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class DaySheet:
    """The day. Clock times are seconds after its midnight, and estimates."""

    cartridges: tuple[CartridgeRow, ...]
    pieces: tuple[PieceRow, ...]
    events: tuple[Event, ...]
    colour_changes: int
    """Between pieces: each fills the hose anew."""
    warnings: tuple[str, ...]
    changes_within: int = 0
    """Changes of colour inside pieces."""
    sure_percent: float | None = None
    """In how many of 100 cartridges the loads are enough; None: no spread is known."""


def make_sheet(pieces: Sequence[DayPiece], config: Config, wishes: Wishes) -> DaySheet:
    """The day for these pieces: as few changes of colour, then as few cartridges of each colour, as can be.

    Raises PlanError when a cartridge can't even fill the hose.
    """
    cartridge = config.cartridge
    fill_ml = filling_ml(cartridge)
    usable_ml = counted_on_ml(config, None)
    if fill_ml > usable_ml:
        raise PlanError(
            f"the hose takes {fill_ml:g} ml, and a cartridge gives only {usable_ml:.4g} "
            "ml; fix line_ml, mixing_stages, volume_ml or reserve_ml"
        )
    day = share(pieces, config, wishes)
    clock = Clock(config, wishes)
    for turn in day.turns:
        clock.take(turn)
    return DaySheet(
        tuple(_cartridge_row(used, config) for used in clock.cartridges),
        tuple(_piece_row(printed, clock.cartridges, config) for printed in clock.pieces),
        tuple(clock.events),
        day.colour_changes,
        tuple(doubts(day, clock, config, wishes)),
        sum(map(_changes, clock.pieces)),
        100 * (1 - CHANCE) if config.spreads.of_cartridges else None,
    )


def _changes(printed: Printed) -> int:
    """How often the piece changes its colour."""
    return sum(before != after for (before, _), (after, _) in pairwise(printed.printing.uses))


def _cartridge_row(used: Used, config: Config) -> CartridgeRow:
    load_ml = _loaded_ml(used, config)
    return CartridgeRow(
        used.number,
        used.colour,
        used.fill_ml,
        tuple(used.pieces),
        used.to_ml - used.from_ml,
        load_ml,
        load_ml * config.clay.wet_density_g_ml,
        used.loaded_s,
        used.done_s,
    )


def _loaded_ml(used: Used, config: Config) -> float:
    """What goes into the cartridge; never more than it holds."""
    return min(loaded_ml(config, used.need_ml), config.cartridge.volume_ml)


def _piece_row(printed: Printed, cartridges: Sequence[Used], config: Config) -> PieceRow:
    used, volume_ml = cartridges[printed.first - 1], config.cartridge.volume_ml
    before_ml = _loaded_ml(used, config) - (printed.from_ml - used.from_ml)
    only_ml = printed.printing.only_from_ml
    first_ml = min(math.ceil(before_ml - ROUNDING_ML), volume_ml) if only_ml is None else only_ml
    return PieceRow(
        printed.piece.name,
        tuple(range(printed.first, printed.first + len(printed.printing.uses))),
        printed.printing.clay_ml,
        before_ml,
        first_ml,
        printed.start_s,
        printed.end_s,
    )
