"""Lists of a config that a later one replaces as a whole, and what is no longer done then."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import accumulate

from gpost.common.sentence import all_of
from gpost.config.model import Replaced
from gpost.config.problem import FilePlace, KeyPath, shown_path
from gpost.config.yamltree import Items, KeyEntry, Node, Scalar, Table, overlaid, values

_NAMED: tuple[KeyPath, ...] = (("steps",), ("clays",))
"""Lists of which each entry has a name."""


def replaced_lists(trees: Sequence[Table]) -> Iterator[Replaced]:
    """One for each list that a later of the files' `trees` replaces by another; an empty one is none."""
    for before, later in zip(accumulate(trees, overlaid), trees[1:], strict=False):
        yield from _in_table(before, later, ())


def _in_table(before: Table, later: Table, path: KeyPath) -> Iterator[Replaced]:
    for key, new in later.entries.items():
        old = before.entries.get(key)
        if old is None:
            continue
        if isinstance(old.node, Table) and isinstance(new.node, Table):
            yield from _in_table(old.node, new.node, (*path, key))
        elif isinstance(old.node, Items) and old.node.nodes and values(old.node) != values(new.node):
            yield _replaced((*path, key), old, new)


def _replaced(path: KeyPath, old: KeyEntry, new: KeyEntry) -> Replaced:
    lost = list((Counter(_names(old.node)) - Counter(_names(new.node))).elements()) if path in _NAMED else []
    key = shown_path(path)
    text = f"{key}: the list in {_where(new.place)} stands in place of the one in {_where(old.place)}"
    if lost:
        text += (
            f": {all_of(lost)} {'is' if len(lost) == 1 else 'are'} left out. If that is not meant, write all "
            f"of {key} into {new.place.file}, or, if that is the studio's, name it first (-c)"
        )
    return Replaced(text, bool(lost))


def _names(node: Node) -> list[str]:
    """What the steps or clays in a list are called."""
    return [_name(item) for item in node.nodes] if isinstance(node, Items) else []


def _name(node: Node) -> str:
    if isinstance(node, Scalar):
        return node.text
    if not isinstance(node, Table):
        return ""
    named = node.entries.get("name")
    if named is not None:
        return named.node.text if isinstance(named.node, Scalar) else ""
    return next(iter(node.entries)) if len(node.entries) == 1 else ""


def _where(place: FilePlace) -> str:
    return f"line {place.line} of {place.file}"
