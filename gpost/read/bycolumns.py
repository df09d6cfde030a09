"""Finds the words of ordinary lines by operations on columns: the reader wherever there was no compiler.

What a line may hold besides words (flags, comments in parentheses, text, exponents, blanks inside numbers,
strange bytes) is found by counting bytes.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gpost.read.block import PAD, ByLetter, Words
from gpost.read.numbers import parse_numbers
from gpost.read.oddline import TEXT_CODES

Bytes = NDArray[np.uint8]
Places = NDArray[np.intp]
"""Indices into the block's bytes, ascending."""

BLANKS = (32, 13, 9)
"""Space, carriage return, tab: the commonest first. Line ends are counted already."""

FEW_COMMENTS = 200
"""So many of one chunk are blanked one by one, without a look at every byte."""

_TEXT_VALUES = np.array(sorted(TEXT_CODES), np.float64)


def find_words(
    data: Bytes, line_start: NDArray[np.int32], line_end: NDArray[np.int32]
) -> tuple[Words, NDArray[np.intp]]:
    """The words of all ordinary lines, and which lines are odd: these take the exact path.

    A word is a run of number characters directly after a letter. `data` is padded by PAD line ends each side.
    """
    text = _without_comments(data, line_end)
    is_number = text - np.uint8(43) < 15
    turns = np.flatnonzero(is_number[1:] != is_number[:-1])
    turns += 1
    start, end = turns[0::2].copy(), turns[1::2].copy()
    del turns  # the largest of all columns, and no longer needed
    letter_at = start - 1
    letter = _letters(text.take(letter_at))
    value, bad = parse_numbers(text, start, end)
    strays = [start[bad]] if bad.any() else []
    if letter.all():
        named = letter_at
    else:
        strays.append(start[letter == 0])
        named = letter_at[letter != 0]
    strays.append(_not_only_words(letter, value, start))
    strays.append(_exponent_like(text, start, end))
    strays.append(_other_bytes(text, named, is_number, len(line_end)))
    odd = _lines_at(line_end, np.concatenate(strays))
    count = np.diff(np.searchsorted(start, line_start), append=len(start))
    line = np.repeat(np.arange(len(line_start)), count)
    words = Words(line, letter, letter_at, end, value)
    return _without_lines(words, odd, len(line_start)), odd


def by_letter(words: Words) -> tuple[NDArray[np.int64], ByLetter | None]:
    """(number of words of each letter, (128,); the words letter by letter).

    Sorting here would not pay: None.
    """
    return np.bincount(words.letter, minlength=128), None


def _without_comments(data: Bytes, line_end: NDArray[np.int32]) -> Bytes:
    """The bytes with blanks from the first `;` of each line to its end."""
    found = _few_comments(data[PAD:-PAD].tobytes())
    if found == []:
        return data
    text = data.copy()
    if found is not None:
        for begins, ends in found:
            text[PAD + begins : PAD + ends] = 32
        return text
    semicolon = np.flatnonzero(data == 59)
    line = np.searchsorted(line_end, semicolon)
    first = np.diff(line, prepend=-1) > 0
    start = semicolon[first]
    length = line_end[line[first]] - start
    before = np.cumsum(length) - length
    text[np.repeat(start - before, length) + np.arange(length.sum())] = 32
    return text


def _few_comments(raw: bytes) -> list[tuple[int, int]] | None:
    """Where the comments stand, from `;` to the end of the line; None where there are many."""
    found: list[tuple[int, int]] = []
    end = 0
    while (start := raw.find(b";", end)) >= 0:
        end = raw.find(b"\n", start)
        end = len(raw) if end < 0 else end
        found.append((start, end))
        if len(found) > FEW_COMMENTS:
            return None
    return found


def _letters(before: Bytes) -> Bytes:
    """Upper-case letters, `*`, and 0 for whatever else stands before a number."""
    letter = before & np.uint8(0xDF)
    other = letter - np.uint8(65) > 25
    if other.any():
        letter[other] = 0
        letter[before == 42] = 42
    return letter


def _not_only_words(letter: Bytes, value: NDArray[np.float64], start: Places) -> Places:
    """Places of codes that go on as text, and of O words, which name subprograms."""
    m = np.flatnonzero(letter == 77)
    text = m[np.isin(value[m], _TEXT_VALUES)] if len(m) else m
    return np.concatenate([start[text], start[letter == 79]])


def _exponent_like(text: Bytes, start: Places, end: Places) -> Places:
    """Starts of numbers that may be the exponent of the number before: `3e-05`, `3E-05`, `3e5`."""
    touching = start[1:] - end[:-1] == 1
    if not touching.any():
        return start[:0]
    glued: Places = start[1:][touching]
    before, first = text[glued - 1], text[glued]
    exponent = (before == 101) | ((before == 69) & ((first == 45) | (first == 43)))
    return np.asarray(glued[exponent])


def _other_bytes(text: Bytes, letter_at: Places, is_number: NDArray[np.bool_], lines: int) -> Places:
    """Places of all that is neither a letter or `*` with a number after it, nor a blank or line end."""
    plain = len(letter_at) + np.count_nonzero(is_number)
    plain += lines + 2 * PAD - (text[-PAD - 1] != 10)
    for byte in BLANKS:
        if plain == len(text):
            return letter_at[:0]
        plain += np.count_nonzero(text == byte)
    if plain == len(text):
        return letter_at[:0]
    known = is_number.copy()
    known[letter_at] = True
    for byte in (10, *BLANKS):
        known |= text == byte
    return np.flatnonzero(~known)


def _lines_at(line_end: NDArray[np.int32], places: Places) -> Places:
    """The lines on which the places lie, ascending, each once."""
    if not len(places):
        return places
    found = np.zeros(len(line_end), np.bool_)
    found[np.searchsorted(line_end, places)] = True
    return np.flatnonzero(found)


def _without_lines(words: Words, lines: Places, count: int) -> Words:
    """The words that stand on none of some lines of a block of so many."""
    if not len(lines):
        return words
    left_out = np.zeros(count, np.bool_)
    left_out[lines] = True
    keep = np.flatnonzero(~left_out[words.line])
    line, letter = words.line[keep], words.letter[keep]
    return Words(line, letter, words.start[keep], words.end[keep], words.value[keep])
