# cython: language_level=3, boundscheck=False, wraparound=False, initializedcheck=False, cdivision=True
"""Numbers raised and put into a block as text, each in one pass: compiled, where there was a compiler.

It gives what gpost/write/figures.py gives.
"""

from libc.math cimport fabs, rint
from libc.stdint cimport int8_t, int64_t, uint8_t, uint64_t
from libc.string cimport memcpy

import numpy as np

from gpost.write.figures import GONE, KEPT, MOST_DECIMALS, SAME_MM, SURE_DIGITS, TENS, Texts

cdef enum:
    LONGEST = 24  # a sign, 19 digits, a point and a zero before it; decimals are 12 at most


def raised(numbers, asked):
    """As gpost.write.figures.raised."""
    cdef const int64_t[::1] word = asked.word, decimals = asked.decimals
    cdef const double[::1] value = asked.value, tens = TENS
    cdef const double[:] by_mm = asked.by_mm, scale = asked.scale  # of one value only, most often
    cdef Py_ssize_t count = value.shape[0], number
    cdef int64_t least = asked.least, sure = SURE_DIGITS, most = MOST_DECIMALS, fits, before
    cdef double wanted, by, same = SAME_MM
    gained = np.zeros(count)
    cdef int64_t[::1] places = numbers.places
    cdef int8_t[::1] new_decimals = numbers.decimals
    cdef double[::1] gained_mm = gained
    with nogil:
        for number in range(count):
            if not fabs(by_mm[number]) > same:
                continue
            wanted = value[number] + by_mm[number] / scale[number]
            before = 1  # digits before the point
            while before <= most and tens[before] <= fabs(wanted):
                before += 1
            fits = max(decimals[number], least + (scale[number] != 1.0))
            fits = min(fits, most, max(sure - before, 0))
            wanted = rint(wanted * tens[fits])
            by = (<double><int64_t>wanted / tens[fits] - value[number]) * scale[number]
            if fabs(by) > same:
                places[word[number]], new_decimals[word[number]] = <int64_t>wanted, <int8_t>fits
                gained_mm[number] = by
    return gained


def count_decimals(const uint8_t[::1] data, words, const int64_t[::1] index):
    """As gpost.write.figures.count_decimals."""
    cdef Py_ssize_t count = index.shape[0], number, last, place
    cdef const int64_t[::1] start = words.start, end = words.end
    found = np.zeros(count, np.int64)
    cdef int64_t[::1] decimals = found
    with nogil:
        for number in range(count):
            last = end[index[number]] - 1
            place = last
            while place > start[index[number]]:
                if data[place] == b".":
                    decimals[number] = last - place
                    break
                place -= 1
    return found


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


def splice(const uint8_t[::1] data, words, numbers, added, const int64_t[::1] cuts):
    """As gpost.write.figures.splice: words and added texts in turn, as they follow on one another."""
    changed = int(np.count_nonzero(numbers.decimals != KEPT))
    spliced = np.empty(data.shape[0] + changed * LONGEST + len(added.texts.flat), np.uint8)
    places_after = np.empty(len(cuts), np.int64)
    cdef const int64_t[::1] word_start = words.start, word_end = words.end, places = numbers.places
    cdef const int8_t[::1] decimals = numbers.decimals
    cdef const int64_t[::1] added_start = added.start, added_end = added.end, length = added.texts.length
    cdef const uint8_t[::1] flat = added.texts.flat
    cdef uint8_t[::1] whole = spliced
    cdef int64_t[::1] after = places_after
    cdef Py_ssize_t word = 0, text = 0, cut = 0, used = 0, to = 0, done = 0, begin, end
    cdef Py_ssize_t last_word = word_start.shape[0], last_text = added_start.shape[0]
    cdef int8_t kept = KEPT, gone = GONE
    cdef bint is_text
    with nogil:
        while True:
            while word < last_word and decimals[word] == kept:
                word += 1
            if word < last_word:
                begin, end = word_start[word] + (decimals[word] != gone), word_end[word]
            elif text == last_text:
                break
            is_text = word == last_word or (
                text < last_text
                and (added_start[text] < begin or (added_start[text] == begin and added_end[text] < end))
            )
            if is_text:
                begin, end = added_start[text], added_end[text]
            while cut < cuts.shape[0] and cuts[cut] <= begin:
                after[cut] = cuts[cut] + to - done
                cut += 1
            memcpy(&whole[to], &data[done], begin - done)
            to += begin - done
            if is_text:
                if length[text]:
                    memcpy(&whole[to], &flat[used], length[text])
                to += length[text]
                used += length[text]
                text += 1
            else:
                if decimals[word] != gone:
                    to += _put(places[word], decimals[word], &whole[to])
                word += 1
            done = end
        while cut < cuts.shape[0]:
            after[cut] = cuts[cut] + to - done
            cut += 1
        memcpy(&whole[to], &data[done], data.shape[0] - done)
        to += data.shape[0] - done
    return spliced[:to], places_after
