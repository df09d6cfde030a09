"""Parts of a wall, from which layers are made: their boxes, heights and paths."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.survey.loops import CLOSED_PATH
from gpost.survey.path import Flags, Floats


class Parts(NamedTuple):
    """n parts in printing order, machine mm."""

    kind: NDArray[np.uint8]
    path_mm: Floats
    mean_mm: Floats
    """Mean height along the path."""
    start: Floats
    """shape (n, 3)."""
    end: Floats
    low: Floats
    high: Floats

    def cut(self, first: int) -> Parts:
        """Those from one on."""
        return Parts(*(column[first:] for column in self))  # type: ignore[arg-type]

    @property
    def closed(self) -> Flags:
        """Whether each part has path enough to go round."""
        return np.asarray(self.path_mm >= CLOSED_PATH * self.diagonal_mm)

    @property
    def diagonal_mm(self) -> Floats:
        """Diagonal of each part's box, seen from above."""
        return np.asarray(np.hypot(*(self.high[:, :2] - self.low[:, :2]).T))
