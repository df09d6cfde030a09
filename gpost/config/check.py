"""A table of the config against the settings model it must fit: the model's values, or problems in words."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any, Generic, NamedTuple, TypeAlias, TypeVar, get_args

from pydantic import ValidationError
from pydantic_core import ErrorDetails
from pydantic_core.core_schema import ErrorType

from gpost.common.records import record
from gpost.config.expect import Expectations
from gpost.config.model import Config
from gpost.config.nearest import did_you_mean
from gpost.config.problem import MOST_SHOWN, FilePlace, KeyPath, Problem, shown_path
from gpost.config.scalars import SWITCHES, number_hint
from gpost.config.settings import BesideOthers, Settings
from gpost.config.yamltree import Items, KeyEntry, Node, Scalar, Table, values

M = TypeVar("M", bound=Settings)
Homes: TypeAlias = Mapping[str, Sequence[str]]
"""Tables of the config by the keys they hold, to tell where a misplaced key belongs."""

_NOT_A = {
    "float": "is not a number",
    "int": "is not a whole number",
    "decimal": "is not a number",
    "fraction": "is not a number",
    "complex": "is not a number",
    "bool": "is neither true nor false",
    "string": "is not a text",
    "bytes": "is not a text",
    "date": "is not a date",
    "datetime": "is not a date and time",
    "time": "is not a time",
    "url": "is not an address",
    "uuid": "is not an identifier",
    **dict.fromkeys(("list", "tuple", "set", "frozen_set", "deque", "iterable"), "is not a list"),
    **dict.fromkeys(("model", "dict", "mapping", "dataclass"), "is not a group of settings"),
}
_WRONG = {
    "greater_than": "is too small",
    "greater_than_equal": "is too small",
    "less_than": "is too large",
    "less_than_equal": "is too large",
    "finite_number": "is not an ordinary number",
    "multiple_of": "is not a multiple of {multiple_of}",
    "too_long": "has more than {max_length} {parts}",
    "too_short": "has fewer than {min_length} {parts}",
    "string_too_long": "has more than {max_length} characters",
    "string_too_short": "has fewer than {min_length} characters",
    "string_pattern_mismatch": "does not fit the pattern {pattern}",
    "int_parsing_size": "is too large",
    "literal_error": "is not one of the choices",
    "enum": "is not one of the choices",
    "none_required": "must be left out",
    "time_delta_type": "is not a length of time",
    "time_delta_parsing": "is not a length of time",
}
_UNKNOWN_KEY = ("extra_forbidden", "unexpected_keyword_argument")
_LACKING = ("missing", "union_tag_not_found")
_KNOWN_KINDS = frozenset(get_args(ErrorType))
_OWN_WORDS = ("value_error", "assertion_error")
_TABLE_WANTED = ("model_type", "model_attributes_type", "dict_type", "dataclass_type", "mapping_type")


@record(frozen=True, slots=True)
class Section(Generic[M]):
    """A table, the model it must fit, and where it stands in the config."""

    model: type[M]
    table: Table
    place: FilePlace
    """Where its own key stands; for the whole config the first file."""
    path: KeyPath = ()
    complete: bool = True
    """False if a part of the config could not be read: then nothing is said about what is missing."""

    def fit(self, problems: list[Problem]) -> M | None:
        """The model's values; None, with more `problems`, if the table does not fit."""
        changed: dict[KeyPath, Any] = {}
        while True:
            text = json.dumps(values(self.table, changed))
            try:
                return self.model.model_validate_json(text, strict=True)
            except ValidationError as error:
                errors = error.errors(include_url=False)
            new = self._other_readings(errors)
            if new.keys() <= changed.keys():
                problems += self._problems(errors)
                return None
            changed |= new

    def problem(self, path: KeyPath, wrong: str) -> Problem:
        """What is wrong with the value at a path of the table."""
        return _unusable(follow(self.table, self.place, path), (*self.path, *path), wrong)

    def _other_readings(self, errors: Sequence[ErrorDetails]) -> dict[KeyPath, Any]:
        """Values that fit where what is wanted shows how a plain word was meant.

        `on`, `off`, `yes` and `no` are switches where true or false is wanted, a plain 12 is text where
        a text is wanted, and a key with nothing after it is an empty group where a group is wanted.
        """
        found: dict[KeyPath, Any] = {}
        for error in errors:
            spot = follow(self.table, self.place, error["loc"])
            node, kind = spot.node, error["type"]
            if not isinstance(node, Scalar) or not node.plain:
                continue
            if kind == "bool_type" and node.text.lower() in SWITCHES:
                found[spot.path] = SWITCHES[node.text.lower()]
            elif kind == "string_type" and node.value is not None:
                found[spot.path] = node.text
            elif kind in _TABLE_WANTED and node.value is None:
                found[spot.path] = {}
        return found

    def _problems(self, errors: Sequence[ErrorDetails]) -> list[Problem]:
        expected, homes = Expectations(self.model), Expectations(Config).places()
        found = [self._problem(error, expected, homes) for error in errors[: 2 * MOST_SHOWN]]
        return [problem for problem in found if problem is not None]

    def _problem(self, error: ErrorDetails, expected: Expectations, homes: Homes) -> Problem | None:
        spot = follow(self.table, self.place, error["loc"])
        kind = error["type"]
        path = (*self.path, *spot.path)
        if kind in _UNKNOWN_KEY:
            return _unknown(path, spot.key_place, expected.keys(error["loc"][:-1]), homes)
        long = isinstance(spot.node, Items) and len(spot.node.nodes)
        if kind == "too_short" and long and long >= error["ctx"]["min_length"]:
            return None  # pydantic doesn't count entries that have problems of their own
        beside = isinstance(error.get("ctx", {}).get("error"), BesideOthers)
        if not self.complete and (
            beside or (isinstance(spot.node, Table) and kind in (*_OWN_WORDS, *_LACKING))
        ):
            return None
        if kind == "missing":
            words = expected.words(error["loc"])
            return _at(spot.key_place, (*path, *error["loc"][-1:]), wrong="is missing", expected=words)
        if kind in _OWN_WORDS:
            return _unusable(spot, path, str(error["ctx"]["error"]).strip() or "can't be used")
        if kind.startswith("union_tag"):
            key = str(error["ctx"]["discriminator"]).strip("'")
            return _choice(spot, path, key, expected.words((*error["loc"], key)))
        if kind not in _KNOWN_KINDS:  # a validator's own error
            return _at(spot.value_place, path, value=spot.node.shown, wrong=f"can't be used: {error['msg']}")
        return _misfit(spot, path, error, expected.words(error["loc"]))


