"""Whether E is counted in the wrong mode: words that add are read as places, or the other way round."""

from __future__ import annotations

import math
import sys
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.motion.follow import Follower
from gpost.motion.modes import on_lines
from gpost.survey.lookup import FileLookup
from gpost.survey.lumps import sets_e

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_WORDS = 20_000
"""So many words are looked at again."""
LITTLE, MUCH = 0.5, 1.8
"""The file's beads must take less clay than this part of what their path asks for, or more, to be doubted."""
NEAR = 3.0
"""So many times more or less clay than a bead's path asks for is as much as a bead takes: its width and the
unit of E may be guesses."""
EVEN = 2.5
"""Clay to a mm of path is even if it differs by no more between the thinnest tenth and the thickest: of an E
that begins anew with each layer it differs by nine times."""
FALLS = 0.25
"""Of amounts that are thick and thin at least this part is less than the one before, of places no more."""
MOSTLY, SOME = 2 / 3, 0.4
"""Parts of the beads on which E moves, and of all, that rise as they are read, of which it is asked whether
they are even so. Of three equal amounts behind a G92 one rises, and that is no more than a third."""
ANEW = 0.8
"""A place that is less than this part of the one before begins anew; else clay is drawn back on the way."""
PARTS, PARTS_FROM = 11, 40
"""Parts of the way that are looked at, too, from so many beads on; not in step with layers and lobes."""
LESS = 0.5
"""The clay by the mode in force must be less than this part of that by the other, or the other way round."""
FEWEST = 8
"""Moves from which anything can be told."""


class EWords(NamedTuple):
    """The E words of moves along the path in one mode; shape (k,) each."""

    word_mm: Floats
    before_mm: Floats
    """The E word before it, wherever that went; or what a G92 has set since."""
    gain_mm: Floats
    """What the move pushes as the mode in force has it."""
    path_mm: Floats
    group: Floats
    """Counted on where E is set, and where its mode changes."""

    def pick(self, which: NDArray[np.bool_] | slice) -> EWords:
        """Some of them."""
        return EWords(*(column[which] for column in self))


NO_WORDS = EWords(*np.zeros((5, 0)))


class Doubt(NamedTuple):
    """E seems to be read in the wrong mode."""

    line: int
    """Of the first E of a move that is read so, counted from 0."""
    absolute: bool
    """Whether E is counted as places, and shouldn't be."""
    beads_before: bool
    """Whether beads are laid in the other mode before that."""
    read_ml: float
    meant_ml: float
    """Of the moves that were looked at: as it stands, and by the other mode."""


def find_doubt(
    lookup: FileLookup, clay_ml: Floats, path_mm: Floats, ml_per_mm: float, section_ml_per_mm: float
) -> Doubt | None:
    """What tells that E is read in the wrong mode; None where nothing does.

    `clay_ml`: net, as E is read, of the moves where E is absolute and of those where it is relative, shape
    (2,); `path_mm`: the same of all that goes along but by G0. By them most files need no second look.
    """
    asked_ml = path_mm * section_ml_per_mm
    doubted = (clay_ml[0] < LITTLE * asked_ml[0], clay_ml[1] > MUCH * asked_ml[1] > 0)
    section_mm = section_ml_per_mm / ml_per_mm
    for absolute, doubtful in zip((True, False), doubted, strict=True):
        if not doubtful:
            continue
        look = _Look(absolute=absolute)
        words, line = look.not_right(look.through(lookup), section_mm)
        if len(words.word_mm) < FEWEST:
            continue
        beads_before = look.others_before(line) >= FEWEST
        if absolute:
            sums = _should_add(words, section_mm)
        else:
            sums = _should_place(words, section_mm, goes_on=beads_before)
        if sums:
            return Doubt(line, absolute, beads_before, *(ml_per_mm * mm for mm in sums))
    return None


def _amounts(follower: Follower, move: Ints) -> tuple[Floats, Floats]:
    """What these moves push, and their path if they go along by no G0, else 0; -1 is none. Shape (k,)."""
    moves = follower.moves
    along = moves.xy & ~moves.rapid
    gain_mm, path_mm = (np.append(mm, 0.0) for mm in (follower.e_raw, np.where(along, moves.path_mm, 0.0)))
    return gain_mm[move], path_mm[move]


