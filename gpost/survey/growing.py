"""A table that is filled block by block, and grows in place."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FIRST_ROOM = 256


class Growing:
    """Rows of one dtype, in order. Parts joined at the end would be held twice, and there may be millions."""

    def __init__(self, dtype: np.dtype[np.void]) -> None:
        self._all = np.zeros(FIRST_ROOM, dtype)
        self._count = 0

    def __len__(self) -> int:
        return self._count

    def add(self, count: int) -> NDArray[np.void]:
        """So many rows more, to be filled; a view, not to be kept."""
        begin, self._count = self._count, self._count + count
        if self._count > len(self._all):
            # by an eighth only: what is added is filled with zeros, and takes its memory at once
            self._all.resize(max(self._count, len(self._all) * 9 // 8), refcheck=False)
        return self._all[begin : self._count]

    def cut(self, count: int) -> NDArray[np.void]:
        """The first rows, so many, and the memory of the others given back; nothing can be added any more."""
        self._all.resize(count, refcheck=False)
        return self._all

    @property
    def rows(self) -> NDArray[np.void]:
        """All rows so far; a view, not to be kept while more are added."""
        return self._all[: self._count]
