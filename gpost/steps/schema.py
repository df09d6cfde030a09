"""The JSON Schema of a config and of bands, for editors: each key with its words, every step that there is.

JSON Schema 2020-12 (json-schema.org). It takes whatever the config's own check takes as far as one value can
tell; what values mean beside each other is checked when the config is read.
"""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, TypeAlias

from pydantic import BaseModel
from pydantic.errors import PydanticInvalidForJsonSchema, PydanticSchemaGenerationError

from gpost.common.docs import docstring
from gpost.common.foreign import foreign
from gpost.config.colours import Bands
from gpost.config.described import tables_of, unit_of
from gpost.config.expect import Quiet
from gpost.config.fieldwords import field_words
from gpost.config.load import MOST_STEPS
from gpost.config.model import Config
from gpost.config.scalars import SWITCHES
from gpost.config.yamltree import read_tree, values
from gpost.steps.manager import StepRegistry
from gpost.steps.step import Step

Schema: TypeAlias = dict[str, Any]
DIALECT = "https://json-schema.org/draft/2020-12/schema"
MOST_EXAMPLES = 3


def config_schema(registry: StepRegistry, examples: Sequence[Mapping[str, Any]] = ()) -> str:
    """The schema of a config with the steps that the registry has loaded, as JSON.

    `examples`: configs whose values are shown as examples of their keys.
    """
    schema = _of_model(Config, "")
    definitions = schema["$defs"]
    definitions.pop("StepUse", None)
    entries: Schema = {}
    for name, step in sorted(registry.steps.items()):
        settings, more = _of_step(step, name)
        definitions |= more
        definitions[f"step-{name}"] = settings
        entries[name] = {"$ref": f"#/$defs/step-{name}"}
    bare = [name for name in entries if not definitions[f"step-{name}"].get("required")]
    schema["properties"]["steps"] |= {
        "type": ["array", "null"],
        "maxItems": MOST_STEPS,
        "items": {
            "anyOf": [
                {"enum": bare},
                {
                    "type": "object",
                    "properties": entries,
                    "additionalProperties": False,
                    "minProperties": 1,
                    "maxProperties": 1,
                },
            ]
        },
    }
    own = (example for step in registry.steps.values() for example in _own_examples(step))
    for example in (*examples, *own):
        _show(schema, schema, example)
        for entry in example.get("steps") or ():
            if isinstance(entry, Mapping):
                _show(schema, {"properties": entries}, entry)
    return _text("config", schema)


def bands_schema() -> str:
    """The schema of a file of bands, as JSON."""
    return _text("bands", _of_model(Bands, ""))


def _text(name: str, schema: Schema) -> str:
    document = {"$schema": DIALECT, "$id": f"urn:gpost:{name}:1", **schema}
    return json.dumps(document, indent=1, ensure_ascii=False) + "\n"


def _of_step(step: type[Step[Any]], name: str) -> tuple[Schema, Schema]:
    """A step's settings, and what they refer to; of settings that have no schema, that anything may stand."""
    try:
        with foreign():
            settings = _of_model(step.Settings, f"step-{name}-")
            settings["description"] = docstring(step)
    except (PydanticInvalidForJsonSchema, PydanticSchemaGenerationError):
        return {"description": docstring(step)}, {}
    except Exception:  # a fault of the step's; the others have their schema all the same
        return {}, {}
    return settings, settings.pop("$defs")


def _of_model(model: type[BaseModel], prefix: str) -> Schema:
    """A model's schema with all that is said of its keys, and its tables under names with that prefix."""
    schema = model.model_json_schema(schema_generator=Quiet, ref_template=f"#/$defs/{prefix}{{model}}")
    tables: Schema = schema.pop("$defs", {})
    kinds = {kind.__name__: kind for kind in _kinds(model)}
    _say(schema, model)
    for name, table in tables.items():
        if name in kinds:
            _say(table, kinds[name])
    whole: Schema = _eased({**schema, "$defs": {prefix + name: table for name, table in tables.items()}}, ())
    return whole


def _kinds(model: type[BaseModel]) -> list[type[BaseModel]]:
    """The model's tables, and those in them, each once."""
    found: list[type[BaseModel]] = []
    waiting = [model]
    while waiting:
        kind = waiting.pop()
        if kind not in found:
            found.append(kind)
            waiting += [
                table for field in kind.model_fields.values() for table in tables_of(field.annotation)
            ]
    return found


def _say(schema: Schema, model: type[BaseModel]) -> None:
    """Put the words for each key of a model, and its unit, into its schema."""
    schema["description"] = docstring(model)
    words = field_words(model)
    for key, field in schema.get("properties", {}).items():
        unit = unit_of(key)
        said = [words.get(key, ""), f"Unit: {unit}." if unit else ""]
        field["description"] = " ".join(part for part in said if part)


def _eased(node: Any, path: tuple[str, ...]) -> Any:
    """The schema as files are really read: a switch may be `on`, a plain 12 a text, nothing an empty group.

    Titles made of the keys, and a word of another standard, are left out.
    """
    if isinstance(node, list):
        return [_eased(part, path) for part in node]
    if not isinstance(node, dict):
        return node
    if path[-1:] in (("default",), ("const",), ("enum",), ("examples",)):
        return node
    names = path[-1:] in (("properties",), ("$defs",))  # of keys and tables: none of the schema's own words
    schema = {
        key: _eased(value, () if names else (key,))
        for key, value in node.items()
        if names or key not in ("title", "discriminator")
    }
    kind = None if names else schema.get("type")
    if "const" in schema or "enum" in schema:
        return schema
    if kind == "string":
        schema["type"] = ["string", "number", "boolean"]
    elif kind == "object" and not schema.get("required"):
        schema["type"] = ["object", "null"]
    elif kind == "boolean":
        del schema["type"]
        schema["enum"] = [
            True,
            False,
            *(form(word) for word in SWITCHES for form in (str, str.title, str.upper)),
        ]
    return schema


def _own_examples(step: type[Step[Any]]) -> Iterator[Mapping[str, Any]]:
    """The configs that stand in a step's docstring, indented."""
    for part in docstring(step).split("\n\n"):
        if part.startswith("    steps:"):
            tree = read_tree("docstring", textwrap.dedent(part), [])
            if tree is not None:
                yield values(tree)


def _show(root: Schema, schema: Schema, example: Mapping[str, Any]) -> None:
    """Put an example's values to their keys, down to the single values."""
    for key, value in example.items():
        for table in _tables(root, schema):
            field = table.get("properties", {}).get(key)
            if field is None or "const" in field:
                continue
            if isinstance(value, Mapping):
                _show(root, field, value)
            elif value is not None and not (isinstance(value, list) and any(map(_is_group, value))):
                shown = field.setdefault("examples", [])
                if value not in shown and len(shown) < MOST_EXAMPLES:
                    shown.append(value)


def _is_group(value: object) -> bool:
    return isinstance(value, Mapping | list)


def _tables(root: Schema, schema: Schema) -> Iterator[Schema]:
    """The tables that a schema stands for, references followed."""
    if "$ref" in schema:
        yield from _tables(root, root["$defs"][schema["$ref"].removeprefix("#/$defs/")])
    elif "properties" in schema:
        yield schema
    for inner in (*schema.get("anyOf", ()), *schema.get("oneOf", ())):
        yield from _tables(root, inner)
