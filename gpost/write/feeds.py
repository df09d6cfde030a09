"""Feed edits: which F words of a block change, and where one must be added, so that scaled feeds hold."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from gpost.motion.follow import Follower
from gpost.motion.lines import Lines
from gpost.plan.feeds import scaled_mm_min
from gpost.plan.intentions import ScaleFeed
from gpost.read.block import PAD, Block
from gpost.read.source import Chunk
from gpost.read.words import read_block
from gpost.survey.model import BlockMark
from gpost.write.edits import Edits
from gpost.write.figures import rounded
from gpost.write.scaling import Column, Stretches, count_edits
from gpost.write.script import exact, number

Floats = NDArray[np.float64]
FeedMarks: TypeAlias = NDArray[np.void]
"""Feed marks: see gpost/survey/feedmarks.py."""
DECIMALS = 4
NEAR = 4
"""Lines of a stretch that are looked at first."""


class FeedWord(NamedTuple):
    """An F for a line of the file: in the place of its own, or added to it."""

    line: int
    feed: float
    """In the unit in which the file says it."""
    replaces: bool
    scaled: bool
    """Whether it is the plan's, and not the file's own said again."""


FirstMoves: TypeAlias = Callable[[Iterable[tuple[int, int]]], list[int | None]]
"""The first line that moves of each stretch (first line, end line), None where there is none."""


class MarkedBlock:
    """A block that is written after only some of its lines were read again. Lines are those of the file."""

    def __init__(self, chunk: Chunk) -> None:
        self._chunk = chunk

    def first_moves(self, stretches: Iterable[tuple[int, int]]) -> list[int | None]:
        """The first line that moves of each stretch (first line, end line), None where there is none."""
        listed = [range(*stretch) for stretch in stretches]
        # most often one of the first lines does; they are read together, since each reading has its price
        moves = set(self._moving([line for lines in listed for line in lines[:NEAR]]))
        near = (next((line for line in lines[:NEAR] if line in moves), None) for lines in listed)
        return [
            next(iter(self._moving(lines[NEAR:])), None) if line is None else line
            for line, lines in zip(near, listed, strict=True)
        ]

    def _moving(self, lines: Sequence[int]) -> list[int]:
        """Those of some lines that move."""
        return [lines[index] for index in Lines(self._read(lines)).move_line.tolist()] if lines else []

    def with_feeds(self, words: Sequence[FeedWord]) -> bytes:
        """The block with these F words, one a line at most, ascending."""
        if not words:
            return self._chunk.data
        block = self._read([word.line for word in words])
        edits = Edits(block)
        _put(edits, words, range(len(words)))
        lines = edits.parts([*block.line_start.tolist(), len(block.bytes) - PAD])
        parts, place = [], 0
        for word, line in zip(words, lines, strict=True):
            first, last = self._bounds(word.line)
            parts += [self._chunk.data[place:first], line]
            place = last
        return b"".join([*parts, self._chunk.data[place:]])

    def _bounds(self, line: int) -> tuple[int, int]:
        within = line - self._chunk.first_line
        return self._chunk.size_of(within), self._chunk.size_of(within + 1)

    def _read(self, lines: Sequence[int]) -> Block:
        """Some lines, ascending, as if they stood one after the other."""
        data = b"".join(self._chunk.data[slice(*self._bounds(line))] for line in lines)
        return read_block(Chunk(data, self._chunk.offset, self._chunk.first_line))


def _put(edits: Edits, words: Sequence[FeedWord], lines: Iterable[int]) -> None:
    """Put each word into one of these lines of a block."""
    block = edits.block
    own = block.of("F")
    where = dict(zip(block.words.line[own].tolist(), own.tolist(), strict=True))
    replaced: list[tuple[int, float]] = []
    for line, word in zip(lines, words, strict=True):
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
        """`scales`: (index of the plan entry, intention)."""
        self._scales = Stretches(scales)
        self.in_force = math.nan
        self.changed = False
        """Whether the F in force in the output differs from the source's at this place."""

    def wants(self, first_line: int, end_line: int) -> bool:
        """Whether the plan asks for feed edits on these lines."""
        return len(self._scales.on(first_line, end_line)) > 0

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

    def edit_marked(self, mark: BlockMark, feeds: FeedMarks, chunk: Chunk, edited: dict[int, int]) -> bytes:
        """As `edit`, for a block with feed marks: its bytes, of which only the lines concerned are read."""
        block = MarkedBlock(chunk)
        words, _ = self._by_marks(mark, feeds, block.first_moves, edited)
        return block.with_feeds(words)

    def edit_read(self, mark: BlockMark, follower: Follower, edits: Edits, edited: dict[int, int]) -> Column:
        """As `edit`: by the block's feed marks, if it has some, since they are few."""
        if mark.feeds is None:
            return self.edit(follower.block, follower, edits, edited)
        first = mark.first_line
        moves = follower.move_line + first

        def first_moves(stretches: Iterable[tuple[int, int]]) -> list[int | None]:
            found = ((int(np.searchsorted(moves, start)), end) for start, end in stretches)
            return [int(moves[at]) if at < len(moves) and moves[at] < end else None for at, end in found]

        words, column = self._by_marks(mark, mark.feeds, first_moves, edited)
        _put(edits, words, [word.line - first for word in words])
        return column

    def _by_marks(
        self, mark: BlockMark, feeds: FeedMarks, first_moves: FirstMoves, edited: dict[int, int]
    ) -> tuple[list[FeedWord], Column]:
        """The F words that change, and the F in force in the output as `edit` gives it."""
        state = mark.state
        initial = self.in_force if self.changed else state.feed_mm_min
        line, marks = self._events_of_marks(mark, feeds, first_moves)
        if not len(line):
            return [], Column(initial)
        source = marks["feed_mm_min"]
        wanted, owner = self._wanted(line, marks["laying"], source, source * state.feed_factor)
        before = np.append(initial, wanted[:-1])
        replaces = marks["said"] & _differ(wanted, source)
        adds = ~marks["said"] & _differ(wanted, before) & ~np.isnan(wanted)
        count_edits(owner[replaces | adds], edited)
        self._carry(float(wanted[-1]), float(source[-1]))
        said = wanted / state.scale
        words = [
            FeedWord(int(line[i]), float(said[i]), replaces=bool(replaces[i]), scaled=bool(owner[i] >= 0))
            for i in np.flatnonzero(replaces | adds).tolist()
        ]
        return words, Column(initial, line - mark.first_line, wanted)

    def _carry(self, in_force: float, source: float) -> None:
        """Remember the F after a block: in the output, and as the source has it."""
        self.in_force = in_force
        self.changed = bool(_differ(np.array(in_force), np.array(source)))

    def _events_of_marks(
        self, mark: BlockMark, feeds: FeedMarks, first_moves: FirstMoves
    ) -> tuple[NDArray[np.int64], FeedMarks]:
        """Lines on which the feed may change: those of the marks, and the first of each stretch of the plan.

        What happens on each is as its mark says, or the last mark before it.
        """
        marked = feeds["line"] + mark.first_line
        end_line = mark.first_line + mark.lines
        edges = self._scales.edges
        asked = set(edges[slice(*np.searchsorted(edges, (mark.first_line + 1, end_line)))].tolist())
        bounds = sorted({*asked, *marked.tolist(), end_line})
        stretches = [(a, b) for a, b in pairwise(bounds) if a in asked and (len(marked) and a > marked[0])]
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
        for index, scale in self._scales.on(int(line[0]), int(line[-1]) + 1):
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
        word[follower.feed_line] = follower.feed_index
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
