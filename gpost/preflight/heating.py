"""Heating that no step silences."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from gpost.common.among import among
from gpost.motion import codes
from gpost.motion.follow import Follower
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding

_WAITING = 1
_CODES = codes.CodeTable(codes.HEAT_WAITS_M, codes.HEATING_M - codes.HEAT_WAITS_M)


class Heating:
    """Remembers the lines that heat; a target of 0 (`M104 S0`) switches off and is no heating."""

    def __init__(self) -> None:
        self._lines: list[NDArray[np.int64]] = [np.zeros(0, np.int64)]
        self._waits = False

    def observe(self, follower: Follower, _clay_ml: NDArray[np.float64]) -> None:
        """Look at one block."""
        hot = _CODES(follower.m) > 0
        if not hot.any():
            return
        words, target = follower.block.words, follower.block.of("S")
        off = words.line[target][words.value[target] == 0]
        hot &= ~among(follower.m_line, off)
        self._waits |= bool((_CODES(follower.m[hot]) == _WAITING).any())
        self._lines.append(follower.m_line[hot] + follower.block.chunk.first_line)

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """What is left when the plan's steps have silenced theirs."""
        lines = np.concatenate(self._lines)
        lines = lines[plan.stays(lines) & (lines >= plan.since)]
        if len(lines):
            text = f"the file heats, and {danger(waits=self._waits)}; put the step `cold` into the recipe"
            yield Finding("heating", "warning", int(lines.min()), text, len(lines))


def danger(*, waits: bool) -> str:
    """What is wrong with heat, `waits`: if it is waited for."""
    return "without a heater the machine waits for ever" if waits else "clay must stay cold"
