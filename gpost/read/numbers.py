"""Decimal numbers in the bytes to float64, eight characters at a time, rounded as Python rounds them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Words = NDArray[np.uint64]
"""Eight characters each, the first in the lowest byte."""

_U = np.uint64
ZEROS = _U(0x3030303030303030)
POINTS = _U(0x1010101010101010)
"""The bit that a point and the other signs have, and no digit, once the zeros are taken off."""
OVER_NINE = _U(0x7676767676767676)
HIGH_BITS = _U(0x8080808080808080)

_KEEP_LAST = np.array([0] + [-1 << 8 * (8 - count) for count in range(1, 9)], np.int64).view(np.uint64)
"""Mask that keeps the last `count` characters of a word, 0 to 8."""

_PLACES = _U(sum((byte + 1) << (60 - 8 * byte) for byte in range(8)))
_POWER = np.concatenate([[1.0], 10.0 ** np.arange(7, -1, -1)])
"""What the digits are to be divided by: 1 without a point, else by the byte in which the point stands."""

MOST_EXACT = _U(1 << 53)


def parse_numbers(
    data: NDArray[np.uint8], start: NDArray[np.intp], end: NDArray[np.intp]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Values of the number texts data[start:end], and which of them are no decimal numbers.

    `data` needs 16 bytes before the first start; the texts hold digits and the signs `+ , - . /` only.
    Exact to the last bit (equal to Python's `float`): the digits become an integer below 2**53, divided
    once by an exact power of ten; whatever does not fit goes through `float` itself. Bad texts get NaN.
    """
    first = data[start]
    negative = first == 45
    signed = negative | (first == 43)
    length = end - start
    length -= signed
    words: Words = np.ndarray(shape=(len(data) - 7,), dtype="<u8", buffer=data, strides=(1,))
    tail = _clean(words, end - 8, length)
    value, marker = _eight(tail)
    if _all_well_formed(data, signed, marker, length):
        bad = np.zeros(len(value), np.bool_)
    else:
        bad = _badly_formed(tail)
    short = np.flatnonzero(length < 2)
    # a sign or a point alone
    bad[short] |= data[end[short] - 1] - np.uint8(48) > 9
    many = np.flatnonzero(length > 8)
    if many.size:
        value[many], bad[many] = _sixteen(data, words, start[many], end[many], tail[many], length[many])
    np.negative(value, out=value, where=negative)
    if bad.any():
        value[bad] = np.nan
    return value, bad


def _clean(words: Words, at: NDArray[np.intp], length: NDArray[np.intp]) -> Words:
    """Digits as 0..9 in the last `length` bytes of the words at `at`, a point as 0x1E, zeros before."""
    word = np.take(words, at)
    word ^= ZEROS
    word &= np.take(_KEEP_LAST, length, mode="clip")
    return word


def _eight(word: Words) -> tuple[NDArray[np.float64], Words]:
    """Value of up to eight characters, at most one of them a point; and the mark of that point."""
    digits, marker = _without_point(word)
    value = _to_integer(digits).astype(np.float64)
    value /= _power_of(marker)
    return value, marker


def _without_point(word: Words) -> tuple[Words, Words]:
    """The digits closed up over the point, and 256**(byte of the point), or 0 where there is none."""
    marker = word & POINTS
    marker >>= _U(4)
    whole = np.maximum(marker, _U(1))
    whole -= _U(1)
    digits = marker * _U(0x1E)
    digits ^= word
    whole &= digits
    # what stands before the point moves up by one byte, over the point itself
    whole *= _U(255)
    digits += whole
    return digits, marker


def _all_well_formed(
    data: NDArray[np.uint8], signed: NDArray[np.bool_], marker: Words, length: NDArray[np.intp]
) -> bool:
    """Whether there are no more signs in the data than one before and one point inside each number.

    Says no where it can't tell: where the data holds signs outside the numbers, or long numbers.
    """
    points = np.count_nonzero(data == 46)
    if points != np.count_nonzero(marker):
        return False
    return bool(np.count_nonzero(data - np.uint8(43) < 5) == points + np.count_nonzero(signed))


def _badly_formed(word: Words) -> NDArray[np.bool_]:
    """Which words hold more than one point, or what is neither digit nor point."""
    marker = word & POINTS
    marker >>= _U(4)
    digits = word ^ (marker * _U(0x1E))
    wrong = digits & (marker * _U(0xFF))
    wrong |= marker & (marker - _U(1))
    wrong |= (digits | (digits + OVER_NINE)) & HIGH_BITS
    return np.asarray(wrong != 0)


def _to_integer(digits: Words) -> Words:
    """Eight decimal digits as an integer, in place: neighbours are joined to pairs, fours, and all."""
    for factor, shift, mask in _JOINS:
        digits *= factor
        digits >>= shift
        digits &= mask
    return digits


_JOINS = (
    (_U(10 * 2**8 + 1), _U(8), _U(0x00FF00FF00FF00FF)),
    (_U(100 * 2**16 + 1), _U(16), _U(0x0000FFFF0000FFFF)),
    (_U(10000 * 2**32 + 1), _U(32), _U(0xFFFFFFFF)),
)


def _power_of(marker: Words) -> NDArray[np.float64]:
    # the multiplication brings the number of the marked byte, plus one, into the four highest bits
    place = marker * _PLACES
    place >>= _U(60)
    return np.take(_POWER, place.view(np.int64), mode="clip")  # beyond: several marks, a bad text


def _sixteen(
    data: NDArray[np.uint8],
    words: Words,
    start: NDArray[np.intp],
    end: NDArray[np.intp],
    tail: Words,
    length: NDArray[np.intp],
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """As `_eight`, for longer texts: two words, and Python's float where 53 bits are not enough."""
    head = _clean(words, end - 16, length - 8)
    bad = _badly_formed(tail) | _badly_formed(head)
    low, low_mark = _without_point(tail)
    high, high_mark = _without_point(head)
    in_tail = low_mark != 0
    bad |= in_tail & (high_mark != 0)
    low[in_tail] |= head[in_tail] >> _U(56)
    high[in_tail] = head[in_tail] << _U(8)
    integer = _to_integer(high)
    integer *= _U(100_000_000)
    integer += _to_integer(low)
    value = integer.astype(np.float64)
    power = _power_of(low_mark)
    power *= np.where(high_mark != 0, _power_of(high_mark) * 1e8, 1.0)
    value /= power
    for i in np.flatnonzero((length > 16) | (integer >= MOST_EXACT) | bad):
        text = data[start[i] : end[i]].tobytes()
        bad[i] = not _is_decimal(text)
        value[i] = np.nan if bad[i] else abs(float(text))
    return value, bad


def _is_decimal(text: bytes) -> bool:
    body = text[1:] if text[:1] in (b"+", b"-") else text
    return body.count(b".") <= 1 and body.replace(b".", b"").isdigit()
