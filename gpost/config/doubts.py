"""Values that fit and can hardly be meant: they are asked about, and stop nothing."""

from __future__ import annotations

from collections.abc import Iterator

from gpost.common.duration import lasting
from gpost.config.model import Config
from gpost.config.problem import KeyPath, Problem, shown_path
from gpost.config.unlikely import Doubt, doubt_of
from gpost.config.yamltree import Items, Node, Table

FRACTION_BELOW = 1.5
"""A percent below it may be a fraction of 1: flow and feed up to half as much again."""
TRACE_BELOW = 0.1
"""The same of colourants (`percent`), of which the strongest tint a clay from there on: common practice, no
source."""
LEAST_G_ML = 0.02
"""An empty cartridge weighs as much to a ml that it holds at the least; a disposable syringe weighs several
times that. Common practice, no source."""
LOST_OF_HOSE, LEAST_LOST_ML = 0.25, 5.0
"""Share of what the hose holds that no start loses, and so much at the least where hardly any is there: own
choice, no source."""
MOST_STAGES = 1000.0
"""From there on the middle two thirds of a change take less than 1/16 of the hose (2 / sqrt(stages), the
standard deviation of tanks in series): less than a trial by eye tells from a plug."""
MORE_THAN_WHOLE = ("flow", "layer")
"""What stands in the names of percents of a step that may be above 100."""
SMALL_BELOW = {"density": 0.05, "spread": 0.1, "margin": 0.1, "waste": 0.3, "clear": 0.0}
"""What stands in the names of percents that are small as a rule, and below what they may be a fraction of 1
all the same; the first that is there counts. Measures and prints differ by more, and one print in a thousand
that runs dry is still a chance to take: own choice, no source."""
MOST_SETTLE_S = 600.0
"""A hose oozes for some minutes at the most once it is relieved: common practice, no source."""


def doubts(whole: Table, config: Config) -> Iterator[Problem]:
    """What to ask of a config that fits; `whole`: its files, laid over each other."""
    yield from _by_key(whole, ())
    yield from _hose(whole, config)
    yield from _cartridge(whole, config)
    yield from _park(whole, config)
    yield from _settle(whole, config)


def _by_key(node: Node, path: KeyPath) -> Iterator[Problem]:
    """What the numbers themselves can hardly mean, in steps as well."""
    if isinstance(node, Items):
        for index, item in enumerate(node.nodes):
            yield from _by_key(item, (*path, index))
    elif isinstance(node, Table):
        for key, entry in node.entries.items():
            yield from _by_key(entry.node, (*path, key))
    elif isinstance(node.value, int | float) and not isinstance(node.value, bool):
        key = next((part for part in reversed(path) if isinstance(part, str)), "")
        found = share_doubt(key, node.value, in_step=path[0] == "steps") or doubt_of(path, node.value)
        if found is not None:
            yield Problem.at(
                node.place, shown_path(path), value=node.shown, wrong=found.wrong, hint=found.hint
            )


def share_doubt(key: str, value: float, *, in_step: bool = False) -> Doubt | None:
    """What to ask of a percent by the name of its key, wherever it was said; None: it may be meant so.

    Nobody is told to write what is refused: percents of the config stay below 100, of steps few go beyond.
    """
    words = key.split("_")
    below = TRACE_BELOW if key == "percent" else FRACTION_BELOW
    below = next((least for part, least in SMALL_BELOW.items() if part in words), below)
    if words[-1] != "percent" or not 0 < value < below:
        return None
    meant = 100 * value
    beyond = any(part in MORE_THAN_WHOLE for part in words)
    fits = meant < 100 or (in_step and (meant == 100 or beyond))
    return Doubt("percent is next to nothing", f"if a share of 1 is meant, write {meant:g}" if fits else "")


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
    loss = _at(whole, "cartridge", "start_loss_ml")
    if loss is not None and cartridge.start_loss_ml > max(LOST_OF_HOSE * cartridge.line_ml, LEAST_LOST_ML):
        yield Problem.at(
            loss.place,
            "cartridge.start_loss_ml",
            value=loss.shown,
            wrong=f"ml lost at each start is much beside the {cartridge.line_ml:.4g} ml that the hose holds",
            hint="is it all that was pushed? gpost calibrate tells it from weighings",
        )
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
