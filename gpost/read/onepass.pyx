# cython: language_level=3, boundscheck=False, wraparound=False, initializedcheck=False, cdivision=True
"""Finds the words of ordinary lines in one pass over the bytes: compiled, where there was a compiler.

It gives what gpost/read/bycolumns.py gives, and holds the interpreter's lock no longer than it takes to make
the columns, so that a helper thread really runs beside the work.
"""

from libc.math cimport NAN
from libc.stdint cimport int32_t, int64_t, uint8_t, uint64_t

import numpy as np

from gpost.read.block import ByLetter, Words
from gpost.read.numbers import fill_by_float
from gpost.read.oddline import TEXT_CODES

cdef enum:
    OTHER = 0
    BLANK = 1
    LETTER = 2  # or `*`
    COMMENT = 3

cdef enum:
    FITTING_DIGITS = 19  # more may not fit into 64 bits
    MOST_DIGITS = 300  # with more a number may be infinite
    MOST_CODE = 256
    LETTERS = 128

cdef uint64_t MOST_EXACT = <uint64_t>1 << 53
cdef uint8_t KIND[256]
cdef bint TAKES_TEXT[MOST_CODE]
cdef double POWER[FITTING_DIGITS + 1]


def _fill_tables():
    for byte in range(256):
        KIND[byte] = OTHER
    for byte in b" \r\t":
        KIND[byte] = BLANK
    for byte in b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz*":
        KIND[byte] = LETTER
    KIND[b";"[0]] = COMMENT
    for code in range(MOST_CODE):
        TAKES_TEXT[code] = code in TEXT_CODES
    for power in range(FITTING_DIGITS + 1):
        POWER[power] = 10.0**power  # exact up to 10**22


_fill_tables()


cdef struct Number:
    double value
    Py_ssize_t end
    bint plain  # a decimal number and nothing else


cdef struct Columns:
    int64_t* line
    uint8_t* letter
    int64_t* start
    int64_t* end
    double* value


def find_words(const uint8_t[::1] data, const int32_t[::1] line_start, const int32_t[::1] line_end):
    """As gpost.read.bycolumns.find_words."""
    cdef Py_ssize_t room, count
    with nogil:
        room = _most_words(data) + 1
    odd = np.zeros(line_start.shape[0], np.bool_)
    line, letter, start = np.empty(room, np.int64), np.empty(room, np.uint8), np.empty(room, np.int64)
    end, value = np.empty(room, np.int64), np.empty(room, np.float64)
    cdef uint8_t[::1] is_odd = odd.view(np.uint8), letters = letter
    cdef int64_t[::1] lines = line, starts = start, ends = end
    cdef double[::1] values = value
    cdef Columns columns = Columns(&lines[0], &letters[0], &starts[0], &ends[0], &values[0])
    with nogil:
        count = _fill(data, line_start, line_end, columns, is_odd)
    words = Words(line[:count], letter[:count], start[:count], end[:count], value[:count])
    inexact = np.flatnonzero(np.isnan(words.value))
    if len(inexact):
        fill_by_float(np.asarray(data), words.start + 1, words.end, inexact, words.value)
    return words, np.flatnonzero(odd)


def by_letter(words):
    """As gpost.read.bycolumns.by_letter: by counting."""
    cdef Py_ssize_t count = len(words.letter), word, place, code
    cdef int64_t[LETTERS] upto
    cdef const uint8_t[::1] letter = words.letter
    cdef const int64_t[::1] line = words.line
    cdef const double[::1] value = words.value
    counts, first = np.zeros(LETTERS, np.int64), np.zeros(LETTERS + 1, np.int64)
    found = ByLetter(np.empty(count, np.int64), np.empty(count, np.int64), np.empty(count), first)
    cdef int64_t[::1] many = counts, begins = first
    cdef int64_t[::1] to_index = found.index, to_line = found.line
    cdef double[::1] to_value = found.value
    with nogil:
        for word in range(count):
            many[letter[word]] += 1
        for code in range(LETTERS):
            upto[code] = begins[code]
            begins[code + 1] = begins[code] + many[code]
        for word in range(count):
            place = upto[letter[word]]
            upto[letter[word]] = place + 1
            to_index[place] = word
            to_line[place] = line[word]
            to_value[place] = value[word]
    return counts, found


