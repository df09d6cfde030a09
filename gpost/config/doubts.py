"""Values that fit and can hardly be meant: they are asked about, and stop nothing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from gpost.common.duration import lasting
from gpost.config.model import Config
from gpost.config.problem import KeyPath, Problem, shown_path
from gpost.config.yamltree import Items, Node, Table

FRACTION_BELOW = 1.5
"""A percent below it may be a fraction of 1: flow and feed up to half as much again."""
TRACE_BELOW = 0.1
"""The same of colourants (`percent`), of which the strongest tint a clay from there on: common practice, no
source."""
LEAST_G_ML = 0.02
"""An empty cartridge weighs as much to a ml that it holds at the least; a disposable syringe weighs several
times that. Common practice, no source."""
MOST_STAGES = 1000.0
"""From there on the middle two thirds of a change take less than 1/16 of the hose (2 / sqrt(stages), the
standard deviation of tanks in series): less than a trial by eye tells from a plug."""
MOST_SETTLE_S = 600.0
"""A hose oozes for some minutes at the most once it is relieved: common practice, no source."""
SMALL_IS_MEANT = ("spread", "waste", "margin", "clear")
"""What stands in the names of percents that are small as a rule."""


def doubts(whole: Table, config: Config) -> Iterator[Problem]:
    """What to ask of a config that fits; `whole`: its files, laid over each other."""
    yield from _fractions(whole, ())
    yield from _hose(whole, config)
    yield from _cartridge(whole, config)
    yield from _park(whole, config)
    yield from _settle(whole, config)


def _fractions(node: Node, path: KeyPath) -> Iterator[Problem]:
    """Percents that may be fractions, in steps as well."""
    if isinstance(node, Items):
        for index, item in enumerate(node.nodes):
            yield from _fractions(item, (*path, index))
    elif isinstance(node, Table):
        for key, entry in node.entries.items():
            yield from _fractions(entry.node, (*path, key))
    elif isinstance(node.value, float):
        key = next((part for part in reversed(path) if isinstance(part, str)), "")
        share = share_doubt(key, node.value)
        if share is not None:
            yield Problem.at(
                node.place, shown_path(path), value=node.shown, wrong=share.wrong, hint=share.hint
            )


class ShareDoubt(NamedTuple):
    """Why a percent may be a share of 1."""

    wrong: str
    hint: str


def share_doubt(key: str, value: float) -> ShareDoubt | None:
    """What to ask of a percent by the name of its key, wherever it was said; None: it may be meant so."""
    words = key.split("_")
    if words[-1] != "percent" or any(part in SMALL_IS_MEANT for part in words):
        return None
    if not 0 < value < (TRACE_BELOW if key == "percent" else FRACTION_BELOW):
        return None
    return ShareDoubt("percent is next to nothing", f"if a share of 1 is meant, write {value * 100:g}")


def _hose(whole: Table, config: Config) -> Iterator[Problem]:
    cartridge, keys = config.cartridge, ("line_ml", "hose_length_mm")
    found = next((at for key in keys if (at := _at(whole, "cartridge", key))), None)
    if found is not None and cartridge.line_ml > cartridge.volume_ml:
        yield Problem.at(
            found.place,
            "cartridge.line_ml",
            wrong=f"the hose holds {cartridge.line_ml:.4g} ml, more than a whole cartridge "
            f"({cartridge.volume_ml:g} ml: `volume_ml`)",
            hint="are both in ml, and bore and length in mm?",
        )


def _cartridge(whole: Table, config: Config) -> Iterator[Problem]:
    cartridge = config.cartridge
    empty, stages = (_at(whole, "cartridge", key) for key in ("empty_g", "mixing_stages"))
    if empty is not None and (cartridge.empty_g or 0.0) < LEAST_G_ML * cartridge.volume_ml:
        yield Problem.at(
            empty.place,
            "cartridge.empty_g",
            wrong=f"an empty cartridge for {cartridge.volume_ml:g} ml hardly weighs {cartridge.empty_g:g} g",
            hint=f"if kg are meant, write {1000 * (cartridge.empty_g or 0.0):g}",
        )
    if stages is not None and (cartridge.mixing_stages or 0.0) > MOST_STAGES:
        yield Problem.at(
            stages.place,
            "cartridge.mixing_stages",
            wrong=f"a hose of {cartridge.mixing_stages:g} stages mixes next to nothing",
            hint="leave it out for one that doesn't mix, or look at the trial again",
        )


def _park(whole: Table, config: Config) -> Iterator[Problem]:
    found, park = _at(whole, "machine", "park"), config.machine.park
    if found is not None and not config.machine.bed.holds(park.x_mm, park.y_mm):
        yield Problem.at(
            found.place,
            "machine.park",
            wrong=f"X {park.x_mm:g}, Y {park.y_mm:g} lies off the bed (`machine.bed`)",
            hint="a pause there will be refused; which of the two is wrong?",
        )


def _settle(whole: Table, config: Config) -> Iterator[Problem]:
    found, settle_s = _at(whole, "machine", "pause", "settle_s"), config.machine.pause.settle_s
    if found is not None and settle_s > MOST_SETTLE_S:
        yield Problem.at(
            found.place,
            "machine.pause.settle_s",
            wrong=f"the nozzle would stand still for {lasting(settle_s)} after each prime",
            hint=f"if ms are meant, write {settle_s / 1000:g}",
        )


def _at(whole: Table, *keys: str) -> Node | None:
    node: Node = whole
    for key in keys:
        entry = node.entries.get(key) if isinstance(node, Table) else None
        if entry is None:
            return None
        node = entry.node
    return node
