"""The day's sheet: which cartridge prints which pieces, when each begins and ends, when to be there."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from gpost.clay.chances import CHANCE
from gpost.config.model import Config
from gpost.errors import PlanError
from gpost.report.defaults import of_loads
from gpost.report.visits import put_in
from gpost.supply.bands import same
from gpost.supply.claylist import ClayNeed, ClayRow, added, clay_row
from gpost.supply.loading import going_in, slug_of
from gpost.supply.names import Names
from gpost.supply.shortnames import short_names, short_words
from gpost.supply.slugs import Slug
from gpost.supply.sure import counted_on_ml, to_load_ml
from gpost.supply.weights import weigh
from gpost.words import say
from gpost.workbook.day.clock import Clock, Event, Printed, Used
from gpost.workbook.day.doubts import doubts
from gpost.workbook.day.pieces import DayPiece, filling_ml
from gpost.workbook.day.rest import BEFORE, Left, done_piece
from gpost.workbook.day.shared import DayLoad, Shared, share
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
    held_ml: float | None = None
    """What is in it, if it was on already when the day began; None: it is loaded."""
    slugs: tuple[Slug, ...] = ()
    """In the order in which they go in, what fills the hose and what stays behind with them; of a cartridge
    of one clay none."""
    loaded_from: str = ""
    """The end at which slugs go in."""

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
    """The same to give to the piece's own run (cartridge: first_ml): full ml, never more than a cartridge.

    Of a cartridge that was on already it is what is left in it, and not rounded.
    """
    start_s: float
    end_s: float
    uses_ml: tuple[float, ...] = ()
    """`clay_ml` out of each of its cartridges."""
    warned: tuple[str, ...] = ()
    """All that `gpost run` warns of."""


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
    clays: tuple[ClayRow, ...] = ()
    """What to wedge, in the order in which it is needed."""
    notes: tuple[str, ...] = ()
    """What to know, and nothing to worry about."""
    defaults: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Figures of loads that rest on gpost's own numbers, and on which."""

    def warned_of(self, row: PieceRow) -> tuple[str, ...]:
        """What a piece is warned of, but for what the day itself says of it."""
        said = {*self.warnings}
        return tuple(text for text in row.warned if not {text, f"{row.name}: {text}"} & said)


def make_sheet(
    pieces: Sequence[DayPiece],
    config: Config,
    wishes: Wishes,
    left: Left | None = None,
    first_number: int = 1,
) -> DaySheet:
    """The day for these pieces: as few changes of colour, then as few cartridges of each colour, as can be.

    `left`: it goes on with a cartridge that is on. `first_number`: of the first cartridge.
    Raises PlanError when a full one can't even fill the hose.
    """
    cartridge = config.cartridge
    fill_ml = filling_ml(cartridge)
    usable_ml = counted_on_ml(config, None)
    if fill_ml > usable_ml:
        raise PlanError(
            f"the hose takes {fill_ml:g} ml, and a cartridge gives only {usable_ml:.4g} "
            "ml; fix line_ml, mixing_stages, volume_ml or reserve_ml"
        )
    day, clock = _shared(pieces, config, wishes, left), Clock(config, wishes, first_number)
    if left is not None:
        clock.go_on(left)
    for turn in day.turns:
        clock.take(turn)
    rows = tuple(_cartridge_row(used, config) for used in clock.cartridges)
    return DaySheet(
        rows,
        tuple(_piece_row(printed, clock.cartridge(printed.first), config) for printed in clock.pieces),
        tuple(_said(event, rows) for event in clock.events),
        day.colour_changes,
        tuple(doubts(day, clock, config, wishes)),
        sum(map(_changes, clock.pieces)),
        100 * (1 - CHANCE) if config.spreads.of_cartridges else None,
        _clays(rows, [printed.piece for printed in clock.pieces], config),
        _notes([piece.names for piece in pieces], config),
        of_loads(config) if rows else {},
    )


def _said(event: Event, rows: Sequence[CartridgeRow]) -> Event:
    """The event in words, now that it is known how much goes into its cartridge."""
    if event.cartridge is None:
        return event
    row = next(row for row in rows if row.number == event.cartridge)
    goes_in = put_in(row.number, row.colour, row.load_ml, slugs=len(row.slugs))
    return replace(event, text=_put_on(event, goes_in))


def _put_on(event: Event, goes_in: str) -> str:
    """What to do where a cartridge goes in."""
    if event.waits:
        return say("day.waits", piece=event.piece, what=goes_in)
    if not event.fill_ml:
        return goes_in
    fill = {"put_in": goes_in, "ml": f"{event.fill_ml:.0f}"}
    if event.shows_ml is None:
        return say("day.fill", **fill)
    return say("day.fill_mixed", **fill, shows=f"{event.shows_ml:.0f}")


