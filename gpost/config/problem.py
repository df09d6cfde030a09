"""One thing wrong with a config, and how it is told in one line."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from typing import NamedTuple, TypeAlias

from gpost.common.plain import shown
from gpost.common.records import record
from gpost.errors import ConfigError

KeyPath: TypeAlias = tuple[str | int, ...]
"""Keys and list positions (from 0) from the top of a config down to a value."""

_LONGEST_SHOWN = 60
_LONGEST_LINE, _BEFORE = 90, 70
"""Letters of a long line that are shown, and how many of them before the caret."""
_CROWDED = re.compile(r"[{\[]|:\s.*:\s")
"""A line with several keys or values."""
MOST_SHOWN = 200


class FilePlace(NamedTuple):
    """A line and a column (from 1) of a config file; `line` None: the file as a whole."""

    file: str
    line: int | None = None
    column: int | None = None
    text: str = ""
    """The whole line, as it stands there."""


@record(frozen=True, slots=True)
class Problem:
    """One thing wrong: where, at which key, what, what was expected, and what may help.

    `value` is what stands there, as shown to a person; list positions in `key_path` count from 1.
    """

    file: str
    line: int | None = None
    key_path: str = ""
    value: str = ""
    wrong: str = ""
    expected: str = ""
    hint: str = ""
    column: int | None = None
    text: str = ""
    """The line itself, to point at the word in it."""

    @classmethod
    def at(cls, place: FilePlace, key_path: str = "", **words: str) -> Problem:
        """What is wrong at a place."""
        return cls(place.file, place.line, key_path, column=place.column, text=place.text, **words)

    @property
    def order(self) -> int:
        """Problems of one file are told by it: from the top; those of one line as they were found."""
        return self.line or 0

    @property
    def pointed(self) -> str:
        """The line with a caret under the word; "" where the line has only one word that can be meant."""
        if self.column is None or not _CROWDED.search(self.text):
            return ""
        begin = max(self.column - 1 - _BEFORE, 0)
        seen = shown(self.text[begin : begin + _LONGEST_LINE].rstrip())
        before = shown(self.text[begin : self.column - 1])
        if not begin:
            cut_off = len(seen) - len(seen.lstrip())
            seen, before = seen[cut_off:], before[cut_off:]
        return f"    {seen}\n    {' ' * sum(map(_width, before))}^"

    def __str__(self) -> str:
        where = ":".join(str(part) for part in (self.file, self.line, self.column) if part is not None)
        what = f"{self.value} {self.wrong}".strip()
        expected = self.expected and f"expected {self.expected}"
        said = "; ".join(part for part in (what, expected, self.hint) if part)
        return shown(": ".join(part for part in (where, self.key_path, said) if part))


class ConfigProblems(ConfigError):
    """All that is wrong with a config; `problems` holds them one by one, one for each line and key."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        """The text has a line for each problem, 200 at most, and where it helps the config's own below it."""
        firsts: dict[tuple[str, int | None, str], Problem] = {}
        for problem in problems:
            firsts.setdefault((problem.file, problem.line, problem.key_path), problem)
        self.problems = tuple(firsts.values())
        shown_ones = self.problems[:MOST_SHOWN]
        lines = [f"{problem}\n{problem.pointed}".rstrip("\n") for problem in shown_ones]
        if len(self.problems) > MOST_SHOWN:
            lines.append("and more; fix these first")
        super().__init__("\n".join(lines))


def _width(letter: str) -> int:
    """Columns that a letter takes on a terminal."""
    if unicodedata.combining(letter):
        return 0
    return 2 if unicodedata.east_asian_width(letter) in "WF" else 1


def quoted(text: str) -> str:
    """A text from a config as a person sees it in a problem."""
    return f'"{shown(cut(text))}"'


def cut(text: str) -> str:
    """A text that is too long for a message, with dots for its end."""
    return text if len(text) <= _LONGEST_SHOWN else f"{text[: _LONGEST_SHOWN - 3]}..."


def shown_key(key: str) -> str:
    """A key as it is named in a problem; quoted if it is no plain word."""
    plain = key.replace("-", "_").isidentifier() and len(key) <= _LONGEST_SHOWN
    return key if plain and key.isprintable() else quoted(key)


def shown_path(path: KeyPath) -> str:
    """`("steps", 1, "purge")` as `steps[2].purge`: list positions are shown counted from 1."""
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{shown_key(part)}"
    return text.removeprefix(".")
