"""An intention as plain values of the right kinds, which nobody can change any more."""

from __future__ import annotations

import dataclasses
import math
from functools import cache
from types import UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

import numpy as np

from gpost.common.frozen import locked
from gpost.common.plain import storable
from gpost.spot import Spot

MOST_CHARS = 1000
"""Of one text; more than a screen of words is no message."""
SHOWN_CHARS = 60
"""Of a value, in a sentence."""
MOST_PARTS = 10_000
"""Of one list: beads, points of a bead, commands."""
MOST = 1e15
"""Beyond any amount, however it is reckoned from a config's numbers, and beyond any line; up to here whole
numbers are exact as floats, too."""
_KINDS = {str: "a text", bool: "true or false", int: "a whole number", float: "a number"}


def settled(intention: Any, known: dict[int, Any]) -> Any:
    """The intention, with lists as tuples, numpy's numbers as Python's and arrays copied and locked.

    It is the same one where that changes nothing. `known` keeps what became of records, by their id, so
    that what is named twice stays one. Raises ValueError, with a sentence that goes on from "step NAME ", for
    a field of the wrong kind, and for texts, lists and numbers that nobody can mean.
    """
    if not dataclasses.is_dataclass(intention) or isinstance(intention, type) or _is_plain(intention):
        return intention
    if id(intention) in known:
        return known[id(intention)]
    own = {field.name: getattr(intention, field.name) for field in dataclasses.fields(intention)}
    hints = _hints(type(intention))
    new = {name: _plain(value, hints.get(name), known) for name, value in own.items()}
    for name, hint in hints.items():
        if not _fits(new[name], hint):
            raise ValueError(
                f"wants a {type(intention).__name__} whose {name} is {told(new[name])}; it must be "
                f"{_words(hint)}"
            )
        _refuse_unmeant(type(intention).__name__, name, new[name])
    changed = {name: value for name, value in new.items() if value is not own[name]}
    known[id(intention)] = dataclasses.replace(intention, **changed) if changed else intention
    return known[id(intention)]


def _is_plain(intention: Any) -> bool:
    """Whether a record is plainly what it should be: a quick look, since there may be one for each layer."""
    hints = _hints(intention.__class__)
    return len(hints) == len(dataclasses.fields(intention)) and all(
        _plainly(getattr(intention, name), hint) for name, hint in hints.items()
    )


def _plainly(value: Any, hint: Any) -> bool:
    kind = type(value)
    if kind is float or kind is int:
        return (hint is float or hint is kind) and -MOST <= value <= MOST
    if kind is str:
        return hint is str and len(value) <= MOST_CHARS and value.isascii()
    return kind is Spot and hint is Spot and _is_plain(value)


def told(value: object) -> str:
    """A value in a few words, for a sentence."""
    if value is None:
        return "nothing"
    if type(value) not in (str, bool, int, float):  # what a step's own kind says of itself may be anything
        return f"a thing of the kind {type(value).__name__}"
    text = ascii(value) if not isinstance(value, int) or abs(value) <= MOST else "a very large number"
    return text if len(text) <= SHOWN_CHARS else f"{text[: SHOWN_CHARS - 3]}..."


def _plain(value: Any, hint: Any, known: dict[int, Any]) -> Any:
    if isinstance(value, np.generic):
        return value.item()
    if get_origin(hint) is np.ndarray and isinstance(value, list | tuple | np.ndarray):
        array = np.array(value)
        return locked(array.astype(np.int64) if array.dtype.kind in "iu" or not array.size else array)
    if isinstance(value, np.ndarray):
        value = value.tolist()
    if isinstance(value, str):
        text = storable(value)
        return value if text == value else text
    if isinstance(value, list | tuple):
        parts = [_plain(part, None, known) for part in value[: MOST_PARTS + 1]]
        same = isinstance(value, tuple) and all(new is own for new, own in zip(parts, value, strict=False))
        if same and len(parts) == len(value):
            return value
        return value._make(parts) if hasattr(value, "_make") else tuple(parts)
    return settled(value, known)


@cache
def _hints(kind: type) -> dict[str, Any]:
    """The kind of each field that a record of ours has; what a step's own kind adds to it is the step's."""
    ours = next((base for base in kind.__mro__ if base.__module__.partition(".")[0] == "gpost"), None)
    found = get_type_hints(ours) if ours is not None else {}
    return {name: _unnamed(hint) for name, hint in found.items()}


def _unnamed(hint: Any) -> Any:
    """What a name for a kind stands for, as numpy from 2.5 on has one for arrays."""
    return getattr(get_origin(hint), "__value__", hint)


def _fits(value: Any, hint: Any) -> bool:
    """Whether a value is of the kind that a field is declared to be."""
    origin, parts = get_origin(hint), get_args(hint)
    if origin in (UnionType, Union):
        return any(_fits(value, part) for part in parts)
    if origin is tuple and isinstance(value, tuple):
        if parts[-1] is Ellipsis:
            return all(_fits(part, parts[0]) for part in value)
        return len(value) == len(parts) and all(map(_fits, value, parts))
    if origin is np.ndarray:
        return isinstance(value, np.ndarray) and value.ndim == 1
    if isinstance(value, bool):
        return hint is bool
    if hint is float:
        return isinstance(value, int | float)
    return isinstance(value, origin or hint)


def _words(hint: Any) -> str:
    """What a field is declared to be, in words."""
    origin, parts = get_origin(hint), get_args(hint)
    if origin in (UnionType, Union):
        return " or ".join(_words(part) for part in parts)
    if origin is tuple:
        return f"a list, each entry {_words(parts[0])}"
    if origin is np.ndarray:
        return "a list, each entry a whole number"
    if hint is type(None):
        return "nothing"
    return _KINDS.get(hint, f"a {hint.__name__}")


def _refuse_unmeant(kind: str, name: str, value: Any) -> None:
    """Raise ValueError for what nobody can mean, or no file to print has room for."""
    what = f"wants a {kind} whose {name}"
    if isinstance(value, str) and len(value) > MOST_CHARS:
        raise ValueError(f"{what} is {len(value):,} characters long; {MOST_CHARS:,} are the most")
    if isinstance(value, float) and not math.isfinite(value):
        raise ValueError(f"{what} is no ordinary number")
    if isinstance(value, int | float) and abs(value) > MOST:
        raise ValueError(f"{what} is a number so large that nobody can mean it")
    if isinstance(value, tuple):
        if len(value) > MOST_PARTS:
            raise ValueError(f"{what} has more than {MOST_PARTS:,} parts")
        for part in value:
            _refuse_unmeant(kind, name, part)
