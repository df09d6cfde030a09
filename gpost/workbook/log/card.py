"""Reads back the card that a summary in words ends with."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

from gpost.common.plain import shown
from gpost.errors import ConfigError
from gpost.report.afterwards import CARD, CARD_ASKS, CARD_HEAD, NOT_SLAB, OF_REST

MOST_BYTES = 1_000_000
_NAMES = "|".join(name for name, _ in CARD)
_ASKS = r"\s+".join(map(re.escape, CARD_ASKS.split()))
_HEAD = re.compile(rf"\s+of\s+(.*?)\s*{_ASKS}(?:\s+\(gpost\s+log\s+add\s+--card\))?", re.DOTALL)
_LINE = re.compile(rf"\s*({_NAMES}):\s*(.*?)\s*")
_REMARK = re.compile(r"#.*")
_OWN_REMARK = re.compile(rf"\s*#\s*{re.escape(dict(CARD)['note'])}")
"""A note is text, and may have any # but this."""
_ASKED = "\n".join(f"{what}{NOT_SLAB if name == 'grams' else ''}" for name, what in (*CARD, *OF_REST.items()))
"""What a narrow terminal may have put into a line of its own."""
_MASS = re.compile(r"\([\d.]+ k?g\)")


class Card(NamedTuple):
    """A card that was filled in."""

    source: str
    """Of which piece it is."""
    filled: dict[str, str]
    """What is filled in, by the names of the log's options; empty lines are left out."""

    def is_of(self, source: str) -> bool:
        """Whether it is the card of that piece: by the file's name, however it was set in lines."""
        return _name(self.source) == _name(shown(source))


def _name(path: str) -> str:
    return "".join(re.split(r"[\\/]", path)[-1].split())


def read_card(path: Path) -> Card:
    """The card at a summary's end.

    Raises ConfigError for a file that can't be read, or has no card in it.
    """
    try:
        with path.open("rb") as file:
            text = file.read(MOST_BYTES).decode("utf-8", "replace")
    except OSError as error:
        raise ConfigError(f"{shown(path)} can't be read: {error.strerror}") from error
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    before, head, card = text.rpartition(CARD_HEAD)
    top = _HEAD.match(card)
    if not head or top is None:
        raise ConfigError(
            f"{shown(path)} has no card in it; `gpost run --summary FILE` writes one, at the summary's end"
        )
    above = before.count("\n") + card[: top.end()].count("\n")
    lines = enumerate(card[top.end() :].split("\n"), above + 1)
    return Card(" ".join(top[1].split()), _filled(lines, shown(path)))


def _filled(lines: Iterable[tuple[int, str]], path: str) -> dict[str, str]:
    """What stands behind each name; a note goes on in the lines below it. Raises ConfigError for the rest."""
    found: dict[str, str] = {}
    name = ""
    for number, line in lines:
        match = _LINE.fullmatch(line)
        if "\ufffd" in line:
            raise ConfigError(f"{path}, line {number}: this is no UTF-8; save the card as UTF-8 text")
        if match is not None:
            name = match[1]
            if name in found:
                raise ConfigError(
                    f"{path}, line {number}: {name} stands on the card twice; leave one of them"
                )
            found[name] = match[2] if name == "note" else _REMARK.sub("", match[2]).strip()
        elif name == "note":
            found[name] = f"{found[name]} {line.strip()}".strip()
        elif _MASS.sub("({})", line.strip(" #")) not in _ASKED:
            raise ConfigError(
                f"{path}, line {number}: {shown(line.strip())!r} is none of the card's lines; write it "
                "behind one of their names, such as note:"
            )
    found["note"] = _OWN_REMARK.sub("", found.get("note", ""), count=1)
    return {name: text for name, text in found.items() if text}
