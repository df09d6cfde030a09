"""Word edits within one block: replace, add, comment out; then one splice puts them all in."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from gpost.read.block import PAD, Block
from gpost.survey.marks import SILENCED
from gpost.write.figures import FEW, Texts

try:
    from gpost.write.onepass import as_text, splice
except ImportError:  # installed without a compiler
    from gpost.write.figures import as_text, splice

WRITER = "columns" if splice.__module__.endswith("figures") else "compiled"
"""Which of the two is in use."""
Ints = NDArray[np.int64]
Ranges: TypeAlias = tuple[Ints, Ints, Texts]
"""Where ranges of bytes start and end, and the text for each; by where they start, then by where they end."""

BYTE_ORDER_MARK = b"\xef\xbb\xbf"


@dataclass(slots=True)
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
    dropped: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    """Indexes of words that are taken out, ascending."""
    _bulk: list[tuple[Ints, Ints, Ints]] = field(default_factory=list)
    _start: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    _growth: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    _spliced: NDArray[np.uint8] = field(default_factory=lambda: np.zeros(0, np.uint8))

    def many(self, index: Ints, places: Ints, decimals: Ints) -> None:
        """Give many words new numbers at once, places / 10**decimals each; shape (k,), index ascending."""
        self._bulk.append((index, places, decimals))

    def drop(self, index: Ints) -> None:
        """Take words out, letter and number; shape (k,), index ascending. No other edit may concern them."""
        self.dropped = index

    def text(self, index: int) -> str:
        """The number of a word as it will stand there, without blanks."""
        if index in self.numbers:
            return self.numbers[index]
        for bulk, places, decimals in self._bulk:
            at = int(np.searchsorted(bulk, index))
            if at < len(bulk) and bulk[at] == index:
                return as_text(places[at : at + 1], decimals[at : at + 1]).flat.tobytes().decode("ascii")
        words = self.block.words
        raw = self.block.bytes[words.start[index] + 1 : words.end[index]].tobytes()
        return "".join(raw.decode("ascii").split())

    def value(self, index: int) -> float:
        """The number of a word as it will stand there."""
        return float(self.text(index))

    def settle(self) -> None:
        """Put all changes in; call once, before `spliced`."""
        start, end, texts = self._at_once()
        if len(self.dropped):
            words, nothing = self.block.words, Texts.of([b""] * len(self.dropped))
            out = (words.start.take(self.dropped), words.end.take(self.dropped), nothing)
            start, end, texts = _merged((start, end, texts), out)
        single = sorted(self._single())
        if single:
            starts, ends, added = zip(*single, strict=True)
            other = (np.array(starts, np.int64), np.array(ends, np.int64), Texts.of(list(added)))
            merged = _with_few if len(single) < FEW else _merged
            start, end, texts = merged((start, end, texts), other) if len(start) else other
        self._start = start
        self._spliced, self._growth = splice(self.block.bytes, start, end, texts)

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

    def _at_once(self) -> tuple[Ints, Ints, Texts]:
        """Byte ranges and texts of the words edited by `many`, but for those that `numbers` edits again."""
        columns = zip(*self._bulk, strict=True) if self._bulk else ([np.zeros(0, np.int64)],) * 3
        index, places, decimals = (np.concatenate(column) for column in columns)
        order = np.argsort(index, kind="stable")
        if self.numbers:
            order = order[~np.isin(index[order], list(self.numbers))]
        index = index[order]
        words = self.block.words
        start = words.start.take(index)
        start += 1
        return start, words.end.take(index), as_text(places.take(order), decimals.take(order))

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

    def spliced(self, start: int, end: int) -> bytes:
        """The block's bytes[start:end], whole lines, with all edits inside put in."""
        # at the end of the data stands what was added to a last line without a newline
        last = end >= len(self.block.bytes) - PAD
        return self._spliced[self._place(start) : self._place(end, after=last)].tobytes()

    def _place(self, at: int, *, after: bool = False) -> int:
        """Where byte `at` stands once all changes are in: before what is added there, or `after` it."""
        count = int(np.searchsorted(self._start, at, side="right" if after else "left"))
        return at + (int(self._growth[count - 1]) if count else 0)


def _with_few(a: Ranges, b: Ranges) -> Ranges:
    """As `_merged`, where the second list is short: the first then stays in long runs."""
    at = np.searchsorted(a[0], b[0])
    flat = a[2].flat
    cuts = np.append(0, np.cumsum(a[2].length))[at]
    edges = np.append(0, np.cumsum(b[2].length))
    parts, before = [], 0
    for cut, first, last in zip(cuts.tolist(), edges[:-1].tolist(), edges[1:].tolist(), strict=True):
        parts += [flat[before:cut], b[2].flat[first:last]]
        before = cut
    texts = Texts(np.concatenate([*parts, flat[before:]]), np.insert(a[2].length, at, b[2].length))
    return np.insert(a[0], at, b[0]), np.insert(a[1], at, b[1]), texts


def _merged(a: Ranges, b: Ranges) -> Ranges:
    """Two lists of ranges and their texts as one, by where they start."""
    start, end = np.concatenate([a[0], b[0]]), np.concatenate([a[1], b[1]])
    length, flat = np.concatenate([a[2].length, b[2].length]), np.concatenate([a[2].flat, b[2].flat])
    order = np.lexsort((end, start))
    origin = (np.cumsum(length) - length)[order]
    length = length[order]
    source = np.repeat(origin - (np.cumsum(length) - length), length) + np.arange(len(flat))
    return start[order], end[order], Texts(flat[source], length)
