"""Numbers as text, many at once: fixed decimals, trailing zeros trimmed as `script.number` trims them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Ints = NDArray[np.int64]

MOST_DIGITS = 17
"""Digits that an int64 can hold with room to spare; a longer number is written one by one."""


@dataclass(frozen=True, slots=True)
class Texts:
    """k texts, one after the other in `flat`; `length` is that of each, shape (k,)."""

    flat: Bytes
    length: Ints

    def __len__(self) -> int:
        return len(self.length)

    @staticmethod
    def of(texts: list[bytes]) -> Texts:
        """Texts that are there already."""
        flat = np.frombuffer(b"".join(texts), np.uint8)
        return Texts(flat, np.fromiter(map(len, texts), np.int64, len(texts)))


def rounded(value: NDArray[np.float64], decimals: Ints) -> Ints:
    """Each value in last places, rounded half to even; shape (k,). Beyond 15 digits floats aren't exact."""
    scaled = value * np.power(10.0, decimals)
    return np.asarray(np.rint(scaled), np.int64)


def as_text(places: Ints, decimals: Ints) -> Texts:
    """Text of places / 10**decimals, each with its own number of decimals; zeros at the end are left out.

    places, decimals: shape (k,). Equal to `script.number(places / 10**decimals, decimals)`, letter by letter.
    """
    count = len(places)
    if not count:
        return Texts(np.zeros(0, np.uint8), np.zeros(0, np.int64))
    most = int(decimals.max())
    # all with as many decimals as the longest: the zeros this adds are trimmed again
    wide = np.abs(places) * np.power(10, most - decimals)
    columns = max(len(str(int(wide.max()))), most + 1)
    # a row a column of the text, so that every operation runs along memory
    matrix = np.empty((columns + 2, count), np.uint8)
    keep = np.ones((columns + 2, count), np.bool_)
    matrix[0] = 45
    np.less(places, 0, out=keep[0])
    matrix[columns + 1 - most] = 46
    _digits(wide.astype(np.uint32 if int(wide.max()) < 2**32 else np.uint64), most, matrix, keep)
    length = np.add.reduce(keep, axis=0, dtype=np.int64)
    return Texts(matrix.T[keep.T], length)


def _digits(rest: NDArray[np.unsignedinteger], most: int, matrix: Bytes, keep: NDArray[np.bool_]) -> None:
    """Fill the digits from the last to the first, and mark the zeros at both ends as left out."""
    last = len(matrix) - 1
    point = last - most
    ended = np.zeros(matrix.shape[1], np.bool_)
    for column in range(last, 0, -1):
        if column == point:
            keep[column] = ended
            continue
        higher = rest // 10
        digit = (rest - higher * 10).astype(np.uint8)
        rest = higher
        np.add(digit, 48, out=matrix[column])
        if column > point:
            ended |= digit > 0
            keep[column] = ended
        elif column < point - 1:
            # a zero that leads, with no digit left above it
            np.logical_or(digit, rest, out=keep[column])


def splice(data: Bytes, start: Ints, end: Ints, texts: Texts) -> tuple[Bytes, Ints]:
    """`data` with texts[k] in place of data[start[k]:end[k]]; and how much the data has grown after each.

    start, end: shape (k,), ascending, not overlapping.
    """
    gap = np.diff(start, prepend=0)
    gap[1:] -= (end - start)[:-1]
    after = len(data) - int(end[-1]) if len(end) else len(data)
    new = np.zeros(2 * len(start) + 1, np.int64)
    old = np.zeros_like(new)
    new[0:-1:2], new[1::2], new[-1] = gap, texts.length, after
    old[0:-1:2], old[1::2], old[-1] = gap, end - start, after
    kind = np.zeros(len(new), np.bool_)
    kind[1::2] = True
    is_new, is_old = np.repeat(kind, new), np.repeat(kind, old)
    out = np.empty(len(is_new), np.uint8)
    out[~is_new] = data[~is_old]
    out[is_new] = texts.flat
    return out, np.cumsum(texts.length - (end - start))
