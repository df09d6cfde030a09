"""Reads back the card that a summary in words ends with."""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

from gpost.common.plain import shown
from gpost.errors import ConfigError
from gpost.report.afterwards import CARD, CARD_ASKS, CARD_HEAD

MOST_BYTES = 1_000_000
_LINE = re.compile(rf"\s*({'|'.join(name for name, _ in CARD)}):(?!\S)\s*([^#]*?)\s*(?:#.*)?")


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
    _, head, card = text.rpartition(CARD_HEAD)
    if not head:
        raise ConfigError(
            f"{shown(path)} has no card in it; `gpost run --summary FILE` writes one, at the summary's end"
        )
    found = {}
    for line in card.splitlines():
        match = _LINE.fullmatch(line)
        if match is not None and match[2]:
            found[match[1]] = match[2]
    return Card(" ".join(card.partition(CARD_ASKS)[0].removeprefix(" of ").split()), found)
