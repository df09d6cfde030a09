"""The file's own lines that switch the blower or the auger by a name, as in `SET_AIR VALUE=1`."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from gpost.config.blower import name_and_words, plain_number, says_same
from gpost.config.commands import LEVEL, code_and_numbers
from gpost.read.block import Block
from gpost.read.oddline import Odd, body_of


class NamedSwitch:
    """Knows the names, and the words behind them, by which one studio switches one thing."""

    def __init__(self, on_command: str, off_command: str, full: float) -> None:
        """`full`: the level where none is said."""
        on, off = (
            (*name_and_words(each), code_and_numbers(each) is None) for each in (on_command, off_command)
        )
        self._words: dict[str, dict[str, str]] = {name: words for name, words, named in (on, off) if named}
        """By name, the words that say which thing it is."""
        self._level = next((key for key, value in on[1].items() if value == LEVEL), "")
        """The word of `on` that says how much."""
        self._off = off[:2]
        self._full = full
        if on[0] == off[0]:
            same = {key: value for key, value in on[1].items() if says_same(off[1].get(key), value)}
            self._words = dict.fromkeys(self._words, same)
        for words in self._words.values():
            words.pop(self._level, None)

    def __bool__(self) -> bool:
        """Whether there is any name."""
        return bool(self._words)

    def switched(self, block: Block) -> Iterator[tuple[int, float, str]]:
        """Lines of a block that switch it, ascending, the raw level from there on, and the name.

        The level is 0 for off, the name in capitals.
        """
        for odd in block.odd if self._words else ():
            if odd.kind == Odd.NAMED_COMMAND:
                body = body_of(block.line_bytes(odd.line), block.chunk.first_line + odd.line)
                name, words = name_and_words(body.decode("utf-8", "replace"))
                if name in self._words and _holds(words, self._words[name]):
                    yield odd.line, self._level_of(name, words), name

    def _level_of(self, name: str, words: Mapping[str, str]) -> float:
        """As hard as it can, where no level is said."""
        level = plain_number(words.get(self._level, ""))
        off = name == self._off[0] and _holds(words, self._off[1])
        if off or level <= 0:
            return 0.0
        return self._full if math.isnan(level) else level


def _holds(words: Mapping[str, str], wanted: Mapping[str, str]) -> bool:
    return all(says_same(words.get(key), value) for key, value in wanted.items())
