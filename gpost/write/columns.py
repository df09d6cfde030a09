"""Values of the output that hold from one line of a block to the next, such as the feed in force."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(slots=True)
class Column:
    """A value before the block, and each value that follows. Lines are 0-based within the block."""

    initial: float = 0.0
    line: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    """After which each value holds, ascending; of several on one line the last counts."""
    value: Floats = field(default_factory=lambda: np.zeros(0))

    @staticmethod
    def joined(initial: float, *parts: tuple[Ints, Floats]) -> Column:
        """Several (line, value) lists as one column; on one line a later list comes later."""
        said = [part for part in parts if len(part[0])] or list(parts[:1])
        if len(said) == 1:
            return Column(initial, *said[0])
        line = np.concatenate([part[0] for part in said])
        order = np.argsort(line, kind="stable")
        return Column(initial, line[order], np.concatenate([part[1] for part in said])[order])

    def at(self, line: Ints) -> Floats:
        """The value before each of some lines, once the lines before have run."""
        place = np.searchsorted(self.line, line)
        return np.concatenate([[self.initial], self.value])[place]

    def before(self, line: int) -> float:
        """The value before one line."""
        place = int(np.searchsorted(self.line, line))
        return float(self.value[place - 1]) if place else self.initial

    def is_always(self, value: float) -> bool:
        """Whether it has one value before, through and after the block."""
        return self.initial == value and bool((self.value == value).all())

    @property
    def last(self) -> float:
        """The value after the block."""
        return float(self.value[-1]) if len(self.value) else self.initial


def on_lines(column: object, line: Ints) -> NDArray:  # type: ignore[type-arg]
    """A column of the follower's on some lines; it is a scalar where it never changes in the block."""
    return column[line] if isinstance(column, np.ndarray) else np.full(len(line), column)
