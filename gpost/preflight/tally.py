"""The first line, the number and the worst of one kind of finding: all that is kept of any number of them."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from gpost.common.records import record
from gpost.motion.follow import Follower
from gpost.plan.plan import Plan
from gpost.survey.clay import ClayMeter

Floats: TypeAlias = NDArray[np.float64]
PushLook: TypeAlias = Callable[[Follower, Floats], tuple[NDArray[np.bool_], Floats]]
"""(block, clay of its moves in ml, (m,)) -> (which moves are found, (m,), and how bad each is, (m,))."""


@record(slots=True)
class TallyCheck:
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

    def __add__(self, later: TallyCheck) -> TallyCheck:
        """This tally and one of later lines."""
        line = later.line if self.line is None else self.line
        return TallyCheck(line, self.count + later.count, max(self.worst, later.worst))


class BlockTally:
    """A tally kept block by block, so that a few can be looked at again.

    Of a plan that silences pushes, or that begins where a stopped print goes on, a part of the moves count.
    """

    def __init__(self, look: PushLook) -> None:
        self._look = look
        self._blocks: list[TallyCheck] = []

    def observe(self, follower: Follower, clay_ml: Floats) -> None:
        """Look at the next block."""
        self._blocks.append(TallyCheck())
        self._blocks[-1].add(follower, *self._look(follower, clay_ml))

    def left(self, plan: Plan) -> TallyCheck:
        """All that is found but for the pushes that the plan silences, and what it does not write."""
        gone, meter, total = plan.silenced_pushes.line, ClayMeter(plan.config), TallyCheck()
        for index, (tally, mark) in enumerate(zip(self._blocks, plan.survey.marks, strict=False)):
            end, since = mark.first_line + mark.lines, plan.since
            if end <= since:
                continue
            inside = (gone >= mark.first_line) & (gone < end)
            if tally.count and (inside.any() or mark.first_line < since):
                follower, tally = plan.survey.follow(index), TallyCheck()
                found, amount = self._look(follower, meter.clay_ml(follower.moves))
                line = follower.moves.line + mark.first_line
                tally.add(follower, found & ~np.isin(line, gone) & (line >= since), amount)
            total += tally
        return total
