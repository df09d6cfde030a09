"""What belongs to the studio: a config file that is read after the studio's may tighten it, not loosen it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple, TypeAlias

from pydantic import ValidationError

from gpost.config.model import WITHIN, Bed, Home, Machine
from gpost.config.problem import FilePlace, shown_path
from gpost.config.scalars import SWITCHES
from gpost.config.settings import command_name, switch_name
from gpost.config.yamltree import Items, Node, Scalar, Table, overlaid

Keys: TypeAlias = tuple[str, ...]

AT_MOST: tuple[Keys, ...] = (
    ("ceiling_mm",),
    ("max_feed_mm_min",),
    ("max_flow_ml_min",),
    ("max_relieve_ml",),
    *((key,) for key in WITHIN),
    ("pause", "relieve_ml"),
)
"""Keys under `machine:` that may be lowered."""
AT_LEAST: tuple[Keys, ...] = (("pause", "lift_mm"),)
"""Those that may be raised."""
THE_STUDIOS: tuple[Keys, ...] = (
    *(("home", axis) for axis in Home.model_fields),
    ("home_with_piece",),
    ("dwell_p",),
    ("axis_mode_sets_e",),
    ("body_clearance_mm",),
    ("pause", "commands"),
    ("pause", "hold"),
    ("file_may_hold",),
    ("auger", "on"),
    ("auger", "off"),
    ("pushes_no_clay",),
)
"""Those that say what the machine is: they are the same for every piece."""

_NAMES = {("file_may_hold",): command_name, ("pushes_no_clay",): switch_name}
"""Those that are lists of commands' names, of which the case doesn't matter."""
_FIX = "leave it out, or say it in the studio's own file if the machine is really so"
NOBODY = Table(FilePlace("gpost", 1))
"""Stands for the studio's config where no file is the studio's."""


class _Given(NamedTuple):
    """A value as it is given in a file."""

    value: Any
    place: FilePlace

    def __str__(self) -> str:
        return f"{_shown(self.value)} ({_where(self.place)})"


def loosened(before: Table, later: Table) -> Iterator[str]:
    """A sentence, with both files and lines, for each thing in which `later` goes beyond the files before it.

    Both fit the config. What no file gives is no limit; but of THE_STUDIOS gpost's own value counts then.
    """
    after = overlaid(before, later)
    for path in AT_MOST:
        old, new = _given(before, path), _given(after, path)
        if old is None or new is None or old.value is None:
            continue
        if new.value is None or new.value > old.value:
            wrong = "takes away" if new.value is None else "is beyond"
            yield f"{_named(path)}: {new} {wrong} {old}, and a later file may only lower it; {_FIX}"
    for path in AT_LEAST:
        old, new = _given(before, path), _given(after, path)
        if old is not None and new is not None and new.value < old.value:
            yield f"{_named(path)}: {new} is below {old}, and a later file may only raise it; {_FIX}"
    for path in THE_STUDIOS:
        old, new = _given(before, path), _given(after, path)
        was = _default(path) if old is None else old.value
        if new is not None and new.value != was:
            other = f"{_shown(was)}, as {before.place.file} leaves it" if old is None else old
            yield f"{_named(path)}: {new} differs from {other}, and only the studio may say it; {_FIX}"
    yield from _beyond_bed(before, after)


def _beyond_bed(before: Table, after: Table) -> Iterator[str]:
    """The bed is one thing: whoever gives a side of it has given it."""
    old, new = _node(before, ("bed",)), _node(after, ("bed",))
    if not isinstance(old, Table) or not isinstance(new, Table) or old is new:
        return
    small, large = _bed(new), _bed(old)
    if small is None or large is None or not large.contains(small):
        places = f"({_where(new.place)}) doesn't lie inside that of {_where(old.place)}"
        yield f"{_named(('bed',))}: the bed {places}, and a later file may only make it smaller; {_FIX}"


def _bed(table: Table) -> Bed | None:
    """None if what is given so far is no bed."""
    try:
        return Bed(**{key: _plain(entry.node) for key, entry in table.entries.items()})
    except ValidationError:
        return None


def _node(config: Table, path: Keys) -> Node | None:
    """What stands at a path under `machine:`; None if nothing does."""
    node: Node | None = config
    for key in ("machine", *path):
        entry = node.entries.get(key) if isinstance(node, Table) else None
        node = None if entry is None else entry.node
    return node


def _given(config: Table, path: Keys) -> _Given | None:
    node = _node(config, path)
    if node is None:
        return None
    value = _plain(node)
    if path in _NAMES and isinstance(value, tuple):
        value = tuple(map(_NAMES[path], value))
    return _Given(value, node.place)


def _plain(node: Node) -> Any:
    """The value as the config takes it: numbers, switches, texts, None, and lists of them."""
    if isinstance(node, Items):
        return tuple(_plain(item) for item in node.nodes)
    if not isinstance(node, Scalar):
        return None
    if node.plain and node.text.lower() in SWITCHES:
        return SWITCHES[node.text.lower()]
    return node.text if isinstance(node.value, str) else node.value


def _default(path: Keys) -> Any:
    value: Any = Machine()
    for key in path:
        value = getattr(value, key, None)
    return value


def _named(path: Keys) -> str:
    return shown_path(("machine", *path))


def _where(place: FilePlace) -> str:
    return f"{place.file}:{place.line}"


def _shown(value: Any) -> str:
    if isinstance(value, tuple):
        return f"[{', '.join(map(str, value))}]"
    if isinstance(value, bool) or value is None:
        return {True: "true", False: "false", None: "null"}[value]
    return f"{value:g}" if isinstance(value, float) else str(value)
