"""The model of a studio file, filled with a potter's own numbers; what is not known stays behind a `#`."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from importlib.resources import files
from typing import Any, NamedTuple, TypeAlias

from gpost.config.model import Config
from gpost.config.problem import KeyPath
from gpost.config.scalars import SWITCHES, resolve
from gpost.config.settings import Settings

Given: TypeAlias = Mapping[KeyPath, Any]
"""Values by the path of their keys: numbers, texts, null, lists and tables of these."""

EDITORS = "# yaml-language-server: $schema=config.schema.json"
"""The line by which an editor finds the schema beside the model; a potter's own file has none beside it."""
MADE_UP = "# The numbers are those of a made-up studio. Measure your own before you trust a pause to them."
NOT_GIVEN = (
    "# A key behind a # is one that you have not given: gpost takes its own (what is shown, if it has any)\n"
    "# till the trial that is named above it gives yours. Write that then, and take the # away."
)
_KEY = re.compile(r"( *)(# )?([a-z_0-9]+):(?: (.*))?")
_PLAIN = re.compile(r"[A-Za-z](?:[A-Za-z0-9 ]*[A-Za-z0-9])?")


def model() -> str:
    """The studio file of a made-up studio, with words on every key."""
    return (files("gpost.workbook.first") / "studio.yaml").read_text("utf-8")


class Line(NamedTuple):
    """A line of the model that has a key with a value."""

    path: KeyPath
    indent: str
    value: str
    """As it stands in the model."""
    words: tuple[str, ...]
    """The comment above it."""

    def written(self, given: Given) -> str:
        """The line with the value that is given, or else with gpost's own, behind a `#`."""
        key = self.path[-1]
        if self.path in given:
            return f"{self.indent}{key}: {flow(given[self.path])}"
        own = default(self.path)
        return f"{self.indent}# {key}: {self.value if own in (None, (), []) else flow(own)}"


def filled(given: Given) -> str:
    """The text of a studio file: what is given, and all other keys behind a `#`."""
    lines = (line if isinstance(line, str) else line.written(given) for line in _lines() if line != EDITORS)
    return "".join(f"{line}\n" for line in lines).replace(MADE_UP, NOT_GIVEN)


def key_lines() -> dict[KeyPath, Line]:
    """The lines of the model that have keys with values, by their paths."""
    return {line.path: line for line in _lines() if isinstance(line, Line)}


def _lines() -> Iterator[str | Line]:
    tables: tuple[str, ...] = ()
    words: list[str] = []
    for text in model().splitlines():
        found = _KEY.fullmatch(text)
        level = 0 if found is None else len(found[1]) // 2
        path = () if found is None else (*tables[:level], found[3])
        if found is None or not _known(path):
            words = [*words, text.strip().removeprefix("# ")] if text.strip().startswith("# ") else []
            yield text
        elif found[4] is None:
            tables, words = path, []
            yield text
        else:
            yield Line(path, found[1], found[4], tuple(words))
            words = []


def _known(path: tuple[str, ...]) -> bool:
    try:
        default(path)
    except AttributeError:
        return False
    return True


def default(path: KeyPath) -> Any:
    """What gpost takes where a config doesn't say it. Raises AttributeError for an unknown key."""
    found: Any = Config()
    for key in path:
        found = getattr(found, str(key))
    return found


def flow(value: Any) -> str:
    """A value as it is written in one line of YAML, so that a config gives it back just so."""
    match value:
        case None:
            return "null"
        case bool():
            return "true" if value else "false"
        case int() | float():
            return str(int(value)) if float(value).is_integer() and abs(value) < 1e15 else repr(value)
        case str():
            plain = _PLAIN.fullmatch(value) and resolve(value) == value and value.lower() not in SWITCHES
            return value if plain else json.dumps(value, ensure_ascii=not value.isprintable())
        case Settings():
            kept = {key: part for key, part in value if part is not None and part is not False}
            return flow(kept)
        case Mapping():
            return "{" + ", ".join(f"{key}: {flow(part)}" for key, part in value.items()) + "}"
        case _:
            return "[" + ", ".join(map(flow, value)) + "]"