class _Look:
    """A second look at the E words of one mode, block by block."""

    def __init__(self, *, absolute: bool) -> None:
        self.absolute = absolute
        self._last_mm, self._last_in, self._group = 0.0, False, 0
        self._last_set = True
        """Whether E has been set, or not been said, since its last word."""
        self._others = 0
        """Beads of the other mode so far."""
        self._firsts: list[tuple[int, int, int]] = []
        """Of each group with a move in the mode: its number, the first's line, beads of the other before."""
        self._meant = False
        """Whether the file shows that it knows the mode."""

    def through(self, lookup: FileLookup) -> EWords:
        """The words that are looked at."""
        found, count = [NO_WORDS], 0
        for follower in lookup.ways(0, sys.maxsize):
            found.append(self._of(follower))
            count += len(found[-1].word_mm)
            if self._meant:
                return found[0]
            if count >= MOST_WORDS:
                break
        return EWords(*map(np.concatenate, zip(*found, strict=True))).pick(slice(MOST_WORDS))

    def _of(self, follower: Follower) -> EWords:
        """Those of one block. Who sets E, and has absolute words go on from elsewhere than 0, means it."""
        line, word = follower.block.said("E")
        sets = np.zeros(len(follower.is_move), np.bool_)
        sets[sets_e(follower)] = True
        here = follower.is_move[line] | sets[line]
        line, word = line[here], word[here]
        if not len(line):
            return NO_WORDS
        sets, word_mm = sets[line], word * on_lines(follower.scale, line)
        inside = on_lines(follower.e_relative, line) != self.absolute
        starts = sets | (inside != np.append(self._last_in, inside[:-1]))
        group = self._group + np.cumsum(starts)
        before_mm, after_set = np.append(self._last_mm, word_mm[:-1]), np.append(self._last_set, sets[:-1])
        gain_mm, path_mm = _amounts(follower, np.where(sets, -1, follower.before[line]))
        along = (path_mm > 0) & (word_mm > 0)
        others = self._others + np.cumsum(along & ~inside)
        mine = np.flatnonzero(inside & ~sets)
        if self.absolute and not self._firsts and len(mine) and after_set[mine[0]]:
            self._meant = not math.isclose(gain_mm[mine[0]], word_mm[mine[0]])
        known = self._firsts[-1][0] if self._firsts else -1
        first = mine[group[mine] != np.append(known, group[mine][:-1])]
        first_line = follower.block.chunk.first_line + line[first]
        self._firsts += zip(group[first].tolist(), first_line.tolist(), others[first].tolist(), strict=True)
        self._last_mm, self._last_in, self._last_set = float(word_mm[-1]), bool(inside[-1]), bool(sets[-1])
        self._group, self._others = int(group[-1]), int(others[-1])
        return EWords(word_mm, before_mm, gain_mm, path_mm, group.astype(np.float64)).pick(along & inside)

    def not_right(self, words: EWords, section_mm: float) -> tuple[EWords, int]:
        """The words without those at the start that are right as they are read, such as of a prime by hand.

        And the line of the first move with an E from there on; -1 if there is none.
        """
        begins = np.flatnonzero(np.diff(words.group, prepend=-1))
        right = self._right(words, begins, section_mm)
        wrong = np.flatnonzero(~right)
        at = int(wrong[0]) if len(wrong) else 0
        last = float(words.group[begins[at - 1]]) if at else -1
        line = next((line for group, line, _ in self._firsts if group > last), -1)
        return (words.pick(slice(int(begins[at]), None)) if at else words), line

    def _right(self, words: EWords, begins: Ints, section_mm: float) -> NDArray[np.bool_]:
        """Whether each group is about as much clay as beads take, and nearer to it than by the other mode."""
        if not len(begins):
            return np.zeros(0, np.bool_)
        read_mm = words.gain_mm
        meant_mm = words.word_mm if self.absolute else words.word_mm - words.before_mm
        path_mm = np.add.reduceat(words.path_mm, begins)
        away = [
            np.abs(np.log(np.maximum(np.add.reduceat(mm, begins) / path_mm / section_mm, 1e-9)))
            for mm in (read_mm, meant_mm)
        ]
        return np.asarray((away[0] < math.log(NEAR)) & (away[0] < away[1]))

    def others_before(self, line: int) -> int:
        """Beads of the other mode before that line, the first of a group."""
        return next(others for _, first, others in self._firsts if first == line)


