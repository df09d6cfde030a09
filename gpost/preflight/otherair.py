"""Air of the file that isn't the studio's blower, where a step sets that one."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from gpost.motion import codes
from gpost.motion.follow import Follower
from gpost.plan.intentions import Air
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding


class OtherAir:
    """Remembers the lines that let another blower blow than the studio's."""

    def __init__(self) -> None:
        self._line: list[NDArray[np.int64]] = [np.zeros(0, np.int64)]
        self._number: list[NDArray[np.int64]] = [np.zeros(0, np.int64)]

    def observe(self, follower: Follower, _clay_ml: NDArray[np.float64]) -> None:
        """Look at one block."""
        line, number = follower.numbered_air
        if len(line):
            self._line.append(line)
            self._number.append(number)

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """One warning for blowers of other numbers, one for air that is left in."""
        setting = next((entry.step for entry in plan.entries if isinstance(entry.intention, Air)), None)
        if setting is None:
            return
        on = plan.config.machine.air.on
        line, number = np.concatenate(self._line), np.concatenate(self._number)
        number, line = number[line >= plan.since], line[line >= plan.since]
        if len(line):
            names = " and ".join(f"M106 P{of}" for of in sorted(set(number.tolist())))
            gone = "stays in" if plan.stays(line).all() else "is taken out"
            yield Finding("other-air", "warning", int(line[0]), (
                f"the file lets a blower blow by {names}, which {gone}, and the step {setting} sets another, "
                f"by {on} (`machine: air`): if they are one, it doesn't blow as asked; give it the file's P "
                "there"
            ), len(line))  # fmt: skip
        yield from _left_in(plan, setting, on)


def _left_in(plan: Plan, setting: str, on: str) -> Iterator[Finding]:
    """Air or mist by M7 and M8, which isn't the studio's, so that no step takes it out."""
    found = {code: _to_come(plan, plan.survey.lines_with("M", (code,))) for code in codes.COOLANT_ON_M}
    names = [codes.name_of("M", code) for code, line in found.items() if len(line)]
    line = np.sort(np.concatenate([*found.values()]))
    if len(line):
        yield Finding("other-air", "warning", int(line[0]), (
            f"the file lets air blow by {' and '.join(names)}, and the step {setting} sets another blower, "
            f"by {on} (`machine: air`): the file's stays as it is, on the base and while the machine waits "
            "too; take these lines out, or, if it is your blower, say its commands there"
        ), len(line))  # fmt: skip


def _to_come(plan: Plan, line: NDArray[np.int64]) -> NDArray[np.int64]:
    return line[plan.stays(line) & (line >= plan.since)]
