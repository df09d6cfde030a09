"""Clay that is pushed before the machine knows where it stands."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from gpost.common.among import among
from gpost.motion import codes
from gpost.motion.follow import Follower
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.preflight.tally import BlockTally

Floats = NDArray[np.float64]


class Homing:
    """Finds the line from which on X, Y and Z have all been homed (G28) or set (G92)."""

    def __init__(self) -> None:
        self.line: int | None = None
        """0-based source line; None: not so far."""
        self.clay_after = False
        """Whether clay is pushed after that line."""
        self._placed: set[str] = set()
        self._clay_before = BlockTally(self._pushed_before)

    @property
    def is_start(self) -> bool:
        """Whether printing goes on after the homing: one at the file's end alone doesn't count."""
        return self.line is not None and self.clay_after

    def observe(self, follower: Follower, clay_ml: NDArray[np.float64]) -> None:
        """Look at one block."""
        if self.is_start:
            return
        if self.line is None:
            self._look(follower)
        self._clay_before.observe(follower, clay_ml)
        self.clay_after |= bool((_pushes(follower, clay_ml) & self.homed(follower)).any())

    def homed(self, follower: Follower) -> NDArray[np.bool_]:
        """Whether each move of the block last observed comes after the homing, shape (m,)."""
        if self.line is None:
            return np.zeros(len(follower.moves), np.bool_)
        return np.asarray(follower.moves.line + follower.block.chunk.first_line > self.line)

    def _pushed_before(self, follower: Follower, clay_ml: Floats) -> tuple[NDArray[np.bool_], Floats]:
        """Moves that push before the homing, (m,), and how much, ml."""
        return _pushes(follower, clay_ml) & ~self.homed(follower), clay_ml

    def _look(self, follower: Follower) -> None:
        special = sorted(follower.special.items())
        lines = np.array([line for line, _ in special], np.int64)
        # "in" for each line by itself would look through the whole block again and again
        named = {letter: among(lines, follower.block.said(letter)[0]) for letter in "XYZE"}
        for index, (line, code) in enumerate(special):
            self._placed |= _placed({letter for letter, on in named.items() if on[index]}, code)
            if len(self._placed) == 3:
                self.line = follower.block.chunk.first_line + line
                return

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """What to tell of the whole file; nothing of a rest, whose machine knows its place or is told it."""
        if plan.restart is not None:
            return
        found = self._clay_before.left(plan)
        first, count = found.line, found.count
        if first is None:
            return
        if self.line is not None and self.clay_after:
            text = f"clay is pushed before the machine has homed (line {self.line + 1}); home first"
            yield Finding("clay-before-homing", "error", first, text, count)
        elif not any(plan.survey.end_state.known):
            text = (
                "all moves are relative and the file never homes, so nobody knows where the nozzle is; put "
                "G28 before the first move"
            )
            yield Finding("clay-before-homing", "error", first, text, count)
        else:
            text = "the file never homes; home the machine by hand before you start it, or put G28 first"
            yield Finding("clay-before-homing", "warning", None, text)


def _pushes(follower: Follower, clay_ml: Floats) -> NDArray[np.bool_]:
    return np.asarray((clay_ml > 0) | follower.moves.laying)


def _placed(named: set[str], code: int) -> set[str]:
    """The axes of X, Y, Z that a G28 or G92 gives a place, by the letters named on its line."""
    if code == codes.HOME:
        return (named & set("XYZ")) or set("XYZ")
    if code == codes.SET_REGISTER:
        return (named or set("XYZ")) & set("XYZ")
    return set()
