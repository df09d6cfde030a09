"""Numbers raised, and written as text, many at once: fixed decimals, zeros trimmed as in `script.number`."""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.common.records import record
from gpost.read.block import Words

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_DECIMALS = 12
"""No number is written with more: below a millionth of a millionth of a millimetre nothing moves."""
SURE_DIGITS = 15
"""Digits that a float holds for sure."""
ROOM = 10**17
"""Numbers in last places from here on might not fit an int64 once zeros are added; they go one by one."""
FEW = 256
"""Texts that are put into a block part by part; more of them go in all at once."""
TENS = 10.0 ** np.arange(MOST_DECIMALS + 1)
INT_TENS = 10 ** np.arange(MOST_DECIMALS + 1)
SAME_MM = 1e-10
"""Places that differ by less are the same: sums of floats are not exact."""
POINT = ord(".")
KEPT, GONE = -1, -2
"""Instead of its new number's decimals: a word stays as it is, or is taken out with its letter."""


@record(frozen=True, slots=True)
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


class Numbers(NamedTuple):
    """New numbers for the words of a block, places / 10**decimals each; shape (words,)."""

    places: Ints
    decimals: NDArray[np.int8]
    """Or KEPT, or GONE."""

    @staticmethod
    def none(count: int) -> Numbers:
        """All words stay."""
        return Numbers(np.empty(count, np.int64), np.full(count, KEPT, np.int8))


class Ranges(NamedTuple):
    """k ranges of bytes and the text for each; by where they start, then by where they end."""

    start: Ints
    end: Ints
    texts: Texts


def fitting(decimals: Ints, value: Floats) -> Ints:
    """The decimals, or as many as fit into what a float holds for sure beside the digits before the point."""
    most = int(decimals.max(initial=0))
    if most + 7 <= SURE_DIGITS and np.abs(value).max(initial=0.0) < 1e7:
        return decimals
    before_point = np.maximum(np.searchsorted(TENS, np.abs(value), side="right"), 1)
    return np.asarray(np.clip(decimals, 0, np.clip(SURE_DIGITS - before_point, 0, MOST_DECIMALS)))


def rounded(value: Floats, decimals: Ints) -> Ints:
    """Each value in last places, rounded half to even; shape (k,). Exact to 15 digits: see `fitting`."""
    return np.asarray(np.rint(value * TENS[decimals]), np.int64)


def value_of(places: Ints, decimals: Ints) -> Floats:
    """The floats that numbers in last places are read as; shape (k,)."""
    return np.asarray(places / TENS[decimals])


class Raise(NamedTuple):
    """What is to become of k words' numbers; shape (k,)."""

    word: Ints
    """Indexes of the words."""
    value: Floats
    by_mm: Floats
    """What each is to gain."""
    scale: Floats
    """Millimetres in one unit."""
    decimals: Ints
    """As many as they have."""
    least: int
    """Decimals that each gets at least, in mm; one more in inches."""


def raised(numbers: Numbers, asked: Raise) -> Floats:
    """Put raised numbers among a block's new ones; what each word gains once it is rounded, mm, shape (k,).

    A word that would gain less than SAME_MM stays, and gains 0. See `fitting`, `rounded` and `value_of`.
    """
    word, value, by_mm, scale, decimals, least = asked
    wanted = value + by_mm / scale
    fits = fitting(np.maximum(decimals, np.where(scale == 1.0, least, least + 1)), wanted)
    places = rounded(wanted, fits)
    gained_mm = (value_of(places, fits) - value) * scale
    changed = (np.abs(by_mm) > SAME_MM) & (np.abs(gained_mm) > SAME_MM)
    numbers.places[word[changed]], numbers.decimals[word[changed]] = places[changed], fits[changed]
    return np.where(changed, gained_mm, 0.0)


def count_decimals(data: Bytes, words: Words, index: Ints) -> Ints:
    """Digits behind the points of some words' numbers, which are plain decimal ones; shape (k,)."""
    start, last = words.start.take(index), words.end.take(index) - 1
    # most often all have as many as the first, which one byte of each tells
    count = int(_counted(data, start[:1], last[:1]).sum())
    point = last - count
    if count and bool((data.take(point) == POINT).all() and (point > start).all()):
        return np.full(len(last), count)
    return _counted(data, start, last)


def _counted(data: Bytes, start: Ints, last: Ints) -> Ints:
    """Looks for the points of all numbers at once, from the last byte on to the left."""
    decimals, left, count = np.zeros(len(last), np.int64), np.arange(len(last)), 0
    while len(left):
        is_point = data.take(last) == POINT
        decimals[left[is_point]] = count
        more = np.flatnonzero(~is_point & (last > start))
        left, start, last, count = left[more], start[more], last[more] - 1, count + 1
    return decimals


