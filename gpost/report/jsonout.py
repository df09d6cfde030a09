"""The summary as JSON, and the schema that is shipped as `summary.schema.json`."""

from __future__ import annotations

import ast
import inspect
import itertools
import json
from itertools import pairwise
from typing import Any

from gpost.report import byhand, model, parts
from gpost.report.digits import rounded
from gpost.report.model import Summary


def to_json(summary: Summary) -> str:
    """The summary as a JSON document that ends with a line end."""
    document = rounded(summary.model_dump(mode="json"))
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def make_schema() -> str:
    """The JSON Schema as the models give it; `python -m gpost.report.jsonout` prints it."""
    schema: dict[str, Any] = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "urn:gpost:summary:1",
        **Summary.model_json_schema(mode="serialization"),
    }
    _describe(schema)
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


def _describe(schema: dict[str, Any]) -> None:
    """Put in the docstrings of the fields.

    pydantic would do it, but with every start of the program: it reads and parses the source for it.
    """
    objects = {"Summary": schema, **schema["$defs"]}
    sources = [ast.parse(inspect.getsource(module)).body for module in (parts, byhand, model)]
    for definition in itertools.chain(*sources):
        if not isinstance(definition, ast.ClassDef) or definition.name not in objects:
            continue
        for field, text in pairwise(definition.body):
            match field, text:
                case ast.AnnAssign(target=ast.Name(name)), ast.Expr(ast.Constant(str(said))):
                    objects[definition.name]["properties"][name]["description"] = inspect.cleandoc(said)


if __name__ == "__main__":
    print(make_schema(), end="")
