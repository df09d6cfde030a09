"""Decimal numbers in the bytes to float64, eight characters at a time, rounded as Python rounds them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Places = NDArray[np.intp]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Words = NDArray[np.uint64]
"""Eight characters each, the first in the lowest byte."""

_U = np.uint64
ZEROS = _U(0x3030303030303030)
POINTS = _U(0x1010101010101010)
"""The bit that a point and the other signs have, and no digit, once the zeros are taken off."""
OVER_NINE = _U(0x7676767676767676)
HIGH_BITS = _U(0x8080808080808080)
MOST_EXACT = _U(1 << 53)
MARK_AT_END = _U(1 << 56)
"""The mark of a point that is the last character."""

_KEEP_LAST = np.array([0] + [-1 << 8 * (8 - count) for count in range(1, 9)], np.int64).view(np.uint64)
"""Mask that keeps the last `count` characters of a word, 0 to 8."""

_PLACES = _U(sum((byte + 1) << (60 - 8 * byte) for byte in range(8)))
_POWER = np.concatenate([[1.0], 10.0 ** np.arange(7, -1, -1)])
"""What the digits are to be divided by: 1 without a point, else by the byte in which the point stands."""

_JOINS = (
    (_U(10 * 2**8 + 1), _U(8), _U(0x00FF00FF00FF00FF)),
    (_U(100 * 2**16 + 1), _U(16), _U(0x0000FFFF0000FFFF)),
    (_U(10000 * 2**32 + 1), _U(32), _U(0xFFFFFFFF)),
)


def parse_numbers(data: Bytes, start: Places, end: Places) -> tuple[Floats, Flags]:
    """Values of the number texts data[start:end], and which of them are no decimal numbers.

    The texts hold digits and the signs `+ , - . /` only; 16 bytes must stand before the first and 8 after the
    last. Exact to the last bit (equal to Python's `float`): the digits become an integer below 2**53, divided
    once by an exact power of ten; whatever does not fit goes through `float` itself. Bad texts get NaN, as do
    numbers beyond what a float holds.
    """
    points, signs = _signs(data)
    length = end - start
    negative, signed = None, 0
    if signs:  # in some files, or parts of a file, there are none
        first = data.take(start)
        negative = first == 45
        has_sign = negative | (first == 43)
        signed = int(np.count_nonzero(has_sign))
        length -= has_sign
    tail = _load(data, end - 8, length)
    value, mark = _eight(tail)
    long = np.flatnonzero(length > 8)
    long_length, long_mark = length.take(long), mark.take(long)
    head = _load(data, end.take(long) - 16, long_length - 8)
    value[long], integer, head_mark = _sixteen(head, tail.take(long), long_mark)

    # all are well formed if there is one sign before and one point inside each number, and no other sign
    if signs == signed and points == np.count_nonzero(mark) + np.count_nonzero(head_mark):
        bad = np.zeros(len(value), np.bool_)
    else:
        bad = _badly_formed(tail)
        bad[long] |= _badly_formed(head)
    if head_mark.any():
        bad[long] |= (head_mark != 0) & (long_mark != 0)
    ends_in_point = np.flatnonzero(mark == MARK_AT_END)
    bad[ends_in_point[length[ends_in_point] == 1]] = True
    if signed:
        bad |= length == 0

    if negative is not None:
        np.negative(value, out=value, where=negative)
    inexact = long[(long_length > 16) | (integer >= MOST_EXACT)]
    if inexact.size:
        bad[inexact] = fill_by_float(data, start, end, inexact, value)
    if bad.any():
        value[bad] = np.nan
    return value, bad


def _signs(data: Bytes) -> tuple[int, int]:
    """How many points there are in the data, and how many other signs that a number's text may hold."""
    points = int(np.count_nonzero(data == 46))
    return points, int(np.count_nonzero(data - np.uint8(43) < 5)) - points


def _load(data: Bytes, at: Places, length: Places) -> Words:
    """The eight characters from each place on, digits as 0..9; zeros before the last `length` of them.

    Put together from the two aligned words around each place.
    """
    aligned: Words = data[: len(data) // 8 * 8].view("<u8")
    low_bits = at & 7
    low_bits <<= 3
    shift = low_bits.view(np.uint64)
    at = at >> 3
    word = aligned.take(at)
    above = aligned[1:].take(at)
    word >>= shift
    np.subtract(_U(64), shift, out=shift)
    above <<= shift  # a shift by 64 gives 0
    word |= above
    word ^= ZEROS
    word &= _KEEP_LAST.take(length, mode="clip")
    return word


def _eight(word: Words) -> tuple[Floats, Words]:
    """Value of up to eight characters, at most one of them a point; and the mark of that point."""
    digits, mark = _without_point(word)
    value = _to_integer(digits).astype(np.float64)
    value /= _power_of(mark)
    return value, mark


def _sixteen(head: Words, tail: Words, tail_mark: Words) -> tuple[Floats, Words, Words]:
    """As `_eight`, for up to 16 characters in two words; also the integer that the digits make."""
    high, head_mark = _without_point(head)
    low, _ = _without_point(tail)
    in_tail = tail_mark != 0
    # over a point in the tail all that stands before it moves up, from the head too
    low |= (head >> _U(56)) * in_tail
    np.copyto(high, head << _U(8), where=in_tail)
    integer = _to_integer(high)
    integer *= _U(100_000_000)
    integer += _to_integer(low)
    value = integer.astype(np.float64)
    power = _power_of(tail_mark)
    if head_mark.any():  # more than eight decimals
        power *= np.where(head_mark != 0, _power_of(head_mark) * 1e8, 1.0)
    value /= power
    return value, integer, head_mark


def _without_point(word: Words) -> tuple[Words, Words]:
    """The digits closed up over the point, and 256**(byte of the point), or 0 where there is none."""
    mark = word & POINTS
    mark >>= _U(4)
    whole = np.maximum(mark, _U(1))
    whole -= _U(1)
    digits = mark * _U(0x1E)
    digits ^= word
    whole &= digits
    # what stands before the point moves up by one byte, over the point itself
    whole *= _U(255)
    digits += whole
    return digits, mark


def _to_integer(digits: Words) -> Words:
    """Eight decimal digits as an integer, in place: neighbours are joined to pairs, fours, and all."""
    for factor, shift, mask in _JOINS:
        digits *= factor
        digits >>= shift
        digits &= mask
    return digits


def _power_of(mark: Words) -> Floats:
    # the multiplication brings the number of the marked byte, plus one, into the four highest bits
    place = mark * _PLACES
    place >>= _U(60)
    return _POWER.take(place.view(np.int64), mode="clip")  # beyond: several marks, a bad text


def _badly_formed(word: Words) -> Flags:
    """Which words hold more than one point, or what is neither digit nor point."""
    mark = word & POINTS
    mark >>= _U(4)
    digits = word ^ (mark * _U(0x1E))
    wrong = digits & (mark * _U(0xFF))
    wrong |= mark & (mark - _U(1))
    wrong |= (digits | (digits + OVER_NINE)) & HIGH_BITS
    return np.asarray(wrong != 0)


def fill_by_float(data: Bytes, start: Places, end: Places, which: Places, value: Floats) -> Flags:
    """Fill in the numbers that need more than 53 bits; which of them are too large for a float."""
    raw = data.tobytes()
    texts = [raw[a:b] for a, b in zip(start[which].tolist(), end[which].tolist(), strict=True)]
    try:
        value[which] = list(map(float, texts))
    except ValueError:
        value[which] = [_float_or_infinity(text) for text in texts]
    return np.asarray(np.isinf(value[which]))


def _float_or_infinity(text: bytes) -> float:
    """Of digits, points and signs float takes what is a decimal number and nothing else."""
    try:
        return float(text)
    except ValueError:
        return np.inf
