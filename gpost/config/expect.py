"""What a settings model expects at a place, in words, read from its own JSON Schema."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, TypeAlias

from pydantic import BaseModel
from pydantic.errors import PydanticInvalidForJsonSchema, PydanticSchemaGenerationError
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaWarningKind

Schema: TypeAlias = Mapping[str, Any]
Location: TypeAlias = tuple[str | int, ...]
"""Keys and positions as pydantic gives them, with the names of union members in between."""

_DEEPEST = 5
_KINDS = {
    "boolean": "true or false",
    "string": "a text",
    "null": "null for none",
}


class Quiet(GenerateJsonSchema):
    """A schema for words alone: defaults that have no JSON form don't matter."""

    ignored_warning_kinds: set[JsonSchemaWarningKind] = {  # noqa: RUF012 - as in the base class
        "skipped-choice",
        "non-serializable-default",
        "skipped-discriminator",
    }


class Expectations:
    """The known keys and the wanted values of a model, at any place in it."""

    def __init__(self, model: type[BaseModel]) -> None:
        """A model whose types have no JSON Schema leaves everything unknown: "" and no keys."""
        try:
            self._root: Schema = model.model_json_schema(schema_generator=Quiet)
        except (PydanticInvalidForJsonSchema, PydanticSchemaGenerationError):
            self._root = {}

    def keys(self, location: Location = ()) -> list[str]:
        """Known keys of the table at the location, in the model's order."""
        found = (key for schema in self._at(location) for key in schema.get("properties", ()))
        return list(dict.fromkeys(found))

    def words(self, location: Location) -> str:
        """What is wanted at the location, such as "a number greater than 0"."""
        said = [self._said(schema) for schema in self._at(location)]
        return " or ".join(dict.fromkeys(text for text in said if text))

    def places(self) -> dict[str, list[str]]:
        """The tables that have a key, by the key, such as {"lift_mm": ["machine.pause"]}; not the top one."""
        found: dict[str, list[str]] = {}
        for path in self._walk([self._root], ()):
            tables, table = found.setdefault(path[-1], []), ".".join(path[:-1])
            if table and table not in tables:
                tables.append(table)
        return found

    def _walk(self, schemas: Iterable[Schema], path: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
        """The path of every key, down to a depth that a model holding itself can't escape."""
        for schema in self._open(schemas):
            for key, below in schema.get("properties", {}).items():
                yield (*path, key)
                if len(path) < _DEEPEST:
                    yield from self._walk([below], (*path, key))

    def _at(self, location: Location) -> list[Schema]:
        schemas = list(self._open([self._root]))
        tagged: list[Schema] = []
        for part in location:
            below = [child for schema in schemas for child in _children(schema, part)]
            if below:
                tagged = [schema for schema in below if "discriminator" in schema]
                schemas = list(self._open(below))
            else:
                chosen = [s["discriminator"]["mapping"].get(part) for s in tagged]
                schemas = list(self._open({"$ref": ref} for ref in chosen if ref)) or schemas
        return schemas

    def _open(self, schemas: Iterable[Schema], depth: int = 0) -> Iterator[Schema]:
        """The schemas with references followed and alternatives side by side."""
        for schema in schemas:
            inner = [*schema.get("anyOf", ()), *schema.get("oneOf", ()), *schema.get("allOf", ())]
            if "$ref" in schema:
                inner.append(self._root.get("$defs", {}).get(schema["$ref"].rpartition("/")[2], {}))
            if inner and depth < 20:
                yield from self._open(inner, depth + 1)
            else:
                yield schema

    def _said(self, schema: Schema) -> str:
        if "const" in schema or "enum" in schema:
            choices = [schema["const"]] if "const" in schema else schema["enum"]
            return " or ".join(json.dumps(choice, ensure_ascii=False) for choice in choices)
        kind = schema.get("type", "")
        if kind in ("number", "integer"):
            return _number(schema)
        if kind == "object":
            keys = list(schema.get("properties", ()))
            return f"keys such as {', '.join(f'{key}:' for key in keys[:3])}" if keys else "keys with values"
        if kind == "array":
            return self._list(schema)
        return _KINDS.get(kind, "")

    def _list(self, schema: Schema) -> str:
        items = schema.get("items")
        inner = [self._said(item) for item in self._open([items])] if isinstance(items, Mapping) else []
        each = " or ".join(dict.fromkeys(filter(None, inner)))
        return f"a list, each entry {each}" if each else "a list"


def _children(schema: Schema, part: str | int) -> list[Schema]:
    if isinstance(part, int):
        fixed = schema.get("prefixItems", [])
        found = fixed[part] if part < len(fixed) else schema.get("items")
    else:
        found = schema.get("properties", {}).get(part, schema.get("additionalProperties"))
    return [found] if isinstance(found, Mapping) else []


def _number(schema: Schema) -> str:
    noun = "a whole number" if schema["type"] == "integer" else "a number"
    if "minimum" in schema and "maximum" in schema:
        return f"{noun} from {schema['minimum']:g} to {schema['maximum']:g}"
    bounds = [
        f"{words} {schema[key]:g}"
        for key, words in (
            ("minimum", "of at least"),
            ("exclusiveMinimum", "greater than"),
            ("maximum", "of at most"),
            ("exclusiveMaximum", "less than"),
        )
        if key in schema
    ]
    return f"{noun} {' and '.join(bounds)}".strip()
