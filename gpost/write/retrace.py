"""The laid wall that leads to a pause, for the nozzle to go over it again before it goes on."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from gpost.plan.intentions import Pause, Restart, Shift
from gpost.plan.plan import Plan
from gpost.spot import Spot
from gpost.survey.together import turn_mm
from gpost.write.script import Place

HERE_MM = 0.02
"""Nearer than that is the same place: a split move is rounded to thousandths, of an inch too."""
MOST_OF_A_TURN = 0.5
"""Further round, the nozzle could come under clay that was laid since."""


class Ways:
    """The way to each pause of one plan. They are read when this is made."""

    def __init__(self, plan: Plan) -> None:
        self._shifts = plan.of(Shift)
        wished_mm = plan.config.machine.pause.retrace_mm
        self._found: dict[Spot, tuple[NDArray[np.int64], NDArray[np.float64]]] = {}
        for pause in plan.of(Pause) if wished_mm else ():
            if isinstance(pause, Restart):  # it comes straight down
                continue
            length_mm = min(wished_mm, _longest_mm(plan, pause.spot))
            if length_mm > 0:
                self._found[pause.spot] = plan.survey.laid_way(pause.spot, length_mm)

    def to(self, spot: Spot, position_mm: Sequence[float]) -> list[Place]:
        """Places of the output that lead to a position at a spot, the furthest first, without that position.

        Each at the height at which the clay was laid. None where the nozzle had come to the spot on another
        way, or where the piece is moved by another amount from there on.
        """
        if spot not in self._found:
            return []
        lines, points = self._found[spot]
        by_mm = [self._by_mm(int(line)) for line in lines]
        if not len(lines) or any(by != by_mm[0] for by in [*by_mm, self._by_mm(spot.line)]):
            return []
        places = (points + np.array(by_mm[0])[:, None]).T
        x, y, z = places[-1].tolist()
        if math.dist((x, y), position_mm[:2]) > HERE_MM or z > position_mm[2] + HERE_MM:
            return []
        straight_up = position_mm[2] > z + HERE_MM
        kept = places if straight_up else places[:-1]
        return [(px, py, pz) for px, py, pz in kept.tolist()]

    def _by_mm(self, line: int) -> tuple[float, float, float]:
        moved = [shift.by_mm for shift in self._shifts if shift.first_line <= line < shift.end_line]
        x, y, z = np.sum([(0.0, 0.0, 0.0), *moved], axis=0).tolist()
        return x, y, z


def _longest_mm(plan: Plan, spot: Spot) -> float:
    """How far back the wall may be gone over: half the layer that ends or is laid there, or half a turn.

    Where several walls climb by turns all their turns are one layer, and each begins below its own end.
    """
    survey = plan.survey
    index = survey.index_at(spot.line)
    if index >= 0 and spot == survey.start_of(index):
        index -= 1
    if index < 0:
        return 0.0
    return MOST_OF_A_TURN * min(float(survey.layers["path_mm"][index]), turn_mm(survey, index, spot))
