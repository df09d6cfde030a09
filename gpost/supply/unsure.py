"""Which trials are missing for a job: what its pauses hang on that nobody has measured."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from gpost.clay.chances import Spreads, front_sd_ml, sd_ml
from gpost.plan.layers import spot_words
from gpost.plan.plan import Plan
from gpost.spot import START, Spot
from gpost.supply.cartridges import cartridges, front_spot
from gpost.supply.loads import on_from
from gpost.supply.sure import load_of

METERED, DENSITY, LINE, RESERVE = 0.03, 0.01, 0.1, 0.3
"""Taken where a spread isn't known, to say which trial tells most: of the clay for a unit of E, of the wet
density, of the hose and of the reserve, each a share of it; common practice, no source."""
CLEAR_SDS = 4.0
"""A cartridge that has so many standard deviations more than it needs is not worth a word."""


class MissingTrial(NamedTuple):
    """Something that a pause hangs on and that is not known, or not how well."""

    key: str
    """The config key that the trial gives."""
    known: bool
    """Whether the config gives its value, and only the spread is missing."""
    off: str
    """How far it may be off, in words."""
    moves_ml: float
    """Net clay by which that moves what hangs on it most."""
    moves_layers: float
    """The same in layers of the piece there."""
    what: str
    """What hangs on it most, in words."""
    trial: str
    """How to find out."""

    @property
    def sentence(self) -> str:
        """All of it in words."""
        lacks = "has no spread yet" if self.known else "is gpost's own default, not your trial's"
        return (
            f"{self.key} {lacks}: off by {self.off}, {self.what} moves by {self.moves_ml:.1f} ml, "
            f"{self.moves_layers:.1f} layers; {self.trial}"
        )


class _Effect(NamedTuple):
    """By how much something moves, and what and where it is."""

    moves_ml: float
    spot: Spot
    what: str


def missing_trials(plan: Plan) -> list[MissingTrial]:
    """Those that would tell something, the most telling first: what moves a pause by most layers."""
    if not len(plan.survey.layers):
        return []
    found = list(_missing(plan))
    return sorted(found, key=lambda trial: -trial.moves_layers)


def _missing(plan: Plan) -> Iterator[MissingTrial]:
    clay, cartridge, spreads = plan.config.clay, plan.config.cartridge, plan.config.spreads
    if spreads.metered is None or "metering" not in clay.model_fields_set:
        known = "metering" in clay.model_fields_set
        yield from _trial(
            plan, Spreads(metered=METERED), "clay: metering", known, f"{100 * METERED:.0f} %",
            "weigh what E moves (gpost calibrate)",
        )  # fmt: skip
    if spreads.line_ml is None or not _line_known(plan):
        known, off_ml = _line_known(plan), LINE * cartridge.line_ml
        yield from _trial(
            plan, Spreads(line_ml=off_ml), "cartridge: line_ml", known, f"{off_ml:.0f} ml",
            "print a trial in two colours (gpost calibrate --colour)",
        )  # fmt: skip
    known = "reserve_ml" in cartridge.model_fields_set
    if not known or (spreads.reserve_ml is None and cartridge.reserve_ml > 0):
        off_ml = RESERVE * cartridge.reserve_ml
        yield from _trial(
            plan, Spreads(reserve_ml=off_ml), "cartridge: reserve_ml", known, f"{off_ml:.0f} ml",
            "weigh what is left over and log it (gpost log)",
        )  # fmt: skip
    if spreads.density is None or "wet_density_g_ml" not in clay.model_fields_set:
        known = "wet_density_g_ml" in clay.model_fields_set
        yield from _trial(
            plan,
            Spreads(density=DENSITY),
            "clay: wet_density_g_ml",
            known,
            f"{100 * DENSITY:.0f} %",
            "weigh 100 ml of it",
        )


def _line_known(plan: Plan) -> bool:
    return not plan.config.cartridge.model_fields_set.isdisjoint(("line_ml", "hose_bore_mm"))


def _trial(plan: Plan, off: Spreads, key: str, known: bool, words: str, trial: str) -> Iterator[MissingTrial]:
    """The trial, if what it gives moves anything."""
    effects = [effect for effect in (*_ends(plan, off), *_fronts(plan, off)) if effect.moves_ml > 0]
    if effects:
        worst = max(effects, key=lambda effect: effect.moves_ml / _layer_ml(plan, effect.spot))
        layers = worst.moves_ml / _layer_ml(plan, worst.spot)
        yield MissingTrial(key, known, words, worst.moves_ml, layers, worst.what, trial)


def _ends(plan: Plan, off: Spreads) -> Iterator[_Effect]:
    """How far the ends of cartridges move that have little to spare."""
    uses, survey = cartridges(plan)[on_from(plan) :], plan.survey
    usual = Spreads(METERED, DENSITY, None, RESERVE * plan.config.cartridge.reserve_ml)
    for use, following in zip(uses, [*uses[1:], None], strict=True):
        load = load_of(plan, use)
        if use.need_ml + CLEAR_SDS * sd_ml(load, usual) < use.usable_ml:
            continue
        end = Spot(survey.lines) if following is None else following.from_spot
        yield _Effect(sd_ml(load, off), end, f"the end of cartridge {use.number}")


def _fronts(plan: Plan, off: Spreads) -> Iterator[_Effect]:
    """How far the places move where new clay shows."""
    hose, begun = plan.config.cartridge.hose, START if plan.restart is None else plan.restart.spot
    for pause in plan.pauses:
        if pause.new_cartridge and pause.colour is not None:
            pushed_ml = hose.pushed_ml(pause.shows_share)
            moves_ml = front_sd_ml(0.0, pushed_ml, hose.holdup_ml, off)
            spot = front_spot(plan, pause)
            if begun < spot and spot.line < plan.survey.lines:
                yield _Effect(moves_ml, spot, f"{pause.colour}, due at {spot_words(plan.survey, spot)},")


def _layer_ml(plan: Plan, spot: Spot) -> float:
    """Clay of the layer at a spot, ml; never 0."""
    layers = plan.survey.layers
    index = min(max(plan.survey.index_at(spot.line), 0), len(layers) - 1)
    return max(float(layers["clay_ml"][index]), 1e-6)
