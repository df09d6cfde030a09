"""Word edits within one block: replace, add, comment out; then one splice puts them all in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from gpost.common.records import record
from gpost.read.block import PAD, Block
from gpost.survey.marks import SILENCED
from gpost.write.figures import GONE, KEPT, Numbers, Raise, Ranges, Texts

try:
    from gpost.write.onepass import as_text, raised, splice
except ImportError:  # installed without a compiler
    from gpost.write.figures import as_text, raised, splice

WRITER = "columns" if splice.__module__.endswith("figures") else "compiled"
"""Which of the two is in use."""
Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

BYTE_ORDER_MARK = b"\xef\xbb\xbf"


@record(slots=True)
class Edits:
    """Changes to the words of one block, gathered in any order. Lines are 0-based within the block."""

    block: Block
    numbers: dict[int, str] = field(default_factory=dict)
    """Index of a word -> its new number."""
    before: dict[int, str] = field(default_factory=dict)
    """Line -> a word to stand before its first."""
    after: dict[int, str] = field(default_factory=dict)
    """Line -> a word to stand after its last."""
    silenced: list[int] = field(default_factory=list)
    """Lines that become comments."""
    _many: Numbers = field(init=False)

    def __post_init__(self) -> None:
        self._many = Numbers.none(len(self.block.words.line))

    def many(self, index: Ints, places: Ints, decimals: Ints) -> None:
        """Give many words new numbers at once, places / 10**decimals each; shape (k,)."""
        self._many.places[index], self._many.decimals[index] = places, decimals

    def raised(self, asked: Raise) -> Floats:
        """Give many words new numbers that are raised; what each gains, mm: see `figures.raised`."""
        return raised(self._many, asked)

    def drop(self, index: Ints) -> None:
        """Take words out, letter and number; shape (k,). No other edit may concern them."""
        self._many.decimals[index] = GONE

    def is_dropped(self, index: int) -> bool:
        """Whether a word is taken out."""
        return bool(self._many.decimals[index] == GONE)

    def text(self, index: int) -> str:
        """The number of a word as it will stand there, without blanks."""
        if index in self.numbers:
            return self.numbers[index]
        if self._many.decimals[index] != KEPT:
            one = slice(index, index + 1)
            places, decimals = self._many.places[one], self._many.decimals[one].astype(np.int64)
            return as_text(places, decimals).flat.tobytes().decode("ascii")
        words = self.block.words
        raw = self.block.bytes[words.start[index] + 1 : words.end[index]].tobytes()
        return "".join(raw.decode("ascii").split())

    def value(self, index: int) -> float:
        """The number of a word as it will stand there."""
        return float(self.text(index))

    def parts(self, cuts: Sequence[int]) -> list[bytes]:
        """The block's bytes between ascending places with all changes put in, whole lines each; ask once.

        What comes before a place stands in the part that begins there, but for what is added to a last line
        that has no newline.
        """
        self._many.decimals[list(self.numbers)] = KEPT
        single = sorted(self._single())
        added = Ranges(
            np.array([start for start, _, _ in single], np.int64),
            np.array([end for _, end, _ in single], np.int64),
            Texts.of([text for _, _, text in single]),
        )
        data = self.block.bytes
        spliced, after = splice(data, self.block.words, self._many, added, np.array(cuts, np.int64))
        places = after.tolist()
        if cuts[-1] == len(data) - PAD:
            places[-1] = len(spliced) - PAD
        return [spliced[first:end].tobytes() for first, end in pairwise(places)]

    def _single(self) -> list[tuple[int, int, bytes]]:
        words = self.block.words
        found = [
            (int(words.start[index]) + 1, int(words.end[index]), text.encode())
            for index, text in self.numbers.items()
        ]
        for line, word in self.before.items():
            at = self._start_of_words(line)
            found.append((at, at, word.encode() + b" "))
        for line, word in self.after.items():
            at = self._end_of_words(line)
            found.append((at, at, b" " + word.encode()))
        for line in self.silenced:
            at = self.line_start(line)
            found.append((at, at, SILENCED.encode()))
        return found

    def line_start(self, line: int) -> int:
        """Where a line starts in the block's bytes, after a byte order mark."""
        start = int(self.block.line_start[line])
        first = self.block.chunk.first_line == line == 0
        return start + 3 if first and self.block.chunk.data.startswith(BYTE_ORDER_MARK) else start

    def _start_of_words(self, line: int) -> int:
        """Start of the first word that is no line number."""
        words = self.block.words
        first = int(words.line.searchsorted(line))
        if words.letter[first] == ord("N"):
            first += 1
        return int(words.start[first])

    def _end_of_words(self, line: int) -> int:
        """End of the last word that is no checksum."""
        words = self.block.words
        last = int(words.line.searchsorted(line, side="right")) - 1
        while words.letter[last] == ord("*"):
            last -= 1
        return int(words.end[last])