cdef Py_ssize_t _most_words(const uint8_t[::1] data) noexcept nogil:
    """As many as there are runs of number characters."""
    cdef Py_ssize_t place, count = 0
    for place in range(1, data.shape[0]):
        count += _is_number(data[place]) & (not _is_number(data[place - 1]))
    return count


cdef inline bint _is_number(uint8_t byte) noexcept nogil:
    return <uint8_t>(byte - 43) < 15


cdef Py_ssize_t _fill(
    const uint8_t[::1] data,
    const int32_t[::1] line_start,
    const int32_t[::1] line_end,
    Columns to,
    uint8_t[::1] odd,
) noexcept nogil:
    """Fill in the words of all ordinary lines, mark the others as odd; the number of words.

    The data ends in a line end, so that no number runs out of it.
    """
    cdef Py_ssize_t line, place, count = 0, first
    cdef uint8_t kind
    for line in range(line_start.shape[0]):
        place, first = line_start[line], count
        while place < line_end[line]:
            kind = KIND[data[place]]
            if kind == BLANK:
                place += 1
            elif kind == COMMENT:
                break
            elif kind == LETTER and _word(data, place, line, first, count, to):
                place = to.end[count]
                count += 1
            else:
                odd[line] = True
                count = first
                break
    return count


cdef inline bint _word(
    const uint8_t[::1] data,
    Py_ssize_t place,
    Py_ssize_t line,
    Py_ssize_t first,
    Py_ssize_t count,
    Columns to,
) noexcept nogil:
    """Fill in the word that begins at a letter, unless that takes the exact path."""
    cdef uint8_t letter = data[place]
    cdef Number number = _number(data, place + 1)
    if not number.plain:
        return False
    if count > first and to.end[count - 1] == place and _may_be_exponent(letter, data[place + 1]):
        return False
    if letter != b"*":
        letter &= 0xDF  # upper case
    if letter == b"O" or (letter == b"M" and _takes_text(number.value)):
        return False
    to.letter[count], to.line[count], to.value[count] = letter, line, number.value
    to.start[count], to.end[count] = place, number.end
    return True


cdef inline bint _takes_text(double code) noexcept nogil:
    return 0 <= code < MOST_CODE and TAKES_TEXT[<int>code] and code == <int>code


cdef inline bint _may_be_exponent(uint8_t letter, uint8_t sign) noexcept nogil:
    """Of the number that ends here: `3e-05`, `3E-05`, `3e5`."""
    return letter == b"e" or (letter == b"E" and (sign == b"-" or sign == b"+"))


cdef inline Number _number(const uint8_t[::1] data, Py_ssize_t place) noexcept nogil:
    """The number that begins here; NaN where more than 53 bits of digits are left to Python's `float`.

    Equal to `float`: an integer below 2**53, divided once by an exact power of ten.
    """
    cdef uint8_t sign = data[place]
    cdef uint64_t integer = 0
    cdef Py_ssize_t first, digits, decimals = 0
    cdef Number number = Number(NAN, 0, False)
    if sign == b"-" or sign == b"+":
        place += 1
    first = place
    place = _digits(data, place, &integer)
    digits = place - first
    if data[place] == b".":
        first = place + 1
        place = _digits(data, first, &integer)
        decimals = place - first
        digits += decimals
    number.end = place
    number.plain = 0 < digits <= MOST_DIGITS and not _is_number(data[place])
    if digits <= FITTING_DIGITS and integer < MOST_EXACT:
        number.value = <double>integer / POWER[decimals]
        if sign == b"-":
            number.value = -number.value
    return number


cdef inline Py_ssize_t _digits(const uint8_t[::1] data, Py_ssize_t place, uint64_t* integer) noexcept nogil:
    """Take the digits that begin here into the integer, which overflows with too many; where they end."""
    cdef uint8_t digit = data[place] - 48
    while digit < 10:
        integer[0] = integer[0] * 10 + digit
        place += 1
        digit = data[place] - 48
    return place