def _notes(names: Sequence[Names], config: Config) -> tuple[str, ...]:
    """What the display calls the day's clays, if it has no room for their names."""
    said = short_words(short_names(config, names), (name for own in names for name in own.used))
    return (f"{said[0].upper()}{said[1:]}.",) if said else ()


def _clays(rows: Sequence[CartridgeRow], pieces: Sequence[DayPiece], config: Config) -> tuple[ClayRow, ...]:
    """What to wedge: all that is loaded that day, and the slabs. What is on already has been wedged."""
    loaded: list[ClayNeed] = []
    if rows and rows[0].held_ml is not None:
        on_ml = rows[0].held_ml + config.cartridge.line_ml
        loaded.append(ClayNeed(rows[0].colour, left_ml=on_ml, on_ml=on_ml))
    for row in rows:
        parts = [(slug.mix, slug.clay_ml) for slug in row.slugs] or [({row.colour: 1.0}, row.load_ml)]
        if row.held_ml is None:
            loaded += [ClayNeed(clay, left_ml=share * ml) for mix, ml in parts for clay, share in mix.items()]
    takes = [
        need._replace(left_ml=-need.piece_ml - need.beside_ml) for piece in pieces for need in piece.needs
    ]
    return tuple(clay_row(config, need) for need in added([*loaded, *takes]))


def _shared(pieces: Sequence[DayPiece], config: Config, wishes: Wishes, left: Left | None) -> Shared:
    """Which cartridge prints which pieces; without the piece that has left one, and what that began with."""
    if left is None:
        return share(pieces, config, wishes)
    done = done_piece(left, config)
    day = share([done, *pieces], config, replace(wishes, light_first=(BEFORE, *wishes.light_first)))
    own = [
        turn
        for turn in day.turns
        if (turn.colour != BEFORE if isinstance(turn, DayLoad) else turn[0] is not done)
    ]
    return replace(day, turns=tuple(own))


def _changes(printed: Printed) -> int:
    """How often the piece changes its colour."""
    if printed.printing.slugs is not None:
        return 0
    return sum(before != after for (before, _), (after, _) in pairwise(printed.printing.uses))


def _cartridge_row(used: Used, config: Config) -> CartridgeRow:
    load_ml = _loaded_ml(used, config)
    slugs, loaded_from = _slugs(used, load_ml, config)
    wet_g = sum(slug.wet_g for slug in slugs) or weigh(config, {used.colour: load_ml}).wet_g
    return CartridgeRow(
        used.number,
        used.colour,
        used.fill_ml,
        tuple(used.pieces),
        used.to_ml - used.from_ml,
        load_ml,
        wet_g,
        used.loaded_s,
        used.done_s,
        used.held_ml,
        slugs,
        loaded_from,
    )


def _slugs(used: Used, load_ml: float, config: Config) -> tuple[tuple[Slug, ...], str]:
    """What goes in, in that order, and from which end; nothing for a cartridge of one clay.

    What fills the hose leaves first; what stays behind is of the last clay.
    """
    printing, number = used.slugs or (None, 0)
    inside = None if printing is None else printing.slugs
    if inside is None:
        return (), ""
    parts = [(slug.mix, slug.clay_ml, False) for slug in inside.of[number]]
    if used.fill_ml and same(parts[0][0], inside.first):
        parts[0] = (inside.first, parts[0][1] + used.fill_ml, False)
    elif used.fill_ml:
        parts.insert(0, (inside.first, used.fill_ml, False))
    behind_ml = load_ml - sum(ml for _, ml, _ in parts)
    if behind_ml > ROUNDING_ML:
        parts.append((parts[-1][0], behind_ml, True))
    leaving = [slug_of(config, used.number, mix, ml, reserve=behind) for mix, ml, behind in parts]
    return tuple(going_in(leaving, inside.loaded_from)), inside.loaded_from


def _loaded_ml(used: Used, config: Config) -> float:
    """What goes into the cartridge, or is in it; never more than it holds."""
    if used.held_ml is not None:
        return used.held_ml
    return min(to_load_ml(config, used.need_ml), config.cartridge.volume_ml)


def _piece_row(printed: Printed, used: Used, config: Config) -> PieceRow:
    volume_ml = config.cartridge.volume_ml
    before_ml = _loaded_ml(used, config) - (printed.from_ml - used.from_ml)
    only_ml = printed.printing.only_from_ml
    whole_ml = before_ml if used.held_ml is not None else math.ceil(before_ml - ROUNDING_ML)
    first_ml = min(whole_ml, volume_ml) if only_ml is None else only_ml
    return PieceRow(
        printed.piece.name,
        tuple(range(printed.first, printed.first + len(printed.printing.uses))),
        printed.printing.clay_ml,
        before_ml,
        first_ml,
        printed.start_s,
        printed.end_s,
        tuple(ml for _, ml in printed.printing.uses),
        printed.piece.warned,
    )
