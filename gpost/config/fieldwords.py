"""What is said of each key of a settings model, whichever way it is written."""

from __future__ import annotations

import ast
import inspect
import textwrap
from collections.abc import Iterator
from functools import cache
from itertools import pairwise

from pydantic import BaseModel


def field_words(model: type[BaseModel]) -> dict[str, str]:
    """The words for each key that has some: its `Field(description=...)`, else the docstring under it.

    A docstring is read from the source, so that models need no time for it when they are made; where there
    is no source, there are none.
    """
    under: dict[str, str] = {}
    for kind in reversed(model.__mro__):
        if issubclass(kind, BaseModel) and kind is not BaseModel:
            under |= _docstrings(kind)
    said = {key: field.description or under.get(key, "") for key, field in model.model_fields.items()}
    return {key: words for key, words in said.items() if words}


@cache
def _docstrings(kind: type) -> dict[str, str]:
    """The docstring under each field that a class itself defines."""
    try:
        (definition,) = ast.parse(textwrap.dedent(inspect.getsource(kind))).body
    except (OSError, TypeError, ValueError, SyntaxError):
        return {}
    return dict(_under(definition.body)) if isinstance(definition, ast.ClassDef) else {}


def _under(body: list[ast.stmt]) -> Iterator[tuple[str, str]]:
    """(field, the text that stands right under it)."""
    for field, below in pairwise(body):
        if not (isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name)):
            continue
        if isinstance(below, ast.Expr) and isinstance(below.value, ast.Constant):
            text = below.value.value
            if isinstance(text, str) and text.strip():
                yield field.target.id, " ".join(text.split())
