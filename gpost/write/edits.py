"""Word edits within one block: replace, add, comment out; then one splice puts them all in."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, field

from gpost.read.block import PAD, Block

SILENCED = b"; gpost silenced: "
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
    _ranges: list[tuple[int, int, bytes]] = field(default_factory=list)

    def text(self, index: int) -> str:
        """The number of a word as it will stand there, without blanks."""
        if index in self.numbers:
            return self.numbers[index]
        words = self.block.words
        raw = self.block.bytes[words.start[index] + 1 : words.end[index]].tobytes()
        return "".join(raw.decode("ascii").split())

    def value(self, index: int) -> float:
        """The number of a word as it will stand there."""
        return float(self.numbers.get(index, self.block.words.value[index]))

    def settle(self) -> None:
        """Turn the changes into byte ranges; call once, before `spliced`."""
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
            found.append((at, at, SILENCED))
        self._ranges = sorted(found)

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
        data = self.block.bytes
        pieces: list[bytes] = []
        place = start
        low = bisect_left(self._ranges, (start,))
        # at the end of the data stands what was added to a last line without a newline
        high = bisect_left(self._ranges, (end,)) if end < len(data) - PAD else len(self._ranges)
        for first, last, text in self._ranges[low:high]:
            pieces += (data[place:first].tobytes(), text)
            place = last
        pieces.append(data[place:end].tobytes())
        return b"".join(pieces)
