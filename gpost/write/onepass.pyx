# cython: language_level=3, boundscheck=False, wraparound=False, initializedcheck=False, cdivision=True
"""Numbers as text, and texts put into a block, each in one pass: compiled, where there was a compiler.

It gives what gpost/write/figures.py gives.
"""

from libc.stdint cimport int64_t, uint8_t, uint64_t
from libc.string cimport memcpy

import numpy as np

from gpost.write.figures import MOST_DECIMALS, Texts

cdef enum:
    LONGEST = 24  # a sign, 19 digits, a point and a zero before it; decimals are 12 at most


def as_text(const int64_t[::1] places, const int64_t[::1] decimals):
    """As gpost.write.figures.as_text."""
    cdef Py_ssize_t count = places.shape[0], number, size = 0
    if np.max(decimals, initial=0) > MOST_DECIMALS:
        raise ValueError(f"more than {MOST_DECIMALS} decimals")
    flat, length = np.empty(count * LONGEST + 1, np.uint8), np.empty(count, np.int64)
    cdef uint8_t[::1] to = flat
    cdef int64_t[::1] lengths = length
    with nogil:
        for number in range(count):
            lengths[number] = _put(places[number], decimals[number], &to[size])
            size += lengths[number]
    return Texts(flat[:size], length)


cdef inline Py_ssize_t _put(int64_t places, int64_t decimals, uint8_t* to) noexcept nogil:
    """Write places / 10**decimals without zeros at its end; how many characters that takes."""
    cdef uint64_t rest = <uint64_t>places if places >= 0 else -<uint64_t>places
    cdef uint8_t text[LONGEST]
    cdef Py_ssize_t first = LONGEST  # from the last digit to the first
    while decimals > 0 and rest % 10 == 0:
        rest //= 10
        decimals -= 1
    if decimals > 0:
        while decimals > 0:
            first -= 1
            text[first] = <uint8_t>(48 + rest % 10)
            rest //= 10
            decimals -= 1
        first -= 1
        text[first] = 46
    while True:
        first -= 1
        text[first] = <uint8_t>(48 + rest % 10)
        rest //= 10
        if not rest:
            break
    if places < 0:
        first -= 1
        text[first] = 45
    memcpy(to, &text[first], LONGEST - first)
    return LONGEST - first


def splice(const uint8_t[::1] data, const int64_t[::1] start, const int64_t[::1] end, texts):
    """As gpost.write.figures.splice."""
    cdef Py_ssize_t count = start.shape[0], number, to = 0, done = 0, used = 0
    cdef const int64_t[::1] length = texts.length
    growth = np.cumsum(texts.length - (np.asarray(end) - np.asarray(start)))
    spliced = np.empty(data.shape[0] + (growth[count - 1] if count else 0), np.uint8)
    cdef uint8_t[::1] whole = spliced
    cdef const uint8_t[::1] flat = texts.flat
    with nogil:
        for number in range(count):
            memcpy(&whole[to], &data[done], start[number] - done)
            to += start[number] - done
            if length[number]:
                memcpy(&whole[to], &flat[used], length[number])
            to += length[number]
            used += length[number]
            done = end[number]
        memcpy(&whole[to], &data[done], data.shape[0] - done)
    return spliced, growth
