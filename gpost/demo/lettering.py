"""Columns of whole steps as the words of many lines, and lines with numbers and checksums."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

NO_VALUE = re.compile(r"\.?0+$", re.MULTILINE)
"""Zeros at the end of a decimal fraction, and its point if nothing else is left of it."""


@dataclass(frozen=True)
class LetterColumn:
    """One letter of many lines: its values in steps of the last decimal, and on which lines it stands."""

    letter: str
    steps: NDArray[np.int64]
    stands: NDArray[np.bool_]
    decimals: int
    trim_zeros: bool = False

    def part(self, rows: slice) -> LetterColumn:
        """The same column of some of the lines."""
        return LetterColumn(self.letter, self.steps[rows], self.stands[rows], self.decimals, self.trim_zeros)

    def words(self) -> NDArray[Any]:
        """The words as strings, shape (n,), each with a space before it; empty where none stands."""
        result = np.full(len(self.steps), "", dtype=object)
        values = (self.steps[self.stands] / 10**self.decimals).tolist()
        if values:
            text = "\n".join([f" {self.letter}%.{self.decimals}f"] * len(values)) % tuple(values)
            if self.trim_zeros and self.decimals:
                text = NO_VALUE.sub("", text)
            result[self.stands] = text.split("\n")
        return result


def joined(columns: list[LetterColumn]) -> list[str]:
    """The lines that the columns' words make, in the order of the columns."""
    text = columns[0].words()
    for column in columns[1:]:
        text = text + column.words()
    return [line[1:] for line in text]


def numbered(lines: list[str], letter: str = "N") -> list[str]:
    """Put a line number, counted from 1, before and a checksum behind every line that is no comment.

    The checksum is the exclusive or of all bytes before its `*` (common practice on serial links).
    """
    commands = [index for index, line in enumerate(lines) if not line.startswith(";")]
    texts = [f"{letter}{number} {lines[index]}" for number, index in enumerate(commands, 1)]
    result = list(lines)
    for index, text, check in zip(commands, texts, _checksums(texts), strict=True):
        result[index] = f"{text}*{check}"
    return result


def _checksums(texts: list[str]) -> list[int]:
    joined_bytes = np.frombuffer("".join(f"{text}\n" for text in texts).encode(), dtype=np.uint8)
    ends = np.flatnonzero(joined_bytes == ord("\n"))
    starts = np.concatenate([[0], ends[:-1] + 1])
    return [int(check) for check in np.bitwise_xor.reduceat(joined_bytes, starts) ^ ord("\n")]
