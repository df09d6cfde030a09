"""Feed edits: which F words of a block change, and where one must be added, so that scaled feeds hold."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from gpost.motion.follow import Follower
from gpost.plan.feeds import scaled_mm_min
from gpost.plan.intentions import ScaleFeed
from gpost.read.block import Block
from gpost.survey.model import BlockMark
from gpost.write.columns import Column
from gpost.write.edits import Edits
from gpost.write.entries import concerning, count_edits
from gpost.write.figures import rounded
from gpost.write.script import exact, number

Floats = NDArray[np.float64]
FirstMoves: TypeAlias = Callable[[Iterable[tuple[int, int]]], list[int | None]]
DECIMALS = 4


class FeedWord(NamedTuple):
    """An F for a line of the file: in the place of its own, or added to it."""

    line: int
    feed: float
    """In the unit in which the file says it."""
    replaces: bool
    scaled: bool
    """Whether it is the plan's, and not the file's own said again."""


def put_words(edits: Edits, words: Iterable[tuple[int, FeedWord]]) -> None:
    """Put (line within the block, word) into the edits of a block, ascending."""
    block = edits.block
    own = block.of("F")
    where = dict(zip(block.words.line[own].tolist(), own.tolist(), strict=True))
    replaced: list[tuple[int, float]] = []
    for line, word in words:
        if word.replaces:
            replaced.append((where[line], word.feed))
        else:
            edits.after[line] = "F" + _said(word.feed, scaled=word.scaled)
    if replaced:
        index, feed = zip(*replaced, strict=True)
        _replace(edits, np.array(index, np.int64), np.array(feed))


class FeedScaler:
    """Edits the feeds of one block after another, carrying the F in force in the output."""

    def __init__(self, scales: Sequence[tuple[int, ScaleFeed]]) -> None:
        """`scales`: (index of the plan entry, wish)."""
        self._scales = list(scales)
        self.in_force = math.nan
        self.changed = False
        """Whether the F in force in the output differs from the source's at this place."""

    def wants(self, first_line: int, end_line: int) -> bool:
        """Whether the plan asks for feed edits on these lines."""
        return any(concerning(self._scales, first_line, end_line))

    def touches(self, first_line: int, end_line: int) -> bool:
        """Whether a block of these lines needs feed edits."""
        return self.changed or self.wants(first_line, end_line)

    def edit(self, block: Block, follower: Follower, edits: Edits, edited: dict[int, int]) -> Column:
        """Put the feed edits of this block into `edits`; count edited lines by plan entry in `edited`.

        Returns the F in force in the output, mm/min, as each move of the block or line of F alone says it.
        """
        initial = self.in_force if self.changed else follower.state.feed_mm_min
        moves = follower.moves
        source = follower.raw_feed
        line = moves.line + block.chunk.first_line
        wanted, owner = self._wanted(line, moves.laying, source, moves.feed_mm_min)
        word_of_line = self._feed_words(block, follower)
        events = self._events(follower, wanted, word_of_line)
        column = Column(initial, events[0], events[1])
        before = np.concatenate([[initial], events[1]])[:-1][events[2]]
        has_word = word_of_line[moves.line] >= 0
        replace = has_word & _differ(wanted, source)
        append = ~has_word & _differ(wanted, before) & ~np.isnan(wanted)
        scale = follower.feed_scale_on_moves
        _replace(edits, word_of_line[moves.line[replace]], wanted[replace] / scale[replace])
        for i in np.flatnonzero(append).tolist():
            edits.after[int(moves.line[i])] = "F" + _said(
                float(wanted[i] / scale[i]), scaled=bool(owner[i] >= 0)
            )
        count_edits(owner[replace | append], edited)
        self._carry(column.last, follower.end.feed_mm_min)
        return column

    def edit_sparse(
        self, mark: BlockMark, feeds: NDArray[np.void], first_moves: FirstMoves, edited: dict[int, int]
    ) -> list[FeedWord]:
        """As `edit`, for a block by its feed marks, without reading it.

        `first_moves`: the first line that moves of each stretch (first line, end line), None where none does.
        """
        line, marks = self._events_of_marks(mark, feeds, first_moves)
        if not len(line):
            return []
        state, source = mark.state, marks["feed_mm_min"]
        wanted, owner = self._wanted(line, marks["laying"], source, source * state.feed_factor)
        before = np.append(self.in_force if self.changed else state.feed_mm_min, wanted[:-1])
        replaces = marks["said"] & _differ(wanted, source)
        adds = ~marks["said"] & _differ(wanted, before) & ~np.isnan(wanted)
        count_edits(owner[replaces | adds], edited)
        self._carry(float(wanted[-1]), float(source[-1]))
        said = wanted / state.scale
        return [
            FeedWord(int(line[i]), float(said[i]), replaces=bool(replaces[i]), scaled=bool(owner[i] >= 0))
            for i in np.flatnonzero(replaces | adds).tolist()
        ]

    def _carry(self, in_force: float, source: float) -> None:
        """Remember the F after a block: in the output, and as the source has it."""
        self.in_force = in_force
        self.changed = bool(_differ(np.array(in_force), np.array(source)))

    def _events_of_marks(
        self, mark: BlockMark, feeds: NDArray[np.void], first_moves: FirstMoves
    ) -> tuple[NDArray[np.int64], NDArray[np.void]]:
        """Lines on which the feed may change: those of the marks, and the first of each stretch of the plan.

        What happens on each is as its mark says, or the last mark before it.
        """
        marked = feeds["line"] + mark.first_line
        end_line = mark.first_line + mark.lines
        wished = {line for _, s in self._scales for line in (s.first_line, s.end_line)}
        edges = sorted(line for line in wished if mark.first_line < line < end_line)
        bounds = sorted({*edges, *marked.tolist(), end_line})
        stretches = [(a, b) for a, b in pairwise(bounds) if a in wished and (len(marked) and a > marked[0])]
        added = [line for line in first_moves(stretches) if line is not None]
        line = np.array(sorted({*marked.tolist(), *added}), np.int64)
        last = np.searchsorted(marked, line, side="right") - 1
        found = feeds[last]
        found["said"] &= marked[last] == line
        return line, found

    def _wanted(
        self, line: NDArray[np.int64], laying: NDArray[np.bool_], source: Floats, effective: Floats
    ) -> tuple[Floats, NDArray[np.int64]]:
        """F wanted for each move, mm/min rounded to a tenth, and the plan entry that wants it (-1: none).

        All are columns of the moves: lines within the file, ascending; F in force, and F times its factor.
        """
        wanted = source.copy()
        owner = np.full(len(line), -1)
        if not len(line):
            return wanted, owner
        # the floor is of the effective feed: under M220 another F gives it
        with np.errstate(invalid="ignore", divide="ignore"):
            per_effective = np.where(effective > 0, source / effective, 1.0)
        for index, scale in concerning(self._scales, int(line[0]), int(line[-1]) + 1):
            here = slice(*np.searchsorted(line, (scale.first_line, scale.end_line)).tolist())
            pick = np.flatnonzero(laying[here]) + here.start
            floor = scale.floor_mm_min * per_effective[pick]
            wanted[pick] = scaled_mm_min(wanted[pick], scale.factor, floor)
            owner[pick] = index
        changed = (owner >= 0) & _differ(wanted, source)  # a feed that stays is not rounded
        wanted[changed] = np.maximum(np.round(wanted[changed], 1), 0.1)
        return wanted, owner

    def _feed_words(self, block: Block, follower: Follower) -> NDArray[np.int64]:
        """Index of the F word that counts on each line of the block, or -1."""
        word = np.full(block.lines, -1)
        sel = block.of("F")
        line = block.words.line[sel]
        counts = ~follower.claimed[line]
        word[line[counts]] = sel[counts]
        return word

    def _events(
        self, follower: Follower, wanted: Floats, word_of_line: NDArray[np.int64]
    ) -> tuple[NDArray[np.int64], Floats, NDArray[np.int64]]:
        """Lines and F of all events, and the index of each move among them."""
        alone = np.flatnonzero((word_of_line >= 0) & ~follower.is_move)
        if not len(alone):
            return follower.moves.line, wanted, np.arange(len(wanted))
        lines = np.concatenate([follower.moves.line, alone])
        values = np.concatenate([wanted, follower.feed_of_words(word_of_line[alone])])
        order = np.argsort(lines, kind="stable")
        place = np.empty(len(order), np.int64)
        place[order] = np.arange(len(order))
        return lines[order], values[order], place[: len(wanted)]


def _replace(edits: Edits, word: NDArray[np.int64], value: Floats) -> None:
    decimals = np.full(len(word), DECIMALS)
    edits.many(word, rounded(value, decimals), decimals)


def _said(feed: float, *, scaled: bool) -> str:
    """A feed as it is said; the source's own comes back to the last digit."""
    return number(feed, DECIMALS) if scaled else exact(feed)


def _differ(a: Floats, b: Floats) -> NDArray[np.bool_]:
    """Whether feeds differ, NaN (not yet said) being equal to NaN."""
    with np.errstate(invalid="ignore"):
        return np.asarray((np.abs(a - b) > 1e-6) | (np.isnan(a) != np.isnan(b)))
