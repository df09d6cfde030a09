"""How a file ends: whether it looks as if it had been cut off."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from gpost.motion.follow import Follower
from gpost.motion.moves import Moves
from gpost.read.block import Block
from gpost.survey.inside import Lookup
from gpost.survey.lastline import TAIL_BYTES, LastLine
from gpost.survey.path import LEVEL

SINKS_MM = 0.05
"""So far below the bead that it leaves no nozzle goes: the number of its height has lost its end."""


class Ending:
    """Goes along with the survey, block by block."""

    def __init__(self) -> None:
        self._cut_line: int | None = None
        """The last line, if it isn't ended and seems to be part of a longer one."""
        self._lays_last = self._laid_before = False
        """Whether the last command lays clay, and whether the last move does."""
        self._end_line, self._end_mm = 0, np.zeros(2)
        """The line of the last move, and where it ends."""
        self._tail = b""
        """The end of the file so far."""

    def add(self, block: Block, follower: Follower) -> None:
        """Look at one block."""
        moves, chunk, said = follower.moves, block.chunk, _last_said(block)
        self._tail = (self._tail + chunk.data[-TAIL_BYTES:])[-TAIL_BYTES:]
        self._cut_line = None
        if said < 0:
            return
        moves_last = len(moves) > 0 and int(moves.line[-1]) == said
        if moves_last and said == chunk.lines - 1 and not chunk.data.endswith(b"\n"):
            self._cut_line = chunk.first_line + said if self._breaks_off(moves) else None
        self._lays_last = bool(moves_last and moves.laying[-1])
        if len(moves):
            self._laid_before = bool(moves.laying[-1])
            self._end_line, self._end_mm = chunk.first_line + int(moves.line[-1]), moves.end[:2, -1].copy()

    def _breaks_off(self, moves: Moves) -> bool:
        """Whether the last move stands on a line that seems to be part of a longer one."""
        last = LastLine(self._tail)
        if moves.laying[-1]:
            return not last.is_whole()
        before = bool(moves.laying[-2]) if len(moves) > 1 else self._laid_before
        in_bead = before and bool(moves.xy[-1]) and not moves.rapid[-1]
        sinks = before and moves.end[2, -1] < moves.start[2, -1] - SINKS_MM
        return in_bead or sinks or last.breaks_off()

    def sentences(self, layers: NDArray[np.void], lookup: Lookup, bead_mm: float) -> Iterator[str]:
        """What makes one think that the file is cut off, for beads of this width."""
        if self._cut_line is not None:
            yield (
                f"the file ends in the middle of line {self._cut_line + 1} as it seems: it may be cut off. "
                "Look at its end, or write it again"
            )
        elif self._lays_last and not self._ends_as_before(layers, lookup, bead_mm):
            yield (
                f"the file ends while it lays clay (line {self._end_line + 1}), and elsewhere than "
                f"layer {len(layers) - 1} began and ended: it may be cut off. Look whether it goes up to the "
                "rim, or write it again"
            )

    def _ends_as_before(self, layers: NDArray[np.void], lookup: Lookup, bead_mm: float) -> bool:
        """Whether the last layer comes back to its start, or ends where the one before began or ended.

        True also where that tells nothing: a wall that rises may end anywhere, and so may a strip
        beside the piece, or on a last layer that is as long as the one before.
        """
        level = (layers["kind"][-2:] == LEVEL) & ~layers["odd"][-2:]
        if len(layers) < 2 or not level.all() or layers["path_mm"][-1] >= layers["path_mm"][-2]:
            return True
        last = layers[-1]
        for axis, end_mm in zip("xy", self._end_mm, strict=True):
            if not last[f"{axis}_min_mm"] - bead_mm <= end_mm <= last[f"{axis}_max_mm"] + bead_mm:
                return True
        before = lookup.laid_points(*layers["first_line"][-2:].tolist())[:, -1:]
        starts = np.stack([layers["start_x_mm"][-2:], layers["start_y_mm"][-2:]])
        places = np.concatenate([starts, before], axis=1)
        return bool(np.hypot(*(places - self._end_mm[:, None])).min() <= bead_mm)


def _last_said(block: Block) -> int:
    """The last line of a block that holds more than a comment; -1 without one."""
    words = int(block.words.line[-1]) if len(block.words.line) else -1
    return max([words, *(odd.line for odd in block.odd)])
