"""Where the nozzle stands aside between two beads, for a push or a wait of the file's own."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.motion import codes
from gpost.motion.follow import Follower

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

SAME_MM = 0.05
"""Nearer than that is the same place."""
CLEAR_MM = 0.1
"""So far above a bead the nozzle touches nothing of it."""
BLOCKS_KEPT = 4
"""Ways that are kept from one line to the next, which is most often in the same block."""


class Stand(NamedTuple):
    """A place off the bead at which the nozzle stands on a line."""

    line: int
    at_mm: tuple[float, float]
    """x and y, machine mm."""
    stay: tuple[int, int] | None
    """The lines, from the first up to another, that lead there and no further: they can stay as they are
    while all else is moved along the bed. None: moved along they must be, since what comes after them goes
    on from there, or the nozzle is not lifted on its way."""


class _Gap(NamedTuple):
    """The moves between two beads, shape (k,), or (3, k)."""

    line: Ints
    start_mm: Floats
    end_mm: Floats
    names: Flags
    """Whether each names X, and Y, shape (2, k)."""
    follows: Flags
    """Which do so in relative numbers, or are bent: they go on from wherever the one before them ends."""
    before_mm: Floats | None
    """Where the bead before ends; None: there is none."""
    after_mm: Floats | None
    """Where the next bead begins; None: there is none."""
    sets_zero: bool
    """Whether a zero of X or Y is set between them."""


def stands(follow: Callable[[int], Follower], first_lines: Ints, lines: Sequence[int]) -> Iterator[Stand]:
    """Where the nozzle stands on these lines, which rise, if it is off the bead there.

    `follow`: the way through a block; `first_lines`: of all blocks.
    """
    known: dict[int, Follower] = {}

    def way(index: int) -> Follower:
        if index not in known:
            known[index] = follow(index)
            if len(known) > BLOCKS_KEPT:
                del known[min(known)]
        return known[index]

    for line in lines:
        found = _stand(_gap(way, first_lines, line), line)
        if found is not None:
            yield found


def _gap(way: Callable[[int], Follower], first_lines: Ints, line: int) -> _Gap:
    """What lies between the beads before and after a line."""
    low = high = int(np.searchsorted(first_lines, line, side="right")) - 1
    while low > 0 and not _laid(way(low), 0, line).any():
        low -= 1
    while high < len(first_lines) - 1 and not _laid(way(high), line, None).any():
        high += 1
    parts = [way(index) for index in range(low, high + 1)]
    number = np.concatenate([part.moves.line + part.block.chunk.first_line for part in parts])
    laying = np.concatenate([part.moves.laying for part in parts])
    start = np.concatenate([part.moves.start for part in parts], axis=1)
    end = np.concatenate([part.moves.end for part in parts], axis=1)
    relative = np.concatenate([_relative(part) for part in parts])
    bent = np.concatenate([~np.isnan(part.moves.radius_mm) for part in parts])
    says = [np.concatenate([part.block.stands(letter)[part.moves.line] for part in parts]) for letter in "XY"]
    earlier = np.flatnonzero(laying & (number < line))
    later = np.flatnonzero(laying & (number >= line))
    begin = int(earlier[-1]) + 1 if len(earlier) else 0
    until = int(later[0]) if len(later) else len(number)
    of = slice(begin, until)
    lines = (int(number[begin - 1]) if begin else -1, int(number[until]) if len(later) else None)
    return _Gap(
        number[of],
        start[:, of],
        end[:, of],
        np.stack(says)[:, of],
        ((relative | bent) & np.any(says, axis=0))[of],
        end[:, begin - 1] if begin else None,
        start[:, until] if len(later) else None,
        any(_sets_zero(part, *lines) for part in parts),
    )


def _laid(follower: Follower, first_line: int, end_line: int | None) -> Flags:
    line = follower.moves.line + follower.block.chunk.first_line
    inside = (line >= first_line) & (True if end_line is None else line < end_line)
    return np.asarray(follower.moves.laying & inside)


def _relative(follower: Follower) -> Flags:
    return np.broadcast_to(np.asarray(follower.relative), follower.block.lines)[follower.moves.line]


def _sets_zero(follower: Follower, after_line: int, end_line: int | None) -> bool:
    """Whether X or Y get another zero on lines after one and before another."""
    at = follower.other_line
    x, y, z, e = (follower.block.stands(letter)[at] for letter in "XYZE")
    sets = ((follower.other == codes.SET_REGISTER) & (x | y | ~(z | e))) | (
        follower.other == codes.CLEAR_OFFSETS
    )
    line = at + follower.block.chunk.first_line
    inside = (line > after_line) & (True if end_line is None else line < end_line)
    return bool((sets & inside).any())


def _stand(gap: _Gap, line: int) -> Stand | None:
    """Where the nozzle stands on a line between two beads; None where that is where one ends or begins."""
    there = gap.line <= line
    if not there.any():
        return None
    at_mm = gap.end_mm[:, there][:, -1]
    ends = [place for place in (gap.before_mm, gap.after_mm) if place is not None]
    if any(np.abs(place[:2] - at_mm[:2]).max() <= SAME_MM for place in ends):
        return None
    x_mm, y_mm = at_mm[:2].tolist()
    return Stand(line, (x_mm, y_mm), _stay(gap, at_mm, there))


def _stay(gap: _Gap, at_mm: Floats, there: Flags) -> tuple[int, int] | None:
    """The lines that lead to a place and not on from it, if those after them find their own way."""
    if gap.follows.any() or gap.sets_zero:
        return None
    there_by = _arrival(gap, there, at_mm)
    back_by = _arrival(gap, ~there, gap.after_mm)
    if gap.before_mm is None:
        return None if None in back_by or gap.after_mm is None else (0, int(gap.line[_first(back_by)]))
    lost = [leads is not None and back is None for leads, back in zip(there_by, back_by, strict=True)]
    if there_by == (None, None) or (gap.after_mm is not None and any(lost)):
        return None
    begin, clear_mm = _first(there_by), float(gap.before_mm[2]) + CLEAR_MM
    if gap.end_mm[2, begin] <= clear_mm:
        return None
    if gap.after_mm is None:
        return int(gap.line[begin]), int(gap.line[-1]) + 1
    end = _first(back_by)
    return (int(gap.line[begin]), int(gap.line[end])) if gap.start_mm[2, end] > clear_mm else None


def _arrival(gap: _Gap, which: Flags, to_mm: Floats | None) -> tuple[int | None, int | None]:
    """Which of some moves last names X, and Y, on the way to a place; None: none of them does."""
    if to_mm is None:
        return None, None
    off = which & (np.abs(gap.start_mm[:2] - to_mm[:2, None]) > SAME_MM).any(axis=0)
    until = int(np.flatnonzero(off)[-1]) + 1 if off.any() else 0
    x, y = (np.flatnonzero((axis & which)[:until]).tolist() for axis in gap.names)
    return (x[-1] if x else None), (y[-1] if y else None)


def _first(indexes: tuple[int | None, int | None]) -> int:
    return min(index for index in indexes if index is not None)