class NodeSpot(NamedTuple):
    """Where an error's location leads: the last node on the way, its path, and the place of its key."""

    node: Node
    path: KeyPath
    key_place: FilePlace

    @property
    def value_place(self) -> FilePlace:
        """Where to look: at a value itself, but at the key of a group or list."""
        return self.node.place if isinstance(self.node, Scalar) and self.path else self.key_place


def follow(table: Table, place: FilePlace, location: Sequence[str | int]) -> NodeSpot:
    """Go down from the table. A part that is no key there, such as a union member's name, is passed over."""
    node: Node = table
    path: KeyPath = ()
    for part in location:
        child = _child(node, part)
        if child is not None:
            node, place, path = child.node, child.place, (*path, part)
    return NodeSpot(node, path, place)


def _child(node: Node, part: str | int) -> KeyEntry | None:
    if isinstance(node, Table):
        return node.entries.get(str(part))
    if isinstance(node, Items) and isinstance(part, int) and part < len(node.nodes):
        return KeyEntry(node.nodes[part].place, node.nodes[part])
    return None


def _at(place: FilePlace, path: KeyPath, **words: str) -> Problem:
    return Problem.at(place, shown_path(path), **words)


def _unusable(spot: NodeSpot, path: KeyPath, cause: str) -> Problem:
    value = f"{spot.node.shown} can't be used:" if isinstance(spot.node, Scalar) else ""
    return _at(spot.value_place, path, value=value, wrong=cause)


def _unknown(path: KeyPath, place: FilePlace, known: Sequence[str], homes: Homes) -> Problem:
    """A key that is not known there: what was meant, or where it belongs."""
    key, here = str(path[-1]), shown_path(path[:-1])
    tables = [table for table in homes.get(key, ()) if table != here]
    hints = [f"{key} belongs under {' or '.join(tables)}" if tables else "", did_you_mean(key, known)]
    if not any(hints):
        hints = [f"known here: {', '.join(known)}" if known else "no keys are known here"]
        if not here:
            hints.append("a step goes into the list under steps:")
    return _at(place, path, wrong="unknown key", hint="; ".join(filter(None, hints)))


def _choice(spot: NodeSpot, path: KeyPath, key: str, choices: str) -> Problem:
    """The key that says which kind a group is (`unit`) is missing or unknown."""
    named = spot.node.entries.get(key) if isinstance(spot.node, Table) else None
    if named is None:
        return _at(spot.key_place, (*path, key), wrong="is missing", expected=choices)
    value = named.node.shown or "nothing"
    return _at(named.place, (*path, key), value=value, wrong="is not one of the choices", expected=choices)


def _misfit(spot: NodeSpot, path: KeyPath, error: ErrorDetails, expected: str) -> Problem:
    kind, limits = error["type"], defaultdict(str, error.get("ctx", {}))
    limits["parts"] = "characters" if isinstance(spot.node, Scalar) else "entries"
    if isinstance(spot.node, Scalar) and spot.node.value is None:
        return _at(spot.value_place, path, wrong="nothing is given", expected=expected)
    hint = ""
    if isinstance(spot.node, Scalar) and expected.startswith("a list"):
        hint = f"put it in brackets: [{spot.node.shown}]"
    elif isinstance(spot.node, Scalar) and isinstance(spot.node.value, str) and "number" in expected:
        hint = number_hint(spot.node.text)
    elif isinstance(spot.node, Scalar) and expected.startswith("keys") and ":" in spot.node.text:
        hint = "put a blank behind each ':'"
    empty = kind == "too_short" and isinstance(spot.node, Items) and not spot.node.nodes
    wrong = (
        ("is empty" if empty else "")
        or _WRONG.get(kind, "").format_map(limits)
        or _NOT_A.get(kind.rpartition("_")[0])
        or _NOT_A.get(kind.partition("_")[0])
    )
    return _at(
        spot.value_place,
        path,
        value=spot.node.shown,
        wrong=wrong or "can't be used here",
        expected=expected,
        hint=hint,
    )
