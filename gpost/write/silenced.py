"""Which lines of a file are to be turned into comments, and for which entries of the plan."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray


class Silenced(NamedTuple):
    """Lines to be turned into comments, two arrays of shape (k,)."""

    line: NDArray[np.int64]
    """0-based, ascending."""
    by: NDArray[np.int32]
    """Index of the plan's entry that silences each; of several the last."""

    @staticmethod
    def of(entries: Sequence[tuple[int, NDArray[np.int64]]]) -> Silenced:
        """All lines of some entries, given with the index of each."""
        counts = [len(lines) for _, lines in entries]
        by = np.repeat(np.array([index for index, _ in entries], np.int32), counts)
        if len(entries) == 1:  # there may be millions of lines
            line = entries[0][1]
        else:
            line = np.concatenate([np.zeros(0, np.int64), *(lines for _, lines in entries)])
        if not (line[1:] > line[:-1]).all():
            line, last = np.unique(line[::-1], return_index=True)
            by = by[::-1][last]
        return Silenced(line, by)

    def cut(self, end: int) -> tuple[Silenced, Silenced]:
        """Those before a line, and the others."""
        place = int(np.searchsorted(self.line, end))
        return Silenced(self.line[:place], self.by[:place]), Silenced(self.line[place:], self.by[place:])
