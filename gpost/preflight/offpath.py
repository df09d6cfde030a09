"""Moves that count as clay by the path, though what may be the auger is off."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from gpost.common.digits import few
from gpost.config.model import Config
from gpost.motion.follow import Follower
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.preflight.switches import DTYPE, SWITCHING_M, Switches, advice, by, starts, switches_in, things
from gpost.survey.model import Survey

_GAIN = "moves while it is off lay nothing"


def off_path(survey: Survey, config: Config) -> Iterator[Finding]:
    """What `OffPath` finds, of a file that is surveyed already: read again if it switches anything."""
    looks = OffPath(config)
    if len(survey.lines_with("M", SWITCHING_M)):
        for index in range(len(survey.marks)):
            looks.observe(survey.follow(index))
    yield from looks.findings(Plan(survey, config))


class OffPath:
    """Goes along with the survey of a file whose clay is metered by the path."""

    def __init__(self, config: Config) -> None:
        machine = config.machine
        self._looks = config.clay.metering.unit == "path" and machine.auger is None
        self._none = machine.pushes_no_clay
        self._found: list[Switches] = [np.zeros(0, DTYPE)]
        self._line: list[NDArray[np.int64]] = [np.zeros(0, np.int64)]
        """Where moves begin to lay between two commands that switch something, and how long those are."""
        self._path_mm: list[NDArray[np.float64]] = [np.zeros(0)]

    def observe(self, follower: Follower, _clay_ml: NDArray[np.float64] | None = None) -> None:
        """Look at one block."""
        if not self._looks:
            return
        found, moves = switches_in(follower, by_path=True), follower.moves
        line = moves.line[moves.laying] + follower.block.chunk.first_line
        if len(found):
            self._found.append(found)
        if len(line):
            # what stands on a move's own line is done before it (NISTIR 6556, section 3.8)
            after = np.searchsorted(found["line"], line, side="right")
            begin = np.flatnonzero(np.diff(after, prepend=-1))
            self._line.append(line[begin])
            self._path_mm.append(np.add.reduceat(moves.path_mm[moves.laying], begin))

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """One for each thing that is on along a part of the path alone."""
        found, line = np.concatenate(self._found), np.concatenate(self._line)
        path_mm = np.concatenate(self._path_mm)
        for thing in things(found, self._none) if len(found) and plan.restart is None else ():
            on = starts(thing)
            last = np.searchsorted(thing["line"], line, side="right")
            runs = np.append(False, on)[last]
            if runs.any() and not runs.all():
                times = int(np.count_nonzero(np.diff(last[~runs], prepend=-1)))
                yield _told(thing[on][0], int(line[~runs][0]), float(path_mm[~runs].sum()), times)


def _told(command: np.void, line: int, path_mm: float, times: int) -> Finding:
    return Finding("off-path", "warning", line, (
        f"clay is counted by the path, {few(path_mm / 1000)} m of it while what {by(command)} switches on is "
        f"off. If it is your auger, those are travels: {advice(command, _GAIN)}"
    ), times)  # fmt: skip