def _should_add(words: EWords, section_mm: float) -> tuple[float, float] | None:
    """(mm of E as read, as meant) if absolute words are amounts: even along the path, and hardly growing."""
    read, meant = float(words.gain_mm.sum()), float(words.word_mm.sum())
    count = len(words.gain_mm)
    thick_and_thin = int(np.count_nonzero(words.gain_mm < 0)) >= FALLS * count
    fits = _fits(words.word_mm, words.path_mm, section_mm, rather_than=words.gain_mm, parts=thick_and_thin)
    spread = _spread(words.word_mm / words.path_mm)
    # on two beads a layer words may be even enough where a G92 E0 is missing: what they grow by is more so
    fits &= spread <= _spread(_grown(words, anew=1) / words.path_mm)
    # beads that are right as they are read, between wipes and ways on which E says again what it was
    rises = words.gain_mm > 0
    rising, moving = int(np.count_nonzero(rises)), int(np.count_nonzero(words.gain_mm))
    if rising >= max(MOSTLY * moving, SOME * count):
        fits &= spread < _spread(words.gain_mm[rises] / words.path_mm[rises])
    return (read, meant) if fits and read < LESS * meant else None


def _should_place(words: EWords, section_mm: float, *, goes_on: bool) -> tuple[float, float] | None:
    """The same if relative words are places: what they grow by is even along the path, and they are not.

    `goes_on`: whether beads with absolute words come before, from whose place these may go on.
    """
    grown = _grown(words)
    read, meant = float(words.word_mm.sum()), float(grown.sum())
    rises = int(np.count_nonzero(words.word_mm < words.before_mm)) <= FALLS * len(grown)
    fits = _fits(grown, words.path_mm, section_mm, rather_than=words.word_mm, parts=rises)
    grows = goes_on and words.word_mm[0] > words.before_mm[0]
    grows |= _spread(words.word_mm / words.path_mm) > EVEN  # a cone's amounts grow, too, but little by little
    return (read, meant) if fits and grows and meant < LESS * read else None


def _grown(words: EWords, anew: float = ANEW) -> Floats:
    """By how much each word is more than the one before; below that part of it, E begins anew from 0."""
    return words.word_mm - np.where(words.word_mm < anew * words.before_mm, 0.0, words.before_mm)


def _fits(gains_mm: Floats, path_mm: Floats, section_mm: float, *, rather_than: Floats, parts: bool) -> bool:
    """Whether this is as much as beads take: about so much in all, evenly, and more evenly than the other.

    Evenly bead by bead; or, of a wall that is thick and thin on purpose, part by part of the way, if `parts`.
    """
    per_mm = float(gains_mm.sum()) / float(path_mm.sum())
    scales = [(gains_mm, path_mm, rather_than)]
    if parts and len(path_mm) >= PARTS_FROM:
        scales.append((_by_parts(gains_mm), _by_parts(path_mm), _by_parts(rather_than)))
    evener = any(
        _spread(gains / path) <= EVEN and _spread(gains / path) < _spread(other / path)
        for gains, path, other in scales
    )
    return evener and section_mm / NEAR <= per_mm <= section_mm * NEAR


def _by_parts(mm: Floats) -> Floats:
    """Sums of PARTS parts with as many beads each, shape (PARTS,)."""
    return np.add.reduceat(mm, np.arange(PARTS) * len(mm) // PARTS)


def _spread(per_mm: Floats) -> float:
    """How many times the thinnest tenth the thickest is."""
    ascending, tenth = np.sort(per_mm), len(per_mm) // 10
    low, high = float(ascending[tenth]), float(ascending[-1 - tenth])
    return high / low if low > 0 else math.inf
