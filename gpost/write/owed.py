"""What the source still owes after an inserted block: a motion word, or a feed of its own."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gpost.errors import PlanError
from gpost.motion.follow import Follower
from gpost.write.edits import Edits
from gpost.write.script import Script

Lines = NDArray[np.int64]


class Owed:
    """Carries debts from an insertion on to the line that settles them, over block borders too.

    An arc's motion mode can't be set without moving, so the next move that relies on it is given its
    G word. A feed that the program has not said yet can't be given back, so the next move must say one.
    """

    def __init__(self) -> None:
        self._motion: int | None = None
        self._feed_line: int | None = None
        """Source line, 0-based, at which something was inserted before the first F."""

    @property
    def open(self) -> bool:
        """Whether anything is owed."""
        return self._motion is not None or self._feed_line is not None

    def owe(self, script: Script, source_line: int) -> None:
        """Take on what a block leaves; `source_line` is the line before which it stands."""
        if script.owes_motion:
            self._motion = script.state.motion
        if script.owes_feed:
            self._feed_line = source_line

    def settle(self, follower: Follower, edits: Edits, from_line: int) -> None:
        """Settle what can be settled by the lines of a block from this one on.

        Raises PlanError if a move would run at a feed of the inserted block's.
        """
        move = _first(follower.move_line, from_line)
        if self._motion is not None:
            said = _first(follower.motion_line, from_line)
            if move is not None and (said is None or move < said):
                edits.before[move] = f"G{self._motion}"
            if move is not None or said is not None:
                self._motion = None
        if self._feed_line is not None:
            said = _first(follower.feed_line, from_line)
            if move is not None and (said is None or move < said):
                move_line = follower.block.chunk.first_line + move
                raise PlanError(
                    f"something is to be inserted at line {self._feed_line + 1}, but the file has not said a "
                    f"feed by then, and the move on line {move_line + 1} relies on the machine's own; add a "
                    "feed (such as F1500) to that line"
                )
            if move is not None or said is not None:
                self._feed_line = None


def _first(lines: Lines, from_line: int) -> int | None:
    """The first of some ascending lines that is not before a line."""
    place = int(np.searchsorted(lines, from_line))
    return int(lines[place]) if place < len(lines) else None
