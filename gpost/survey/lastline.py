"""A last line without an end: whether it is a whole one, by the form of the lines before it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from gpost.common.later import later

TAIL_BYTES = 4096
"""Of the file's end that is looked at."""

_COMMENT = later(rb";.*|\([^)]*\)?")
_WORD = later(rb"([A-Z])\s*([-+]?)([0-9]*)(\.?)([0-9]*)")


class _Word(NamedTuple):
    letter: bytes
    digits: int
    """Before the point."""
    point: bool
    decimals: int

    @property
    def breaks_off(self) -> bool:
        """Whether it ends where a number goes on: behind its point, or before any digit."""
        return not self.decimals and (self.point or not self.digits)


class LastLine:
    """The last line of a file, and those before it, as words."""

    def __init__(self, tail: bytes) -> None:
        *before, last = tail.split(b"\n")
        self._last = _words(last)
        self._before = [words for line in before if (words := _words(line))]

    def is_whole(self) -> bool:
        """Whether it says as much as the lines with the same words do, to as many digits."""
        numbers = self._alike(len(self._last))
        if not self._last or not numbers:
            return False
        here = self._last[-1]
        fewest = min(number.decimals for number in numbers)
        return here.decimals >= fewest and (
            here.decimals > 0 or here.digits >= min(number.digits for number in numbers)
        )

    def breaks_off(self) -> bool:
        """Whether it ends inside a number: behind its point, or with fewer digits than others of its kind.

        The latter where the words before it have theirs: who writes an end by hand writes all of it so.
        """
        if not self._last:
            return False
        here = self._last[-1]
        if here.breaks_off:
            return not any(word.breaks_off for words in self._before for word in words)
        numbers = self._alike()
        full = len(self._last) > 2 and all(word.decimals for word in self._last[1:-1])
        return full and bool(numbers) and here.decimals < min(number.decimals for number in numbers)

    def _alike(self, length: int | None = None) -> list[_Word]:
        """The words of earlier lines in the place of the last one, of lines that begin as this one does.

        `length`: of those alone that have so many words.
        """
        letters, at = _letters(self._last), len(self._last)
        return [
            words[at - 1]
            for words in self._before
            if _letters(words)[:at] == letters and length in (None, len(words))
        ]


def _words(line: bytes) -> Sequence[_Word]:
    """The words of a line, N and checksum left out; of a code its letter alone."""
    text = _COMMENT.sub(b"", line.upper()).split(b"*")[0].split(b" ", 1)
    plain = text[-1] if text[0].startswith(b"N") and len(text) > 1 else b" ".join(text)
    found = _WORD.findall(plain)
    return [_Word(letter, len(digits), bool(point), len(after)) for letter, _, digits, point, after in found]


def _letters(words: Sequence[_Word]) -> list[bytes]:
    return [word.letter for word in words]
