"""The plan's entries on stretches of lines: which concern some lines, and how many words each has changed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray


class Stretch(Protocol):
    """A wish for the lines first_line <= line < end_line."""

    @property
    def first_line(self) -> int: ...
    @property
    def end_line(self) -> int: ...


S = TypeVar("S", bound=Stretch)


def concerning(entries: Iterable[tuple[int, S]], first_line: int, end_line: int) -> Iterator[tuple[int, S]]:
    """Those of the (index, wish) whose stretch shares lines with first_line <= line < end_line."""
    return (entry for entry in entries if entry[1].first_line < end_line and entry[1].end_line > first_line)


def count_edits(owner: NDArray[np.int64], edited: dict[int, int]) -> None:
    """Add to `edited` how often each entry stands in `owner`, where -1 is none."""
    for index, count in zip(*np.unique(owner[owner >= 0], return_counts=True), strict=True):
        edited[int(index)] = edited.get(int(index), 0) + int(count)
