"""The blocks that hold some lines of the file, each followed once more."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from gpost.common.among import distinct
from gpost.motion.follow import Follower
from gpost.survey.model import Survey


def in_blocks(survey: Survey, lines: NDArray[np.int64]) -> Iterator[tuple[int, Follower, NDArray[np.int64]]]:
    """(its first line, the way through it, which of these lines are in it) of each block that has some.

    `lines`: ascending. Each block is read when its turn comes.
    """
    firsts = np.array([mark.first_line for mark in survey.marks])
    block = np.searchsorted(firsts, lines, side="right") - 1
    for index in distinct(block).tolist():
        yield int(firsts[index]), survey.follow(index), lines[block == index] - firsts[index]
