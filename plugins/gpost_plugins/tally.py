"""Step `tally`: how much clay goes where, and whether there is enough of it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
from pydantic import Field

from gpost.api import Intention, Note, Plan, Positive, Settings, Spot, Step, Survey, hookimpl
from gpost.clay.supply import CartridgeUse, cartridges, colours, front_spot
from gpost_plugins.fronts import change_text, wanted
from gpost_plugins.levels import SAME_ML, need_layers, place, start


class TallySettings(Settings):
    """How finely the clay is counted."""

    bands_mm: Positive | None = Field(
        None, description="Height of each band of layers that is counted, mm; left out: as `bands` says."
    )
    bands: int = Field(4, ge=1, le=100, description="How many bands of one height the piece is cut into.")


class Tally(Step[TallySettings]):
    """Counts the clay and warns when there isn't enough.

    Says how much clay and wet mass each cartridge gives, how much goes into each band of height, how
    much of each colour is in the piece, and where each new colour is expected to show. Colour is counted
    where it leaves the nozzle: one line volume after it left the cartridge. Primes and purges count in
    the cartridges but not in the piece. Changes nothing in the file.

        steps:
          - tally:
              bands_mm: 50
    """

    name = "tally"
    Settings = TallySettings
    after = ("cold", "purge", "swap", "refill", "fan", "taper")

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """Notes alone."""
        need_layers(survey)
        uses = cartridges(plan)
        yield from (Note(f"{_use_text(plan, use)}") for use in uses)
        if survey.pieces == 1:
            yield from self._bands(survey, plan)
        yield from _colours(plan, uses)
        yield from _fronts(plan)
        yield from _short(plan, uses)

    def _bands(self, survey: Survey, plan: Plan) -> Iterator[Note]:
        """Clay of each band of height, by colour."""
        height_mm = survey.layers["height_mm"]
        band_mm = self.settings.bands_mm or float(height_mm.max()) / self.settings.bands
        band = np.maximum.accumulate(np.ceil(height_mm / band_mm - 1e-6))
        firsts = [0, *(np.flatnonzero(np.diff(band)) + 1).tolist()]
        for first, after in zip(firsts, [*firsts[1:], len(band)], strict=True):
            end = start(survey, after) if after < len(band) else Spot(survey.lines)
            parts = colours(plan, start(survey, first), end)
            yield Note(
                f"{_layers(first + 1, after)}, up to {height_mm[first:after].max():.1f} mm: "
                f"{_amount(plan, sum(parts.values()))}{_parts(parts)}"
            )


def _layers(first: int, last: int) -> str:
    return f"layer {first}" if first == last else f"layers {first} to {last}"


def _use_text(plan: Plan, use: CartridgeUse) -> str:
    where = "" if use.number == 1 else f", loaded at {place(plan.survey, use.from_spot)}"
    return (
        f"cartridge {use.number} ({use.colour}){where}: {_amount(plan, use.clay_ml)}, "
        f"of {use.usable_ml:.1f} ml that can be counted on"
    )


def _amount(plan: Plan, clay_ml: float) -> str:
    return f"{clay_ml:.1f} ml, {clay_ml * plan.config.clay.wet_density_g_ml:.0f} g wet"


def _parts(parts: dict[str, float]) -> str:
    """How a band divides into colours, if it does."""
    if len(parts) < 2:
        return "".join(f" ({colour})" for colour in parts)
    return " (" + ", ".join(f"{colour} {clay_ml:.1f} ml" for colour, clay_ml in parts.items()) + ")"


def _colours(plan: Plan, uses: list[CartridgeUse]) -> Iterator[Note]:
    """Each colour: what its cartridges give, what is in the piece, what is run out beside it."""
    in_piece, out = colours(plan), colours(plan, Spot(0), purges=True)
    for colour in dict.fromkeys(use.colour for use in uses):
        given_ml = sum(use.clay_ml for use in uses if use.colour == colour)
        piece_ml = in_piece.get(colour, 0.0)
        beside_ml = out.get(colour, 0.0) - piece_ml
        yield Note(
            f"{colour}: {given_ml:.1f} ml leave the cartridges, {piece_ml:.1f} ml are in the piece, "
            f"{beside_ml:.1f} ml are run out beside it"
        )


def _fronts(plan: Plan) -> Iterator[Note]:
    """Where each new colour shows, or that it never does."""
    for pause in plan.pauses:
        if not pause.new_cartridge or pause.colour is None:
            continue
        front = front_spot(plan, pause)
        if front.line >= plan.survey.lines:
            text = f"{pause.colour} never reaches the nozzle; swap earlier, or use clear: purge"
            yield Note(text, warning=True)
            continue
        asked = ""
        if pause.shows_at not in (None, front):
            asked = f" (asked for from {place(plan.survey, wanted(pause))} on)"
        yield Note(f"{pause.colour} is expected from {place(plan.survey, front)} on{asked}{change_text(plan, pause)}")


def _short(plan: Plan, uses: list[CartridgeUse]) -> Iterator[Note]:
    """Warn of every cartridge that is asked for more than it has."""
    start_ml = 0.0
    for use in uses:
        if use.over_ml > SAME_ML:
            full_ml = plan.config.cartridge.usable_ml
            more = math.ceil(use.over_ml / full_ml - 1e-9)
            empty = plan.find_clay(start_ml + use.usable_ml)
            yield Note(
                f"cartridge {use.number} ({use.colour}) runs out in {place(plan.survey, empty)}: "
                f"{use.clay_ml:.1f} ml are asked of it, {use.usable_ml:.1f} ml can be counted on. At least "
                f"{more} more cartridge{'s' if more > 1 else ''} and a pause for each are needed; add refill "
                f"to the steps, after swap",
                warning=True,
            )
        start_ml += use.clay_ml


@hookimpl
def gpost_steps() -> Iterable[type[Step[Any]]]:
    """The step of this module."""
    return [Tally]
