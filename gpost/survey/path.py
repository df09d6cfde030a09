"""Laying moves as the layer finder sees them: where each comes from, and whether it goes on from the last."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields

import numpy as np
from numpy.typing import NDArray

from gpost.common.records import record

try:
    from gpost.survey.onepass import flags
except ImportError:  # installed without a compiler
    from gpost.survey.bycolumns import flags

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

DROP_MM = 0.2
"""Depth under what was laid last to which the nozzle comes down that goes to another wall, or piece."""


@record(slots=True)
class Laying:
    """n laying moves: ends (3, n) and starts (3, n) in machine mm, path lengths (n,)."""

    start: Floats
    end: Floats
    length_mm: Floats

    def __len__(self) -> int:
        return len(self.length_mm)

    @staticmethod
    def join(parts: Sequence[Laying]) -> Laying:
        """Parts, one after the other; at least one."""
        filled = [part for part in parts if len(part)] or [parts[0]]
        if len(filled) == 1:
            return filled[0]
        return Laying(
            np.concatenate([part.start for part in filled], axis=1),
            np.concatenate([part.end for part in filled], axis=1),
            np.concatenate([part.length_mm for part in filled]),
        )


@record(slots=True)
class Path:
    """n laying moves in order, machine mm."""

    start: Floats
    """shape (3, n). A small step by Z alone just before a move belongs to it: it starts where that starts."""
    end: Floats
    """shape (3, n)."""
    length_mm: Floats
    joined: Flags
    """Whether each goes on where the laying move before ended, seen from above; else the nozzle travels."""
    sloped: Flags
    """Whether each rises or falls."""
    apart: Flags
    """Whether each begins elsewhere than the last one ended, or clearly above or below it."""

    @staticmethod
    def of(moves: Laying, before: Floats) -> Path:
        """The moves; `before`: where the last one before them ended, (3,), NaN without one."""
        return Path.none().followed([moves], before)

    def followed(self, moves: Sequence[Laying], before: Floats) -> Path:
        """This path and the moves after it; `before`: where it ended, (3,), NaN without an end."""
        own = len(self)
        whole = Laying.join([Laying(self.start, self.end, self.length_mm), *moves])
        start, end = whole.start, whole.end
        joined, step, sloped, apart = flags(start[:, own:], end[:, own:], before)
        if step.any():
            at = np.flatnonzero(step)
            start = start.copy()
            start[2, own + at] = np.where(at > 0, end[2, own + at - 1], before[2])
        flagged = ((self.joined, joined), (self.sloped, sloped), (self.apart, apart))
        return Path(start, end, whole.length_mm, *(np.concatenate(both) for both in flagged))

    def __len__(self) -> int:
        return len(self.length_mm)

    def cut(self, first: int, last: int | None = None) -> Path:
        """Part of it; the arrays are shared."""
        part = slice(first, last)
        start, end, length_mm = self.start[:, part], self.end[:, part], self.length_mm[part]
        return Path(start, end, length_mm, self.joined[part], self.sloped[part], self.apart[part])

    def travels(self) -> NDArray[np.int64]:
        """The moves, but the first, to which the nozzle travels, or is lifted."""
        return np.flatnonzero(self.apart[1:]) + 1

    def points(self) -> tuple[Floats, Floats, NDArray[np.int64]]:
        """Points that it leads through, travel included: x and y, (2, m); heights, (m,).

        And the point at which each move ends, (n,).
        """
        ends = np.arange(len(self)) + 1
        if not self.apart[1:].any():
            points = np.concatenate([self.start[:, :1], self.end], axis=1)
            return points[:2], points[2], ends
        begin = np.append(0, self.travels())
        ends += np.searchsorted(begin, np.arange(len(self)), side="right") - 1
        points = np.empty((3, len(self) + len(begin)))
        points[:, ends] = self.end
        points[:, ends[begin] - 1] = self.start[:, begin]
        return points[:2], points[2], ends

    @staticmethod
    def join(parts: Sequence[Path]) -> Path:
        """Parts, one after the other; at least one."""
        filled = [part for part in parts if len(part)] or [parts[0]]
        if len(filled) == 1:
            return filled[0]
        return Path(*(np.concatenate([getattr(part, name) for part in filled], axis=-1) for name in _COLUMNS))

    @staticmethod
    def none() -> Path:
        """No moves."""
        places, flags = np.zeros((3, 0)), np.zeros(0, np.bool_)
        return Path(places, places, np.zeros(0), flags, flags, flags)


_COLUMNS = tuple(field.name for field in fields(Path))


@record(slots=True)
class Starts:
    """For settled laying moves, oldest first: whether each starts a part of the wall, and the part's kind."""

    starts: Flags
    kind: NDArray[np.uint8]

    @staticmethod
    def of(starts: Flags, kind: int) -> Starts:
        """Moves of one kind."""
        return Starts(starts, np.full(len(starts), kind, np.uint8))

    @staticmethod
    def join(parts: Sequence[Starts]) -> Starts:
        """Parts, one after the other."""
        return Starts(
            np.concatenate([np.zeros(0, np.bool_), *(part.starts for part in parts)]),
            np.concatenate([np.zeros(0, np.uint8), *(part.kind for part in parts)]),
        )


LEVEL, TURN, ODD = 0, 1, 2
"""Kinds: all at one height; once round a wall that rises or waves; where nothing of that can be told."""
