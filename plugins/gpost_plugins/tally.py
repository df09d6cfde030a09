"""Step `tally`: how much clay goes where, and whether there is enough of it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np

from gpost.api import (
    SAME_ML,
    CartridgeUse,
    Count,
    Field,
    Intention,
    Note,
    Pause,
    Plan,
    Positive,
    Reach,
    Settings,
    Spot,
    Step,
    Survey,
    Waits,
    ages_s,
    asked_text,
    cartridges,
    change_spots,
    change_text,
    colours,
    first_stale,
    front_spot,
    hookimpl,
    longest_wait_s,
    ml_text,
    need_layers,
    on_from,
    reach,
    running_out,
    span_text,
    spot_words,
    told_min,
    weigh,
)

LEAST_ML = 0.05
"""A colour of which less is in a band is not named: a change through a hose that mixes has no end."""


class TallySettings(Settings):
    """How finely the clay is counted."""

    bands_mm: Positive | None = Field(
        None, description="Height of each band of layers that is counted, mm; left out: as `bands` says."
    )
    bands: Count = Field(4, le=100, description="How many bands of one height the piece is cut into.")


class Tally(Step[TallySettings]):
    """Counts the clay and warns when there is not enough.

    Says how much clay and wet mass each cartridge gives, how much goes into each band of height, how
    much of each colour is in the piece, where each new colour is expected to show, how old the clay gets
    and how long a pause may last, and what the piece weighs dry. Colour is counted
    where it leaves the nozzle: one hose volume after it left the cartridge. Primes and purges count in
    the cartridges but not in the piece. Changes nothing in the file.

        steps:
          - tally:
              bands_mm: 50
    """

    name = "tally"
    Settings = TallySettings
    after = ("cold", "base", "purge", "swap", "refill", "fan", "taper", "stand", "remind")

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """Notes alone."""
        need_layers(survey)
        uses = cartridges(plan)
        at = on_from(plan)
        yield from (Note(_use_text(plan, use, on=not place)) for place, use in enumerate(uses[at:]))
        if survey.pieces == 1:
            yield _piece(plan)
            yield from self._bands(survey, plan)
        yield from _colours(plan, uses)
        yield from _fronts(plan)
        yield from _ages(plan)
        yield from _short(plan)

    def _bands(self, survey: Survey, plan: Plan) -> Iterator[Note]:
        """Clay of each band of height, by colour."""
        height_mm = survey.layers["height_mm"]
        band_mm = self.settings.bands_mm or float(height_mm.max()) / self.settings.bands
        band = np.maximum.accumulate(np.ceil(height_mm / band_mm - 1e-6))
        firsts = [0, *(np.flatnonzero(np.diff(band)) + 1).tolist()]
        for first, after in zip(firsts, [*firsts[1:], len(band)], strict=True):
            end = survey.start_of(after) if after < len(band) else Spot(survey.lines)
            parts = colours(plan, survey.start_of(first), end)
            yield Note(
                f"{_layers(first + 1, after)}, up to {height_mm[first:after].max():.1f} mm: "
                f"{_amount(plan, parts)}{_parts(plan, parts)}"
            )


def _piece(plan: Plan) -> Note:
    """Mass of the piece; its sizes are in the summary."""
    mass = weigh(plan.config, colours(plan))
    return Note(
        f"the piece: {mass.wet_g:.0f} g wet, {mass.dry_g:.0f} g dry, {mass.water_g:.0f} g of water to dry off"
    )


def _layers(first: int, last: int) -> str:
    return f"layer {first}" if first == last else f"layers {first} to {last}"


def _use_text(plan: Plan, use: CartridgeUse, *, on: bool) -> str:
    """`on`: it is on from the beginning."""
    where = "" if on else f", loaded at {spot_words(plan.survey, use.from_spot)}"
    # what is asked of it is what leaves it, though some be drawn back again: nothing else is told of it
    amount, given = _amount(plan, use.parts_of(use.need_ml)), _ml(plan, use.clay_ml)
    if given != _ml(plan, use.need_ml):
        amount += f", {_ml(plan, use.need_ml - use.clay_ml)} of which are drawn back again"
    return (
        f"cartridge {use.number} ({use.colour}){where}: {amount}, "
        f"of {_ml(plan, use.usable_ml)} that can be counted on"
    )


def _ml(plan: Plan, ml: float) -> str:
    return f"{ml_text(plan.config, ml)} ml"


def _amount(plan: Plan, amounts_ml: dict[str, float]) -> str:
    return f"{_ml(plan, sum(amounts_ml.values()))}, {weigh(plan.config, amounts_ml).wet_g:.0f} g wet"


def _parts(plan: Plan, parts: dict[str, float]) -> str:
    """How a band divides into colours, if it does."""
    parts = {colour: clay_ml for colour, clay_ml in parts.items() if clay_ml > LEAST_ML}
    if len(parts) < 2:
        return "".join(f" ({colour})" for colour in parts)
    return " (" + ", ".join(f"{colour} {_ml(plan, clay_ml)}" for colour, clay_ml in parts.items()) + ")"


def _colours(plan: Plan, uses: list[CartridgeUse]) -> Iterator[Note]:
    """Each colour: what its cartridges give, what is in the piece, what is run out beside it."""
    in_piece, out = colours(plan), colours(plan, Spot(0), purges=True)
    whole = "" if plan.restart is None else "with what was laid before, "
    for colour in dict.fromkeys(clay for use in uses for clay in use.amounts_ml):
        given_ml = sum(use.amounts_ml.get(colour, 0.0) for use in uses)
        piece_ml = in_piece.get(colour, 0.0)
        beside_ml = out.get(colour, 0.0) - piece_ml
        yield Note(
            f"{colour}: {whole}{_ml(plan, given_ml)} leave the cartridges, {_ml(plan, piece_ml)} are in the "
            f"piece, {_ml(plan, beside_ml)} are run out beside it"
        )


def _fronts(plan: Plan) -> Iterator[Note]:
    """Where each new colour shows, or that it never does."""
    across = plan.survey.pieces == 1 and plan.config.cartridge.hose.mixes
    shares = reach(plan) if across else None
    for pause in plan.pauses:
        if not pause.new_cartridge or pause.colour is None:
            continue
        front = front_spot(plan, pause)
        if plan.restart is not None and front <= plan.restart.spot:
            continue  # it shows already
        if front.line >= plan.survey.lines:
            text = f"{pause.colour} never reaches the nozzle; swap earlier, or use clear: purge"
            yield Note(text, warning=True)
            continue
        asked = "" if pause.shows_at in (None, front) else f", {asked_text(plan, pause)}"
        change = change_text(plan, pause)
        place = spot_words(plan.survey, front)
        yield Note(f"{pause.colour} is expected from {place} on{asked}{change}{span_text(plan, pause)}")
        if shares is not None:
            yield from _across(plan, pause, shares)


def _across(plan: Plan, pause: Pause, found: Reach) -> Iterator[Note]:
    """What shows at some heights of a change that the hose spreads out."""
    begins, _, full = change_spots(plan, pause)
    rows = found.across(plan.survey.height_at(begins), plan.survey.height_at(full))
    if rows:
        yield Note(f"{pause.colour} by height: {'; '.join(map(found.words, rows))}")


def _ages(plan: Plan) -> Iterator[Note]:
    """How old the clay gets, and how long each pause may last."""
    survey, limit_min = plan.survey, plan.config.clay.working_min
    ages = ages_s(plan)
    oldest, stale = int(np.argmax(ages)), first_stale(plan)
    late = "" if stale is None else f", and too old from {spot_words(survey, survey.start_of(stale))} on"
    yield Note(
        f"clay is up to {ages[oldest] / 60:.0f} min out of its cartridge when it is laid "
        f"({spot_words(survey, survey.start_of(oldest))}), of the {limit_min:g} min that it can be "
        f"worked{late}; waiting is not counted"
    )
    yield from map(Note, dict.fromkeys(_longest_waits(plan)))


def _longest_waits(plan: Plan) -> Iterator[str]:
    """How long each pause to come may last, in words; of several at one place they may be the same."""
    known = Waits(plan)
    been = (at for at, pause in enumerate(plan.pauses, 1) if pause is plan.restart)
    for pause in plan.pauses[next(been, 0) :]:
        wait_s = longest_wait_s(plan, pause, known)
        if wait_s == math.inf:
            continue
        minutes = told_min(wait_s / 60)
        lasts = f"may last {minutes:g} min if no other waits" if minutes else "should be short"
        where = spot_words(plan.survey, pause.spot)
        yield f"the {pause.kind} pause at {where} {lasts}, as clay ages in the hose"


def _short(plan: Plan) -> Iterator[Note]:
    """Warn of every cartridge that is asked for more than it has."""
    for use, empty in running_out(plan, SAME_ML):
        more = math.ceil(use.over_ml / plan.config.cartridge.usable_ml - 1e-9)
        yield Note(
            f"cartridge {use.number} ({use.colour}) runs out in {spot_words(plan.survey, empty)}: "
            f"{_ml(plan, use.need_ml)} are asked of it, {_ml(plan, use.usable_ml)} can be counted on. "
            f"At least {more} more cartridge{'s' if more > 1 else ''} and a pause for each are needed; add "
            f"refill to the steps, after swap",
            warning=True,
        )


@hookimpl
def gpost_steps() -> Iterable[type[Step[Any]]]:
    """The step of this module."""
    return [Tally]
