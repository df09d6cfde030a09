"""The file's own waits that nobody silences: where they come to stand, and the blower off meanwhile."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np

from gpost.common.among import among
from gpost.common.records import record
from gpost.plan.plan import Plan
from gpost.write.blower import Blower
from gpost.write.script import Script
from gpost.write.sent import Sent
from gpost.write.work import Work


@record(frozen=True, slots=True)
class Inserted:
    """Lines to be written before byte `at` of a block, for an entry of the plan.

    None instead of them: what stands there is the source line `index`, and its place is asked for.
    """

    at: int
    index: int
    lines: list[str] | None
    sent: Sequence[tuple[int, Sent]] = ()
    """Which of them are commands and no moves: (index, what)."""


class OwnWaits:
    """Goes along with the blocks of one plan's file."""

    def __init__(self, plan: Plan, blower: Blower) -> None:
        self._blower, self._left = blower, [pause.line for pause in plan.own_pauses]
        rests = blower.rest_entry is not None
        self.resting = np.array([line for line in self._left if rests and blower.may_blow(line)], np.int64)
        """Source lines, ascending, at which the blower may have to be switched."""
        self._places: dict[int, int] = {}

    @property
    def places(self) -> Mapping[int, int]:
        """Source line, from 0, of each to its output line, counted from 1."""
        return self._places

    def take(self, end: int) -> list[int]:
        """The waits before a line that were not yet taken."""
        count = bisect_left(self._left, end)
        taken, self._left[:count] = self._left[:count], []
        return taken

    def rest(self, lines: Sequence[int]) -> bool:
        """Whether the blower may have to be switched at any of these waits."""
        return bool(among(lines, self.resting).any())

    def stand(self, lines: Iterable[int], before: int) -> None:
        """These waits stand so many lines further down than in the source, counted from 1 there."""
        self._places |= {line: line + before for line in lines}

    def around(self, work: Work, lines: Sequence[int]) -> tuple[list[Inserted], list[Inserted]]:
        """(what goes before all else that is inserted at its place, what goes behind it), for a block.

        The first lets the blower blow again, since other levels may come right after the wait.
        """
        again: list[Inserted] = []
        rest: list[Inserted] = []
        for line in lines:
            own = line - work.mark.first_line
            if self.rest([line]):
                off, on = self._scripts(work, line)
                rest.extend(self._inserted(work.at(own), off))
                again.extend(self._inserted(work.at(own + 1), on))
            rest.append(Inserted(work.at(own), line, None))
        return again, rest

    def _scripts(self, work: Work, line: int) -> tuple[Script, Script]:
        off, on = (Script(work.mark.state, ml_per_mm=math.nan) for _ in range(2))
        self._blower.rest_at(line, lambda: work.state(line - work.mark.first_line), off, on)
        return off, on

    def _inserted(self, at: int, script: Script) -> Iterator[Inserted]:
        if script.lines and self._blower.rest_entry is not None:
            yield Inserted(at, self._blower.rest_entry, script.lines, script.sent)
