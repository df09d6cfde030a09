"""Whether E is counted in the wrong mode: words that add are read as places, or the other way round."""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.motion.modes import on_lines
from gpost.survey.digits import few
from gpost.survey.lookup import FileLookup

Floats = NDArray[np.float64]

MOST_LINES = 20_000
"""So many lines are looked at again, from the first E of a move on."""
LITTLE, MUCH = 0.5, 1.8
"""The file's beads must take less clay than this part of what their path asks for, or more, to be doubted."""
NEAR = 3.0
"""So many times more or less clay than a bead's path asks for is as much as a bead takes: its width and the
unit of E may be guesses."""
EVEN = 2.5
"""Clay to a mm of path is even if it differs by no more between the thinnest tenth and the thickest: of an E
that begins anew with each layer it differs by nine times."""
LESS = 0.5
"""The clay by the mode in force must be less than this part of that by the other, or the other way round."""
FEWEST = 8
"""Moves from which anything can be told."""


class EWords(NamedTuple):
    """The E words of moves along the path in one mode; shape (k,) each."""

    word_mm: Floats
    before_mm: Floats
    """The E word of a move before it, wherever that went."""
    gain_mm: Floats
    """What the move pushes as the mode in force has it."""
    path_mm: Floats


class WrongMode(NamedTuple):
    """What is told: as it stands, and by the other mode."""

    line: int
    """Of the first E of a move, counted from 0."""
    absolute: bool
    """Whether E is counted as places, and shouldn't be."""
    read_ml: float
    meant_ml: float
    """Of the moves that were looked at."""

    @property
    def sentence(self) -> str:
        """The cause, and what to do."""
        clay = f"Read so, the beads looked at take {few(max(self.read_ml, 0.0))} ml"
        if self.absolute:
            return (
                "E is counted absolutely (M82, or nothing says otherwise), but its words don't grow along "
                f"the path: each is about what its own bead takes. {clay}; if each word adds to what was "
                f"before, {few(self.meant_ml)} ml, which fits their path. An M83 seems to be missing: put "
                f"M83 before line {self.line + 1}, or have the file written with absolute E"
            )
        return (
            "E is counted relatively (M83 or G91), but its words grow along the path, each by about what its "
            f"own bead takes. {clay}; if each word says where E goes, {few(self.meant_ml)} ml, which fits "
            f"their path. An M82 seems to be missing: put M82 before line {self.line + 1}, or have the file "
            "written with relative E"
        )


def wrong_mode(
    lookup: FileLookup, clay_ml: float, path_mm: float, ml_per_mm: float, section_ml_per_mm: float
) -> WrongMode | None:
    """What tells that E is read in the wrong mode; None where nothing does.

    `clay_ml`: net, of the whole file, as E is read; `path_mm`: of all that goes along but by G0. By them
    most files need no second look.
    """
    asked_ml = path_mm * section_ml_per_mm
    if not asked_ml or LITTLE * asked_ml <= clay_ml <= MUCH * asked_ml:
        return None
    absolute = clay_ml < asked_ml
    found = list(_looked_at(lookup, absolute=absolute))
    if not found:
        return None
    words = EWords(*map(np.concatenate, zip(*(words for _, words in found), strict=True)))
    if len(words.word_mm) < FEWEST:
        return None
    judge = _should_add if absolute else _should_place
    sums = judge(words, section_ml_per_mm / ml_per_mm)
    return sums and WrongMode(found[0][0], absolute, *(ml_per_mm * mm for mm in sums))


def _should_add(words: EWords, section_mm: float) -> tuple[float, float] | None:
    """(mm of E as read, as meant) if absolute words are amounts: even along the path, and hardly growing."""
    read, meant = float(words.gain_mm.sum()), float(words.word_mm.sum())
    fits = _fits(words.word_mm, words.path_mm, section_mm, rather_than=words.gain_mm)
    # on two beads a layer words may be even enough where a G92 E0 is missing: what they grow by is more so
    fits &= _spread(words.word_mm / words.path_mm) <= _spread(_grown(words) / words.path_mm)
    return (read, meant) if fits and read < LESS * meant else None


def _should_place(words: EWords, section_mm: float) -> tuple[float, float] | None:
    """The same if relative words are places: what they grow by is even along the path, and they are not."""
    grown = _grown(words)
    read, meant = float(words.word_mm.sum()), float(grown.sum())
    fits = _fits(grown, words.path_mm, section_mm, rather_than=words.word_mm)
    grows = _spread(words.word_mm / words.path_mm) > EVEN  # a cone's amounts grow, too, but little by little
    return (read, meant) if fits and grows and meant < LESS * read else None


def _grown(words: EWords) -> Floats:
    """By how much each word is more than the one before; where it is less, E begins anew from 0."""
    anew = words.word_mm < words.before_mm
    return words.word_mm - np.where(anew, 0.0, words.before_mm)


def _fits(gains_mm: Floats, path_mm: Floats, section_mm: float, *, rather_than: Floats) -> bool:
    """Whether this is as much as beads take: about so much in all, evenly, and more evenly than the other."""
    per_mm = float(gains_mm.sum()) / float(path_mm.sum())
    near = section_mm / NEAR <= per_mm <= section_mm * NEAR
    spread = _spread(gains_mm / path_mm)
    return near and spread <= EVEN and spread < _spread(rather_than / path_mm)


def _spread(per_mm: Floats) -> float:
    """How many times the thinnest tenth the thickest is."""
    ascending, tenth = np.sort(per_mm), len(per_mm) // 10
    low, high = float(ascending[tenth]), float(ascending[-1 - tenth])
    return high / low if low > 0 else math.inf


def _looked_at(lookup: FileLookup, *, absolute: bool) -> Iterator[tuple[int, EWords]]:
    """(the first line of a move with an E in that mode, the words) of the blocks that are looked at.

    Nothing where absolute words go on from elsewhere than 0: who sets E so knows the mode.
    """
    last_mm, first = 0.0, -1
    for follower in lookup.ways(0, sys.maxsize):
        begin = follower.block.chunk.first_line
        if 0 <= first < begin - MOST_LINES:
            return
        line, word = follower.block.said("E")
        here = follower.is_move[line]
        line, word_mm = line[here], word[here] * on_lines(follower.scale, line[here])
        before_mm = np.concatenate([[last_mm], word_mm[:-1]])
        last_mm = float(word_mm[-1]) if len(word_mm) else last_mm
        move, moves = follower.before[line], follower.moves
        gain_mm, in_mode = follower.e_raw[move], on_lines(follower.e_relative, line) != absolute
        if first < 0 and in_mode.any():
            at = int(np.argmax(in_mode))
            first = begin + int(line[at])
            if absolute and not math.isclose(gain_mm[at], word_mm[at]):
                return
        if first >= 0:
            along = moves.xy[move] & ~moves.rapid[move] & (moves.path_mm[move] > 0)
            pick = in_mode & along & (word_mm > 0) & (begin + line < first + MOST_LINES)
            columns = (word_mm, before_mm, gain_mm, moves.path_mm[move])
            yield first, EWords(*(column[pick] for column in columns))
