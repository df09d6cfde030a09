"""The first line, the number and the worst of one kind of finding: all that is kept of any number of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gpost.motion.follow import Follower


@dataclass(slots=True)
class Tally:
    """Grows by one block at a time, and never in memory."""

    line: int | None = None
    """0-based source line of the first."""
    count: int = 0
    worst: float = 0.0

    def add(
        self, follower: Follower, found: NDArray[np.bool_], amount: NDArray[np.float64] | None = None
    ) -> None:
        """Count the moves of a block that are `found`, shape (m,); `amount` (m,) says how bad each is."""
        at = np.flatnonzero(found)
        if not len(at):
            return
        if self.line is None:
            self.line = follower.block.chunk.first_line + int(follower.moves.line[at[0]])
        self.count += len(at)
        if amount is not None:
            self.worst = max(self.worst, float(amount[at].max()))

    def __add__(self, later: Tally) -> Tally:
        """This tally and one of later lines."""
        line = later.line if self.line is None else self.line
        return Tally(line, self.count + later.count, max(self.worst, later.worst))