def as_text(places: Ints, decimals: Ints) -> Texts:
    """Text of places / 10**decimals, each with its own number of decimals; zeros at the end are left out.

    places, decimals: shape (k,), decimals from 0 to MOST_DECIMALS. Up to 15 digits it is equal to
    `script.number(places / 10**decimals, decimals)`, letter by letter.
    """
    count = len(places)
    if not count:
        return Texts(np.zeros(0, np.uint8), np.zeros(0, np.int64))
    most = int(decimals.max())
    digits = np.abs(places)
    if float(digits.max()) * 10.0 ** (most - int(decimals.min())) >= ROOM:
        return Texts.of([_one(*pair) for pair in zip(places.tolist(), decimals.tolist(), strict=True)])
    # all with as many decimals as the longest: the zeros this adds are trimmed again
    wide = digits * INT_TENS[most - decimals]
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


def _one(places: int, decimals: int) -> bytes:
    """The same for one number of any length."""
    text = f"{Decimal(places).scaleb(-decimals):f}"
    return (text.rstrip("0").rstrip(".") if "." in text else text).encode()


def splice(data: Bytes, words: Words, numbers: Numbers, added: Ranges, cuts: Ints) -> tuple[Bytes, Ints]:
    """`data` with new numbers in its words and texts in place of other ranges, which overlap no number.

    Also where each of some ascending places, none of them inside a range, stands then: before what is put in
    there; shape (cuts,).
    """
    start, end, texts = _of_words(words, numbers)
    if len(added.start):
        merged = _with_few if len(added.start) < FEW else _merged
        start, end, texts = merged(Ranges(start, end, texts), added) if len(start) else added
    growth = np.cumsum(texts.length - (end - start))
    places = cuts + np.append(0, growth)[np.searchsorted(start, cuts)]
    if len(start) < FEW:
        return _joined(data, start.tolist(), end.tolist(), texts), places
    # what stands between two texts and each text in turn, all taken from one run of bytes
    length, origin = np.empty(2 * len(start) + 1, np.int64), np.empty(2 * len(start) + 1, np.int64)
    origin[0], origin[2::2], origin[1::2] = 0, end, len(data) + np.cumsum(texts.length) - texts.length
    length[0:-1:2], length[-1], length[1::2] = start, len(data), texts.length
    length[0::2] -= origin[0::2]
    place = np.cumsum(length) - length
    index = np.repeat((origin - place).astype(np.int32), length)
    index += np.arange(len(index), dtype=np.int32)
    return np.concatenate([data, texts.flat]).take(index), places


def _of_words(words: Words, numbers: Numbers) -> Ranges:
    """The ranges of words that change, without their letters where only the number does."""
    index = np.flatnonzero(numbers.decimals != KEPT)
    decimals = numbers.decimals.take(index).astype(np.int64)
    gone = decimals == GONE
    texts = as_text(numbers.places.take(index), np.where(gone, 0, decimals))
    if gone.any():
        texts = Texts(texts.flat[np.repeat(~gone, texts.length)], np.where(gone, 0, texts.length))
    return Ranges(words.start.take(index) + ~gone, words.end.take(index), texts)


def _joined(data: Bytes, start: list[int], end: list[int], texts: Texts) -> Bytes:
    """The same for few texts, part by part: most of the data is then copied in long runs."""
    edges = np.cumsum(texts.length).tolist()
    parts, after = [], 0
    for first, last, begin, stop in zip(start, end, [0, *edges], edges, strict=False):
        parts += [data[after:first], texts.flat[begin:stop]]
        after = last
    return np.concatenate([*parts, data[after:]])


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
    return Ranges(np.insert(a[0], at, b[0]), np.insert(a[1], at, b[1]), texts)


def _merged(a: Ranges, b: Ranges) -> Ranges:
    """Two lists of ranges and their texts as one, by where they start."""
    start, end = np.concatenate([a[0], b[0]]), np.concatenate([a[1], b[1]])
    length, flat = np.concatenate([a[2].length, b[2].length]), np.concatenate([a[2].flat, b[2].flat])
    order = np.lexsort((end, start))
    origin = (np.cumsum(length) - length)[order]
    length = length[order]
    source = np.repeat(origin - (np.cumsum(length) - length), length) + np.arange(len(flat))
    return Ranges(start[order], end[order], Texts(flat[source], length))
