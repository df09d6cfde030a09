"""The lines of a block by which its feeds are known: where F is said, and where laying begins or ends.

Most jobs slow most blocks and change nothing else in them. By these marks that is done without reading a
block again: without them the whole job takes an eighth more processor time at 50 MB.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from gpost.common.frozen import locked
from gpost.motion.follow import Follower

FEED_DTYPE: Final = np.dtype(
    [
        ("line", "i8"),  # within the block
        ("laying", "?"),  # whether this move and those up to the next entry lay clay
        ("said", "?"),  # whether the line has an F word
        ("feed_mm_min", "f8"),  # F in force on them, the feed factor left out
    ]
)
"""One row for each move by which the feeds of those after it are known."""

MOST = 1000
"""Rows of one block: where there are more, the block is better read again as a whole."""


def feed_marks(follower: Follower) -> NDArray[np.void] | None:
    """FEED_DTYPE: the first move of the block, all with an F word, and all where laying begins or ends.

    None where that doesn't tell the feeds: where an F stands alone, or counts in another unit or with another
    factor from some line on; and where there would be too many.
    """
    moves = follower.moves
    if not follower.even_feeds or len(follower.feed_line) > MOST:
        return None
    if not follower.is_move[follower.feed_line].all():
        return None
    said = follower.before[follower.feed_line]
    turns = np.flatnonzero(moves.laying[1:] != moves.laying[:-1]) + 1
    if len(turns) > MOST:
        return None
    which = np.array(sorted({*said.tolist(), *turns.tolist(), *([0] if len(moves) else [])}), np.int64)
    table = np.zeros(len(which), FEED_DTYPE)
    table["line"], table["laying"] = moves.line[which], moves.laying[which]
    table["feed_mm_min"] = follower.raw_feed[which]
    table["said"][np.searchsorted(which, said)] = True
    return locked(table)
