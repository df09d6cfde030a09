"""The moves of a block: what the machine does, line by line, as columns."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gpost.common.records import record

Floats = NDArray[np.float64]


@record(slots=True)
class Moves:
    """m moves in order. Positions in machine mm."""

    line: NDArray[np.int64]
    """Line within the block, shape (m,)."""
    start: Floats
    """shape (3, m). Where the move before ends, but where the machine has homed in between."""
    end: Floats
    """shape (3, m)."""
    length_mm: Floats
    """Path in space; for a move of E alone the length of the E axis's travel."""
    path_mm: Floats
    """Path in space, shape (m,); 0 for a move of E alone."""
    xy: NDArray[np.bool_]
    """Whether the move goes anywhere in X or Y."""
    e_mm: Floats
    """E metered (flow factor applied), mm of the E axis, signed."""
    feed_mm_min: Floats
    """Effective feed (F times the feed factor); NaN before the first F."""
    rapid: NDArray[np.bool_]
    """Moves of mode 0."""
    laying: NDArray[np.bool_]
    """Moves that lay clay along a path."""
    entry: Floats
    """Unit direction at the start, shape (3, m); zero for a move of E alone."""
    exit: Floats
    radius_mm: Floats
    """NaN for a straight move."""
    stop: NDArray[np.bool_]
    """The machine stands still before the move."""
    wait_s: Floats
    """Dwell between the previous move and this one."""
    tail_wait_s: float = 0.0
    """Dwell after the last move of the block."""
    tail_stop: bool = False

    def __len__(self) -> int:
        return len(self.line)
