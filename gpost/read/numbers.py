"""Decimal numbers in the bytes to float64, eight characters at a time, rounded as Python rounds them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_U = np.uint64
ZEROS = _U(0x3030303030303030)
POINTS = _U(0x1010101010101010)
LOW_BITS = _U(0x7676767676767676)
HIGH_BITS = _U(0x8080808080808080)
MASK = _U(0x000000FF000000FF)
MUL_1 = _U(0x000F424000000064)
MUL_2 = _U(0x0000271000000001)

# Powers of ten by the exponent field of the float that marks the byte in which the point stands:
# (exponent + 1) >> 3 is 128 + byte; 0 stands for "no point". The division by them is what rounds.
_POWER = np.ones(160)
_POWER[128:136] = 10.0 ** np.arange(7, -1, -1)


def parse_numbers(
    data: NDArray[np.uint8], start: NDArray[np.intp], end: NDArray[np.intp]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Values of the number texts data[start:end], and which of them are no decimal numbers.

    `data` needs 16 bytes before the first start. Exact to the last bit (equal to Python's `float`):
    the digits become an integer below 2**53, divided once by an exact power of ten; whatever does
    not fit goes through `float` itself. Bad texts get NaN.
    """
    first = data[start]
    negative = first == 45
    length = (end - start) - (negative | (first == 43))
    words = np.ndarray(shape=(len(data) - 7,), dtype="<u8", buffer=data, strides=(1,))
    tail = _clean(np.take(words, end - 8), length)
    value, bad = _eight(tail)
    # a sign or a point alone; data[end - 1] is then no digit
    bad |= (length < 2) & (data[end - 1] - np.uint8(48) > 9)
    if length.size and int(length.max()) > 8:
        many = np.flatnonzero(length > 8)
        value[many], bad[many] = _sixteen(data, words, start[many], end[many], tail[many], length[many])
    np.negative(value, out=value, where=negative)
    if bad.any():
        value[bad] = np.nan
    return value, bad


def _clean(word: NDArray[np.uint64], length: NDArray[np.intp]) -> NDArray[np.uint64]:
    """Digits as 0..9 in the last `length` bytes of each word, a point as 0x1E, zeros before."""
    word ^= ZEROS
    shift = np.clip(8 - length, 0, 7)
    shift <<= 3
    unsigned = shift.view(np.uint64)
    word >>= unsigned
    word <<= unsigned
    return word


def _eight(word: NDArray[np.uint64]) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Value of up to eight characters, at most one of them a point."""
    digits, marker, wrong = _without_point(word)
    bad = _not_digits(digits, wrong)
    value = _to_integer(digits).astype(np.float64)
    value /= _power_of(marker)
    return value, bad


def _without_point(
    word: NDArray[np.uint64],
) -> tuple[NDArray[np.uint64], NDArray[np.uint64], NDArray[np.uint64]]:
    """The digits closed up over the point, 256**(byte of the point) or 0, and non-zero where wrong."""
    marker = word & POINTS
    marker >>= _U(4)
    below = marker - _U(1)
    digits = word ^ (marker * _U(0x1E))
    # what has that bit but is no point, and a second point
    wrong = digits & (marker * _U(0xFF))
    wrong |= marker & below
    whole = digits & below
    digits &= ~below
    # where there is a point: what stood before it moves up one byte, over the point itself
    np.left_shift(whole, _U(8), out=whole, where=marker != 0)
    digits |= whole
    return digits, marker, wrong


def _not_digits(digits: NDArray[np.uint64], wrong: NDArray[np.uint64]) -> NDArray[np.bool_]:
    test = digits + LOW_BITS
    test |= digits
    test &= HIGH_BITS
    test |= wrong
    return test != 0


def _to_integer(digits: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """Eight decimal digits, the first in the lowest byte, as an integer (pairwise multiply-and-add)."""
    pairs = digits * _U(10)
    pairs += digits >> _U(8)
    high = pairs >> _U(16)
    pairs &= MASK
    pairs *= MUL_1
    high &= MASK
    high *= MUL_2
    pairs += high
    pairs >>= _U(32)
    return pairs


def _power_of(marker: NDArray[np.uint64]) -> NDArray[np.float64]:
    exponent = marker.astype(np.float64).view(np.int64)
    exponent >>= 52
    exponent += 1
    exponent >>= 3
    return np.take(_POWER, exponent)


def _sixteen(
    data: NDArray[np.uint8],
    words: NDArray[np.uint64],
    start: NDArray[np.intp],
    end: NDArray[np.intp],
    tail: NDArray[np.uint64],
    length: NDArray[np.intp],
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """As `_eight`, for longer texts: two words, and Python's float where 53 bits are not enough."""
    head = _clean(np.take(words, end - 16), np.maximum(length - 8, 1))
    low, low_mark, low_wrong = _without_point(tail)
    high, high_mark, high_wrong = _without_point(head)
    in_tail = low_mark != 0
    low[in_tail] |= head[in_tail] >> _U(56)
    high[in_tail] = head[in_tail] << _U(8)
    bad = _not_digits(low, low_wrong) | _not_digits(high, high_wrong) | (in_tail & (high_mark != 0))
    integer = _to_integer(high) * _U(100_000_000) + _to_integer(low)
    value = integer.astype(np.float64)
    value /= _power_of(low_mark)
    value /= np.where(high_mark != 0, _power_of(high_mark) * 1e8, 1.0)
    for i in np.flatnonzero((length > 16) | (integer >= _U(1 << 53)) | bad):
        text = data[start[i] : end[i]].tobytes()
        bad[i] = not _is_decimal(text)
        value[i] = np.nan if bad[i] else abs(float(text))
    return value, bad


def _is_decimal(text: bytes) -> bool:
    body = text[1:] if text[:1] in (b"+", b"-") else text
    return body.count(b".") <= 1 and body.replace(b".", b"").isdigit()
