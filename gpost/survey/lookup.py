"""Answers what a survey is asked of lines and spots, by reading blocks of the file again."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.common.frozen import locked
from gpost.common.latest import keep
from gpost.common.ways import thinned
from gpost.config.model import Config
from gpost.motion import codes
from gpost.motion.arcbox import points_mm
from gpost.motion.follow import Follower
from gpost.motion.moves import Moves
from gpost.motion.splitting import can_split
from gpost.read.source import Source
from gpost.read.words import read_block
from gpost.spot import START, Spot
from gpost.survey.clay import ClayMeter, pushes_of
from gpost.survey.inside import NO_PUSHES, Place, Pushes
from gpost.survey.model import BlockMark
from gpost.survey.stands import Stand, stands
from gpost.survey.within import Within, clock_within

Floats = NDArray[np.float64]
AT_THE_END = 1e-9
"""Part of a move that is too small to split it there."""
BLOCKS_KEPT = 8
MOVES_KEPT = 2
"""Of so many blocks: a place and its clay are asked for one after the other, and of two places in turn."""
SAME_MM = 1e-6
CLEAR_MM = 0.1
"""So far above a height the nozzle touches nothing of it."""
NEXT_LAID = 100
"""Lines after a spot that are read at first to find the next clay; a block is read as a whole if need be."""
NEAR = 1.05
"""How far beyond the place where an amount of clay is to be expected a block is read to find it."""


class FileLookup:
    """The Lookup that reads the file again."""

    def __init__(
        self,
        source: Source,
        config: Config,
        marks: Sequence[BlockMark],
        peaks_ml: Sequence[float],
        clay_ml: float,
        kept: Sequence[Follower] = (),
    ) -> None:
        """`peaks_ml`: for each block the most net clay, from the file's start, that any of its moves reaches.

        `kept`: the ways through the first blocks, if they are known still.
        """
        self._marks = marks
        self._total_ml = clay_ml
        self._peaks_ml = np.array(peaks_ml, np.float64)
        self._first_lines = np.array([mark.first_line for mark in marks], np.int64)
        # of parts of this object, not of its method: else it would hold itself, and its blocks, in memory
        self.follow = partial(_follow, source, config, marks, kept)
        """The machine's way through a block, by its index. Raises SourceError if the file has changed."""
        self._meter = ClayMeter(config)
        self._known: dict[int, _Part] = {}
        """Parts of blocks that were read, the last ones by the index of their mark."""
        self._moved: dict[int, tuple[int, Moves]] = {}
        """(lines of a block that were read, the moves on them), the last ones by the index of their mark."""
        self._machine = config.machine
        self._within: dict[tuple[int, int], Within] = {}
        """The clocks of the stretches of lines that were asked for last."""
        self._splits: dict[tuple[int, bool], bool] = {}
        """Whether the move on a line can be split, for lines that were asked for."""
        self._laid_mm: dict[Spot, Place | None] = {}
        """Where clay is laid at spots that were asked for: the same ones are, again and again."""

    def laid_points(self, first_line: int, end_line: int) -> Floats:
        """Points that the clay laid on these lines leads through: x and y, machine mm, shape (2, k).

        Of a wall in segments of hundredths of a mm one in each of these: it may have millions.
        """
        found = [
            thinned(points_mm(follower, which)) for follower, which in self._laying(first_line, end_line)
        ]
        return locked(np.concatenate([np.zeros((2, 0)), *found], axis=1))

    def laid_path(self, first_line: int, end_line: int) -> tuple[NDArray[np.int64], Floats]:
        """(lines among these that lay clay, the path laid on each in mm), both of shape (k,)."""
        line, path_mm = [np.zeros(0, np.int64)], [np.zeros(0)]
        for follower, which in self._laying(first_line, end_line):
            line.append(follower.moves.line[which] + follower.block.chunk.first_line)
            path_mm.append(follower.moves.length_mm[which])
        return locked(np.concatenate(line)), locked(np.concatenate(path_mm))

    def laid_way(self, spot: Spot, length_mm: float) -> tuple[NDArray[np.int64], Floats]:
        """The laid path that leads to a spot, that long or as far as it hangs together, from its start.

        (line that lays to or from each place, its x, y, z in machine mm), of shapes (k,) and (3, k); none
        where the nozzle was moved aside since.
        """
        lines: list[int] = []
        places = np.zeros((3, 0))
        along_mm = np.zeros(0)
        for line, way in self._ways_back(spot):
            back = way[:, ::-1]
            if lines and np.abs(places[:, -1] - back[:, 0]).max() > SAME_MM:
                break
            back = back[:, 1:] if lines else back
            lines += [line] * back.shape[1]
            places = np.concatenate([places, back], axis=1)
            along_mm = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(places), axis=0)))
            if along_mm[-1] >= length_mm:
                break
        whole = int(np.searchsorted(along_mm, length_mm))
        if whole < len(along_mm):  # the last place is one on the way
            at = [np.interp(length_mm, along_mm, axis) for axis in places]
            places = np.column_stack([places[:, :whole], at])
            lines = lines[: whole + 1]
        return locked(np.array(lines[::-1], np.int64)), locked(places[:, ::-1].copy())

    def _ways_back(self, spot: Spot) -> Iterator[tuple[int, Floats]]:
        """(line, places along it in machine mm, shape (3, k)) of the moves that lay up to a spot, backwards.

        It ends where the nozzle moves aside without clay. After the last of them it may have gone up or down.
        """
        for index in range(self._block_of(spot.line), -1, -1):
            mark = self._marks[index]
            follower = self.follow(index, min(spot.line + 1 - mark.first_line, mark.lines))
            moves = follower.moves
            line = moves.line + mark.first_line
            end = int(np.searchsorted(line, spot.line, side="right" if spot.fraction else "left"))
            for place in range(end - 1, -1, -1):
                if not moves.laying[place]:
                    if moves.xy[place]:
                        return
                    continue
                which = np.zeros(len(moves), np.bool_)
                which[place] = True
                flat = points_mm(follower, which)
                along = np.append(0.0, np.cumsum(np.hypot(*np.diff(flat))))
                share = along / along[-1] if along[-1] > 0 else np.linspace(0.0, 1.0, len(along))
                start, stop = moves.start[2, place], moves.end[2, place]
                way = np.vstack([flat, start + share * (stop - start)])
                if line[place] == spot.line:  # only straight moves are split
                    way[:, -1] = way[:, 0] + spot.fraction * (way[:, -1] - way[:, 0])
                yield int(line[place]), way

    def pushes(self, first_line: int, end_line: int) -> Pushes:
        """What pushes clay in place on these lines, or draws it back."""
        ways = self.ways(first_line, end_line)
        found = [pushes_of(follower, self._meter, first_line, end_line) for follower in ways]
        return Pushes(*(locked(np.concatenate(parts)) for parts in zip(NO_PUSHES, *found, strict=True)))

    def stands(self, lines: Sequence[int]) -> tuple[Stand, ...]:
        """Where the nozzle stands on these lines, which rise, if it is off the bead there."""
        return tuple(stands(self.follow, self._first_lines, lines))

    def most_drawn_back(self, first_line: int, end_line: int) -> tuple[int, float]:
        """(line among these on which E draws back most clay, how much in ml); the first and 0 without one."""
        found, most_ml = first_line, 0.0
        for follower in self.ways(first_line, end_line):
            line = follower.moves.line + follower.block.chunk.first_line
            drawn_ml = np.where(
                (line >= first_line) & (line < end_line), -self._meter.clay_ml(follower.moves), 0.0
            )
            if len(drawn_ml) and drawn_ml.max() > most_ml:
                found, most_ml = int(line[drawn_ml.argmax()]), float(drawn_ml.max())
        return found, most_ml

    def ways(self, first_line: int, end_line: int) -> Iterator[Follower]:
        """The way through the blocks that hold these lines, no further than to the last of them."""
        for index, mark in enumerate(self._marks):
            if mark.first_line < end_line and mark.first_line + mark.lines > first_line:
                yield self.follow(index, min(end_line - mark.first_line, mark.lines))

    def _laying(self, first_line: int, end_line: int) -> Iterator[tuple[Follower, NDArray[np.bool_]]]:
        """The blocks that hold these lines, and which moves of each lay clay on them."""
        for follower in self.ways(first_line, end_line):
            line = follower.moves.line + follower.block.chunk.first_line
            yield follower, follower.moves.laying & (line >= first_line) & (line < end_line)

    def time_share(self, first_line: int, end_line: int, spot: Spot) -> float:
        """The part of the time of the moves on these lines that has passed at a spot among them, 0 to 1."""
        known = self._within.get((first_line, end_line))
        if known is None:
            known = clock_within(self.ways(first_line, end_line), first_line, end_line, self._machine)
        return keep(self._within, (first_line, end_line), known, BLOCKS_KEPT).share(spot)

    def lifted_from(self, line: int, height_mm: float) -> int:
        """The line, from this one on, before which the nozzle has gone above a height, or homed.

        The end of the file if it never does.
        """
        for index, mark in enumerate(self._marks):
            if mark.first_line + mark.lines >= line:  # a block's last move counts from the next line on
                follower = self.follow(index)
                above = follower.moves.line[follower.moves.end[2] > height_mm + CLEAR_MM] + 1
                homed = [at for at, code in follower.special.items() if code == codes.HOME]
                after = np.array([*above.tolist(), *homed], np.int64) + mark.first_line
                if (after >= line).any():
                    return int(after[after >= line].min())
        return self._marks[-1].first_line + self._marks[-1].lines

    def laid_at(self, spot: Spot) -> Place | None:
        """Where clay is laid at the spot, or next after it; None if none is."""
        if spot not in self._laid_mm:
            self._laid_mm[spot] = self._find_laid(spot)
        return self._laid_mm[spot]

    def _find_laid(self, spot: Spot) -> Place | None:
        first = self._block_of(spot.line)
        inside = spot.line - self._marks[first].first_line
        near = [(first, inside + NEXT_LAID)] if inside + NEXT_LAID < self._marks[first].lines else []
        for index, lines in (*near, *((index, None) for index in range(first, len(self._marks)))):
            mark, line = self._marks[index], spot.line - self._marks[index].first_line
            _, moves = self._moves(index, mark.lines if lines is None else lines)
            found = np.flatnonzero(moves.laying & (moves.line + mark.first_line >= spot.line))
            if len(found):
                place = int(found[0])
                part = spot.fraction if moves.line[place] == line else 0.0
                start_mm, end_mm = moves.start[:, place], moves.end[:, place]
                x_mm, y_mm, z_mm = (start_mm + part * (end_mm - start_mm)).tolist()
                return x_mm, y_mm, z_mm
        return None

    def rises_to(self, first_line: int, end_line: int, height_mm: float) -> Spot | None:
        """The first spot on these lines at which clay is laid at that height or above; None without one."""
        for follower, which in self._laying(first_line, end_line):
            moves = follower.moves
            found = np.flatnonzero(which & (np.maximum(moves.start[2], moves.end[2]) >= height_mm - SAME_MM))
            if len(found):
                place = int(found[0])
                start_mm, end_mm = float(moves.start[2, place]), float(moves.end[2, place])
                line = int(moves.line[place]) + follower.block.chunk.first_line
                part = (height_mm - start_mm) / (end_mm - start_mm) if end_mm > start_mm else 0.0
                if part <= AT_THE_END:
                    return Spot(line)
                return Spot(line + 1) if part >= 1 - AT_THE_END else self.stands_at(Spot(line, part))
        return None

    def clay_before(self, spot: Spot) -> float:
        """Net clay in ml metered before the spot."""
        index = self._block_of(spot.line)
        if index < 0:
            return 0.0
        mark = self._marks[index]
        if spot == Spot(mark.first_line):
            return mark.clay_ml
        if spot.line >= mark.first_line + mark.lines:
            return self._total_ml
        line = spot.line - mark.first_line
        part = self._part(index, line + 1)
        place = int(np.searchsorted(part.line, line))
        before = float(part.clay_ml[place])
        if spot.fraction and place < len(part.line) and part.line[place] == line:
            return before + spot.fraction * (float(part.clay_ml[place + 1]) - before)
        return before

    def most_clay(self, start: Spot, end: Spot) -> float:
        """The highest net clay in ml at any spot from `start` to `end`, both counted."""
        first, last = max(self._block_of(start.line), 0), max(self._block_of(end.line), 0)
        most_ml = max(self.clay_before(start), self.clay_before(end))
        most_ml = max(most_ml, float(self._peaks_ml[first + 1 : last].max(initial=-np.inf)))
        for index in dict.fromkeys((first, last)):
            if self._peaks_ml[index] > most_ml:  # or nothing in it counts, and it needn't be read
                most_ml = max(most_ml, self._most_on_lines(index, start.line, end.line))
        return most_ml

    def _most_on_lines(self, index: int, first_line: int, end_line: int) -> float:
        """The highest net clay after any move of a block on these lines of the file; -inf if none moves."""
        mark = self._marks[index]
        first, end = max(first_line - mark.first_line, 0), min(end_line - mark.first_line, mark.lines)
        if (first, end) == (0, mark.lines):
            return float(self._peaks_ml[index])
        if first >= end:
            return -np.inf
        part = self._part(index, end)
        which = slice(*np.searchsorted(part.line, (first, end)).tolist())
        return float(part.clay_ml[1:][which].max(initial=-np.inf))

    def _block_of(self, line: int) -> int:
        """Index of the block that holds a line: the last one beyond the end, -1 before the start."""
        return int(np.searchsorted(self._first_lines, line, side="right")) - 1

    def stands_at(self, spot: Spot, *, arcs: bool = False) -> Spot:
        """The spot itself, or the start of its line if the move there can't be split; see `Survey`."""
        if not spot.fraction:
            return spot
        if (spot.line, arcs) not in self._splits:
            self._splits[spot.line, arcs] = self._can_split(spot.line, arcs)
        return spot if self._splits[spot.line, arcs] else Spot(spot.line)

    def _can_split(self, line: int, arcs: bool) -> bool:
        index = self._block_of(line)
        inside = line - self._marks[index].first_line
        follower = self.follow(index, inside + 1)
        move = int(np.searchsorted(follower.moves.line, inside))
        moves = move < len(follower.moves) and follower.moves.line[move] == inside
        return bool(moves) and can_split(follower.block, inside, int(follower.motion[move]), arcs=arcs)

    def find_clay(self, clay_ml: float, since: Spot = START, until: Spot | None = None) -> Spot:
        """The first spot from `since` on where net clay reaches clay_ml; `until` if it doesn't before that.

        `until` is the end of the file if it is left out.
        """
        last = self._marks[-1]
        until = Spot(last.first_line + last.lines) if until is None else until
        first = max(self._block_of(since.line), 0)
        highest_ml = max(self._marks[first].clay_ml, float(self._peaks_ml[first]))
        if highest_ml >= clay_ml and self.clay_before(since) >= clay_ml:
            return since
        for index in (np.flatnonzero(self._peaks_ml[first:] >= clay_ml) + first).tolist():
            if self._marks[index].first_line >= until.line:
                break
            found = self._find_in(index, clay_ml, since)
            if found is not None:
                return min(found, until)
        return until

    def _find_in(self, index: int, clay_ml: float, since: Spot) -> Spot | None:
        """The first spot of a block, from the line of `since` on, where net clay reaches clay_ml."""
        mark = self._marks[index]
        for lines in (self._expected_line(index, clay_ml), mark.lines):
            part = self._part(index, lines)
            reached = (part.clay_ml[1:] >= clay_ml) & (part.line >= since.line - mark.first_line)
            if reached.any():
                break
        else:
            return None
        place = int(np.argmax(reached))
        before_ml, after_ml = part.clay_ml[place : place + 2].tolist()
        share = (clay_ml - before_ml) / (after_ml - before_ml)
        line = mark.first_line + int(part.line[place])
        if share <= AT_THE_END:
            return Spot(line)
        return Spot(line + 1) if share >= 1 - AT_THE_END else Spot(line, share)

    def _expected_line(self, index: int, clay_ml: float) -> int:
        """Lines from the block's start to about where an amount is reached, if its clay flows evenly."""
        mark = self._marks[index]
        end_ml = self._marks[index + 1].clay_ml if index + 1 < len(self._marks) else self._total_ml
        share = (clay_ml - mark.clay_ml) / max(end_ml - mark.clay_ml, 1e-9)
        return int(min(share * NEAR, 1.0) * mark.lines) + 1

    def _part(self, index: int, lines: int) -> _Part:
        """A block up to so many lines at least: half of one is read in half the time."""
        known = self._known.get(index)
        mark = self._marks[index]
        if known is None or known.lines < lines:
            # what was asked for beyond what is known may be asked for again, further on
            upto, moves = self._moves(index, mark.lines if known is not None else lines)
            clay_ml = np.append(mark.clay_ml, mark.clay_ml + np.cumsum(self._meter.clay_ml(moves)))
            known = _Part(upto, moves.line, clay_ml)
        return keep(self._known, index, known, BLOCKS_KEPT)

    def _moves(self, index: int, lines: int) -> tuple[int, Moves]:
        """(on how many lines of a block, so many at least, the moves on them)."""
        known = self._moved.get(index)
        if known is None or known[0] < lines:
            known = lines, self.follow(index, lines).moves
        return keep(self._moved, index, known, MOVES_KEPT)


class _Part(NamedTuple):
    """The first lines of a block."""

    lines: int
    """Their number."""
    line: NDArray[np.int64]
    """Those of them that move, shape (m,)."""
    clay_ml: Floats
    """Net clay before the block and after each of these, shape (m + 1,)."""


def _follow(
    source: Source,
    config: Config,
    marks: Sequence[BlockMark],
    kept: Sequence[Follower],
    index: int,
    lines: int | None = None,
) -> Follower:
    """The way through a block, or through so many of its lines at least."""
    if index < len(kept):
        return kept[index]
    mark = marks[index]
    block = read_block(mark.read(source).head(mark.lines if lines is None else lines))
    return Follower(block, mark.state, config.machine, config.clay.metering)
