"""Takes E out of all moves: how a rehearsal is written."""

from __future__ import annotations

import numpy as np

from gpost.motion.follow import Follower
from gpost.write.edits import Edits
from gpost.write.flows import FlowColumn
from gpost.write.scaling import Column


class NoClay:
    """Stands where clay is scaled otherwise: every block is read, and nothing of it moves E."""

    ahead_mm = 0.0

    def __init__(self, index: int) -> None:
        """`index`: of the plan's entry that wants it."""
        self._index = index

    def wants(self, _first_line: int, _end_line: int) -> bool:
        """All lines concern it."""
        return True

    touches = wants

    def edit(self, follower: Follower, edits: Edits, edited: dict[int, int]) -> FlowColumn:
        """Take the E words of a block's moves out, and count their lines in `edited`.

        What sets E without moving it, such as G92, stays.
        """
        line, _ = follower.block.said("E")
        moving = follower.is_move[line]
        edits.drop(follower.block.of("E")[moving])
        edited[self._index] = edited.get(self._index, 0) + int(np.count_nonzero(moving))
        return FlowColumn(Column())
