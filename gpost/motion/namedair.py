"""The file's own lines that switch the blower by a name, as the studio's `air` says: `SET_AIR VALUE=1`."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from gpost.config.commands import LEVEL, code_and_numbers
from gpost.config.machine import AirCommands
from gpost.read.block import Block
from gpost.read.oddline import Odd, body_of


class NamedAir:
    """Knows the names, and the words behind them, by which one studio switches its blower."""

    def __init__(self, air: AirCommands) -> None:
        on, off = ((*_parted(each), code_and_numbers(each) is None) for each in (air.on, air.off))
        self._words: dict[str, dict[str, str]] = {name: words for name, words, named in (on, off) if named}
        """By name, the words that say that it is the blower."""
        self._level = next((key for key, value in on[1].items() if value == LEVEL), "")
        """The word of `on` that says how hard it blows."""
        self._off = off[:2]
        self._full = air.full
        if on[0] == off[0]:
            same = {key: value for key, value in on[1].items() if _same(off[1].get(key), value)}
            self._words = dict.fromkeys(self._words, same)
        for words in self._words.values():
            words.pop(self._level, None)

    def __bool__(self) -> bool:
        """Whether there is any name."""
        return bool(self._words)

    def switched(self, block: Block) -> Iterator[tuple[int, float]]:
        """Lines of a block that switch the blower, ascending, and the raw level from there on; 0 for off."""
        for odd in block.odd if self._words else ():
            if odd.kind == Odd.NAMED_COMMAND:
                body = body_of(block.line_bytes(odd.line), block.chunk.first_line + odd.line)
                name, words = _parted(body.decode("utf-8", "replace"))
                if name in self._words and _holds(words, self._words[name]):
                    yield odd.line, self._level_of(name, words)

    def _level_of(self, name: str, words: Mapping[str, str]) -> float:
        """As hard as it can, where no level is said."""
        level = _number(words.get(self._level, ""))
        off = name == self._off[0] and _holds(words, self._off[1])
        if off or level <= 0:
            return 0.0
        return self._full if math.isnan(level) else level


def _parted(command: str) -> tuple[str, dict[str, str]]:
    """The name in capitals, and what stands behind the `=` of each word, by the word in capitals."""
    name, *words = command.split() or [""]
    pairs = (word.partition("=") for word in words)
    return name.upper(), {key.upper(): value for key, _, value in pairs}


def _holds(words: Mapping[str, str], wanted: Mapping[str, str]) -> bool:
    return all(_same(words.get(key), value) for key, value in wanted.items())


def _same(one: str | None, other: str) -> bool:
    """Whether two words say the same: `0.00` is 0, and names are told apart by their case."""
    return one is not None and (one == other or _number(one) == _number(other))


def _number(text: str) -> float:
    """What it says as a plain number; NaN for all else, which is no other."""
    try:
        value = float(text)
    except ValueError:
        return math.nan
    return value if math.isfinite(value) else math.nan
