"""One thing wrong with a config, and how it is told in one line."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

from gpost.common.plain import shown
from gpost.errors import ConfigError

KeyPath: TypeAlias = tuple[str | int, ...]
"""Keys and list positions (from 0) from the top of a config down to a value."""

_LONGEST_SHOWN = 60
MOST_SHOWN = 200


class FilePlace(NamedTuple):
    """A line (from 1) of a config file; `line` None: the file as a whole."""

    file: str
    line: int | None = None


@dataclass(frozen=True, slots=True)
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

    def __str__(self) -> str:
        where = self.file if self.line is None else f"{self.file}:{self.line}"
        what = f"{self.value} {self.wrong}".strip()
        expected = self.expected and f"expected {self.expected}"
        said = "; ".join(part for part in (what, expected, self.hint) if part)
        return shown(": ".join(part for part in (where, self.key_path, said) if part))


class ConfigProblems(ConfigError):
    """All that is wrong with a config; `problems` holds them one by one, one for each line and key."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        """The text has one line for each problem, 200 at most."""
        firsts: dict[tuple[str, int | None, str], Problem] = {}
        for problem in problems:
            firsts.setdefault((problem.file, problem.line, problem.key_path), problem)
        self.problems = tuple(firsts.values())
        lines = [str(problem) for problem in self.problems[:MOST_SHOWN]]
        if len(self.problems) > MOST_SHOWN:
            lines.append("and more; fix these first")
        super().__init__("\n".join(lines))


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
