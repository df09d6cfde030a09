"""Values that fit and can hardly be meant: they are asked about, and stop nothing."""

from __future__ import annotations

from collections.abc import Iterator

from gpost.config.model import Config
from gpost.config.problem import KeyPath, Problem, shown_path
from gpost.config.yamltree import Items, Node, Scalar, Table

FRACTION_BELOW = 1.5
"""A percent below it may be a fraction of 1: flow and feed up to half as much again."""
SMALL_IS_MEANT = ("spread", "waste", "margin", "clear")
"""What stands in the names of percents that are small as a rule."""


def doubts(whole: Table, config: Config) -> Iterator[Problem]:
    """What to ask of a config that fits; `whole`: its files, laid over each other."""
    yield from _fractions(whole, ())
    yield from _hose(whole, config)
    yield from _park(whole, config)


def _fractions(node: Node, path: KeyPath) -> Iterator[Problem]:
    """Percents that may be fractions, in steps as well."""
    if isinstance(node, Items):
        for index, item in enumerate(node.nodes):
            yield from _fractions(item, (*path, index))
    elif isinstance(node, Table):
        for key, entry in node.entries.items():
            yield from _fractions(entry.node, (*path, key))
    elif _is_fraction(node, path):
        value = float(node.value)  # type: ignore[arg-type]
        yield Problem.at(
            node.place,
            shown_path(path),
            value=node.shown,
            wrong="percent is next to nothing",
            hint=f"if a share of 1 is meant, write {value * 100:g}",
        )


def _is_fraction(node: Scalar, path: KeyPath) -> bool:
    key = next((part for part in reversed(path) if isinstance(part, str)), "")
    if not key.endswith("_percent") or any(part in SMALL_IS_MEANT for part in key.split("_")):
        return False
    return isinstance(node.value, float) and 0 < node.value < FRACTION_BELOW


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


def _park(whole: Table, config: Config) -> Iterator[Problem]:
    found, park = _at(whole, "machine", "park"), config.machine.park
    if found is not None and not config.machine.bed.holds(park.x_mm, park.y_mm):
        yield Problem.at(
            found.place,
            "machine.park",
            wrong=f"X {park.x_mm:g}, Y {park.y_mm:g} lies off the bed (`machine.bed`)",
            hint="a pause there will be refused; which of the two is wrong?",
        )


def _at(whole: Table, *keys: str) -> Node | None:
    node: Node = whole
    for key in keys:
        entry = node.entries.get(key) if isinstance(node, Table) else None
        if entry is None:
            return None
        node = entry.node
    return node
