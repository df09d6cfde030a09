"""Finds all words of a chunk at once; lines out of the ordinary go through gpost/read/oddline.py."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gpost.errors import SourceError
from gpost.read.block import PAD, Block, OddLine, Words
from gpost.read.numbers import parse_numbers
from gpost.read.oddline import OddWords, read_line
from gpost.read.source import Chunk

Positions = NDArray[np.intp]


def read_block(chunk: Chunk) -> Block:
    """The block of a chunk.

    A word is a run of number characters directly after a letter. What a line may hold besides (flags,
    comments in parentheses, text, exponents, blanks inside numbers, strange bytes) is found by counting
    bytes, and only the lines concerned take the exact path.
    Raises SourceError for a line that can't be read.
    """
    data = _padded(chunk.data)
    line_start, line_end = _lines(data, chunk)
    is_number = data - np.uint8(43) < 15
    turns = np.flatnonzero(is_number[1:] != is_number[:-1]) + 1
    start, end = turns[0::2], turns[1::2]
    before = data[start - 1]
    letter = before & np.uint8(0xDF)
    letter[before == 42] = 42
    value, bad = parse_numbers(data, start, end)
    first = np.searchsorted(start, line_start)
    line = np.repeat(np.arange(len(line_start), dtype=np.int32), np.diff(first, append=len(start)))
    keep, odd_lines = _sort_out(chunk, data, start, before, letter, bad, line, line_end, is_number)
    words = Words(line, letter, (start - 1).astype(np.int32), end.astype(np.int32), value)
    if keep is not None:
        words = Words(*(column[keep] for column in (words.line, letter, words.start, words.end, value)))
    block = Block(chunk, data, line_start, line_end, words)
    if len(odd_lines):
        _read_odd(block, odd_lines)
    block.counts = np.bincount(block.words.letter, minlength=128)
    return block


def _padded(raw: bytes) -> NDArray[np.uint8]:
    data = np.empty(len(raw) + 2 * PAD, np.uint8)
    data[:PAD] = 10
    data[-PAD:] = 10
    data[PAD:-PAD] = np.frombuffer(raw, np.uint8)
    return data


def _lines(data: NDArray[np.uint8], chunk: Chunk) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    newline = np.flatnonzero(data[PAD:] == 10)[: chunk.lines].astype(np.int32)
    newline += PAD
    start = np.empty_like(newline)
    start[:1] = PAD
    start[1:] = newline[:-1] + 1
    return start, newline


def _sort_out(
    chunk: Chunk,
    data: NDArray[np.uint8],
    start: Positions,
    before: NDArray[np.uint8],
    letter: NDArray[np.uint8],
    bad: NDArray[np.bool_],
    line: NDArray[np.int32],
    line_end: NDArray[np.int32],
    is_number: NDArray[np.bool_],
) -> tuple[NDArray[np.bool_] | None, NDArray[np.intp]]:
    """Which words count (None: all), and which lines take the exact path."""
    upper = data & np.uint8(0xDF)
    upper -= np.uint8(65)
    is_letter = upper < 26
    is_word = (letter - np.uint8(65) < 26) | (letter == 42)
    strays = [start[~is_word], start[bad]]
    strays.append(_exponent_like(data, start, before, is_number))
    inner = slice(PAD, len(data) - PAD)
    stars = int(np.count_nonzero(before == 42))
    if np.count_nonzero(is_letter[inner]) != np.count_nonzero(is_word) - stars:
        strays.append(np.flatnonzero(is_letter[:-1] & ~is_number[1:]))
    if not _all_plain(data[inner], is_letter[inner], is_number[inner], stars):
        strays.append(_strange_bytes(data, is_letter, is_number))
        _refuse_lone_returns(data, line_end, chunk)
    stray = np.concatenate(strays)
    if not len(stray):
        return None, np.zeros(0, np.intp)
    comment, has_comment = _comment_starts(data, line_end)
    stray_line = np.searchsorted(line_end, stray)
    outside = stray < comment[np.minimum(stray_line, len(comment) - 1)]
    odd = np.unique(stray_line[outside])
    keep = np.ones(len(start), np.bool_)
    if has_comment:
        np.less(start, comment[line], out=keep)
    if len(odd):
        is_odd = np.zeros(len(line_end), np.bool_)
        is_odd[odd] = True
        keep &= ~is_odd[line]
    return keep, odd


def _exponent_like(
    data: NDArray[np.uint8], start: Positions, before: NDArray[np.uint8], is_number: NDArray[np.bool_]
) -> Positions:
    """Starts of numbers that may be the exponent of the number before: `3e-05`, `3E-05`, `3e5`."""
    small = before == 101
    maybe = np.flatnonzero(small | (before == 69))
    glued = maybe[is_number[start[maybe] - 2]]
    first = data[start[glued]]
    return start[glued[small[glued] | (first == 45) | (first == 43)]]


def _all_plain(
    data: NDArray[np.uint8], is_letter: NDArray[np.bool_], is_number: NDArray[np.bool_], stars: int
) -> bool:
    """Whether the data holds nothing but letters, number characters, blanks and line ends.

    A comma and a slash count as number characters here; a number that holds one is bad anyway.
    """
    plain = np.count_nonzero(is_letter) + np.count_nonzero(is_number) + stars
    plain += np.count_nonzero(data == 32) + np.count_nonzero(data == 10)
    if plain == len(data):
        return True
    return bool(plain + np.count_nonzero(data == 13) + np.count_nonzero(data == 9) == len(data))


def _strange_bytes(
    data: NDArray[np.uint8], is_letter: NDArray[np.bool_], is_number: NDArray[np.bool_]
) -> Positions:
    """Positions of bytes that no plain line holds; a `;` is none of them, nor is `*` before a number."""
    known = is_letter | is_number
    for byte in (9, 10, 13, 32, 59):
        known |= data == byte
    known[:-1] |= (data[:-1] == 42) & is_number[1:]
    return np.flatnonzero(~known)


def _refuse_lone_returns(data: NDArray[np.uint8], line_end: NDArray[np.int32], chunk: Chunk) -> None:
    """A carriage return inside a line ends it for some controllers: what follows would be run or not."""
    returns = np.flatnonzero(data[:-1] == 13)
    lone = returns[data[returns + 1] != 10]
    if len(lone):
        line = chunk.first_line + int(np.searchsorted(line_end, lone[0]))
        raise SourceError(
            "a carriage return stands inside this line; save the file with ordinary line ends (LF or CR LF)",
            line=line,
        )


def _comment_starts(
    data: NDArray[np.uint8], line_end: NDArray[np.int32]
) -> tuple[NDArray[np.int32], bool]:
    """Position of the first `;` of each line, or the line's end."""
    comment = line_end.copy()
    semicolon = np.flatnonzero(data == 59)
    if len(semicolon):
        where = np.searchsorted(line_end, semicolon)
        # reversed, so that the first of a line is written last and stays
        comment[where[::-1]] = semicolon[::-1]
    return comment, bool(len(semicolon))


def _read_odd(block: Block, odd_lines: NDArray[np.intp]) -> None:
    """Read the odd lines one by one and put their words in place."""
    found = OddWords()
    lines: list[int] = []
    for number in odd_lines.tolist():
        origin = int(block.line_start[number])
        words = read_line(block.line_bytes(number), block.chunk.first_line + number)
        found.letter += words.letter
        found.start += [origin + place for place in words.start]
        found.end += [origin + place for place in words.end]
        found.value += words.value
        lines += [number] * len(words.letter)
        block.odd += [OddLine(number, kind.value) for kind in words.kinds]
    block.words = _merged(block.words, found, lines)


def _merged(words: Words, found: OddWords, lines: list[int]) -> Words:
    if not lines:
        return words
    start = np.concatenate([words.start, np.array(found.start, np.int32)])
    order = np.argsort(start, kind="stable")
    return Words(
        np.concatenate([words.line, np.array(lines, np.int32)])[order],
        np.concatenate([words.letter, np.array(found.letter, np.uint8)])[order],
        start[order],
        np.concatenate([words.end, np.array(found.end, np.int32)])[order],
        np.concatenate([words.value, np.array(found.value, np.float64)])[order],
    )
