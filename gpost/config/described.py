"""Settings models in words: each key with what is expected, its unit, its default and what is said of it."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from typing import NamedTuple, get_args

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import to_jsonable_python

from gpost.common.docs import docstring
from gpost.common.layout import Paragraph, Part
from gpost.common.plain import shown
from gpost.config.expect import Expectations
from gpost.config.fieldwords import field_words
from gpost.config.model import StepUse

_DEEPEST = 16
"""Tables in tables are told up to this indent: a type may hold itself."""
_UNITS = {
    "mm_min": "mm/min",
    "ml_min": "ml/min",
    "mm_s2": "mm/s²",
    "g_ml": "g/ml",
    "pa_s": "Pa/s",
    "mm": "mm",
    "ml": "ml",
    "min": "min",
    "s": "s",
    "g": "g",
    "pa": "Pa",
    "gb": "GB",
    "percent": "percent",
}
"""Units by the end of a key, the longer ends first."""


class Key(NamedTuple):
    """A key of a model, or of a table in it."""

    path: tuple[str, ...]
    owner: type[BaseModel]
    """The table that it stands in."""

    @property
    def field(self) -> FieldInfo:
        """As pydantic knows it."""
        return self.owner.model_fields[self.path[-1]]


def keys_of(model: type[BaseModel], path: tuple[str, ...] = ()) -> Iterator[Key]:
    """All keys of a model and of the tables in it, to a depth that ends a model holding itself."""
    for name, field in model.model_fields.items():
        yield Key((*path, name), model)
        for table in tables_of(field.annotation) if len(path) < _DEEPEST / 4 else ():
            yield from keys_of(table, (*path, name))


def table_lines(model: type[BaseModel], margin: str = "  ") -> Iterator[Part]:
    """Each key of a model with all there is to say of it; those of the tables in it below it."""
    expected, said = Expectations(model), field_words(model)
    inner = margin + "    "
    for key, field in model.model_fields.items():
        yield f"{margin}{key}"
        yield from wrapped(_wanted(key, field, expected), indent=len(inner), first=len(inner))
        if key in said:
            yield from wrapped(said[key], indent=len(inner), first=len(inner))
        if len(inner) < _DEEPEST:
            yield from _below(field, inner)


def key_lines(key: Key) -> Iterator[Part]:
    """All there is to say of one key, and of those in it."""
    name = key.path[-1]
    words = field_words(key.owner).get(name)
    if words:
        yield from wrapped(words)
        yield ""
    yield from wrapped(wanted(key))
    below = list(_below(key.field, "  "))
    if below:
        yield from ["", "Keys under it:", *below]


def wanted(key: Key) -> str:
    """What may stand there, in which unit, and what holds when nothing does."""
    return _wanted(key.path[-1], key.field, Expectations(key.owner))


def wrapped(text: str, *, indent: int = 0, first: int = 0) -> list[Paragraph]:
    """A text as a paragraph, and how far in its lines and its first one stand."""
    return [Paragraph(shown(text, keep_newlines=True), " " * first, " " * indent)]


def _below(field: FieldInfo, margin: str) -> Iterator[Part]:
    """The tables that a key holds; where there are several to choose from, each with what it is."""
    tables = list(tables_of(field.annotation))
    for table in tables:
        if len(tables) > 1:
            yield from wrapped(docstring(table), indent=len(margin), first=len(margin))
        yield from table_lines(table, margin + "  " * (len(tables) > 1))


def tables_of(annotation: object) -> Iterator[type[BaseModel]]:
    """The tables that a key's type holds, such as the entries of a list.

    Not those of `steps`: a step stands there by its name, and is told by itself.
    """
    if isinstance(annotation, type) and issubclass(annotation, BaseModel) and annotation is not StepUse:
        yield annotation
    for part in get_args(annotation):
        yield from tables_of(part)


def _wanted(key: str, field: FieldInfo, expected: Expectations) -> str:
    """What may stand there, in which unit, and what holds when nothing does."""
    words = (expected.words((key,)) or "a value").replace(" or null for none", "")
    if StepUse in get_args(field.annotation):
        words = "a list of steps"
    elif words.startswith("keys"):
        words = (
            "a group of keys" if len(list(tables_of(field.annotation))) == 1 else "one of some groups of keys"
        )
    unit = unit_of(key)
    return f"{words}{f', in {unit}' if unit and 'number' in words else ''}; {_default(field)}"


def unit_of(key: str) -> str:
    """The unit that a key carries in its name; "" if it has none."""
    return next((unit for end, unit in _UNITS.items() if f"_{key}".endswith(f"_{end}")), "")


def _default(field: FieldInfo) -> str:
    """What holds when the key is left out, as it would stand in a config."""
    if field.is_required():
        return "must be given"
    value = field.get_default(call_default_factory=True)
    if value is None:
        return "may be left out"
    if isinstance(value, BaseModel) and type(value) is field.annotation:
        return "may be left out, as each key in it"  # which tell their own defaults
    plain = to_jsonable_python(value, exclude_none=True, fallback=str)
    return f"if left out: {json.dumps(plain, ensure_ascii=False).strip(chr(34))}"


def find_keys(models: Sequence[type[BaseModel]], name: str) -> list[Key]:
    """The keys with that path, such as `machine.air`, or those that end with it, such as `line_ml`.

    A key that stands in one of several tables to choose from counts once in each.
    """
    parts = tuple(name.split("."))
    known = [key for model in models for key in keys_of(model)]
    whole = [key for key in known if key.path == parts]
    return whole or [key for key in known if key.path[-len(parts) :] == parts]
