"""Clay that the file lays beyond the slab: a skirt, a prime line, a second piece."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from gpost.config.model import Bed
from gpost.motion.arcbox import places_mm
from gpost.motion.follow import Follower
from gpost.plan.around import deep_mm, foot_path, ground_under
from gpost.plan.beside import half_wall_mm
from gpost.plan.intentions import Ground, Rehearse, Shift
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.preflight.reach import ReachCheck, shifted_mm
from gpost.preflight.tally import TallyCheck
from gpost.survey.beside import aside_at
from gpost.survey.model import Survey

Floats = NDArray[np.float64]

SLACK_MM = 0.01
"""What the decimals of a file round away."""


class OffSlab:
    """Looks at all that is laid no higher than the first layer, and at what is of no layer, however high.

    Of the rest each layer stands on the one before. Blocks that, by the boxes that ReachCheck keeps, lie
    higher as a whole and have nothing but layers are not read again. A rehearsal lays nothing.
    """

    def __init__(self, reach: ReachCheck) -> None:
        self._reach = reach

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """One finding for all that lies beyond."""
        survey, grounds = plan.survey, plan.of(Ground)
        if not grounds or not len(survey.layers) or plan.of(Rehearse):
            return
        slab = ground_under(plan, foot_path(plan))
        if slab is None:
            return
        beyond, aside, top_mm = _Beyond(slab), survey.aside, _first_top_mm(survey)
        for block in self._reach.boxes(()):
            apart = (aside["first_line"] < block.end_line) & (aside["end_line"] > block.first_line)
            if block.end_line > plan.since and (apart.any() or block.low[2] < top_mm):
                beyond.look(survey.follow(block.index), plan, top_mm)
        if beyond.tally.line is not None:
            text = beyond.text(half_wall_mm(plan), plan.config.machine.bed)
            yield Finding("off-slab", "warning", beyond.tally.line, text, beyond.tally.count)


def _first_top_mm(survey: Survey) -> float:
    """What begins below this height, machine mm as sliced, lies where the first layer does."""
    first = survey.layers[0]
    return max(float(first["low_mm"]) + SLACK_MM, float(first["height_mm"]) - SLACK_MM)


class _Beyond:
    """Which moves lay clay beyond the slab, and how large it would have to be."""

    def __init__(self, slab: Ground) -> None:
        self._slab = slab
        self.tally = TallyCheck()
        """The worst is how far beyond the edge the nozzle lays clay, mm."""
        self._in_air = False
        """Whether any of that lies higher than the first layer, so that no slab would bear it."""
        self._highest_mm = 0.0
        """Of the nozzle over the bed, there."""
        self._far = np.zeros(2)
        """How many halves of its sizes it would have to reach from its middle, along x and y."""

    def look(self, follower: Follower, plan: Plan, top_mm: float) -> None:
        """Take in one block; a bead lies on something only as a whole."""
        survey, moves = plan.survey, follower.moves
        line = moves.line + follower.block.chunk.first_line
        high = np.minimum(moves.start[2], moves.end[2]) >= top_mm
        bare = ~high | (aside_at(survey.aside, line) >= 0)
        at = np.flatnonzero(moves.laying & bare & (line >= plan.since))
        at = at[plan.stays(line[at])]
        if not len(at):
            return
        which = np.zeros(len(moves), np.bool_)
        which[at] = True
        places, of = places_mm(follower, which)
        places = places + shifted_mm(follower, plan.of(Shift))[:, of]
        inside = [deep_mm(places[:2], g.x_mm, g.y_mm, is_round=g.round) for g in plan.of(Ground)]
        over_mm = half_wall_mm(plan) - np.max(inside, axis=0)
        off = over_mm > SLACK_MM
        if not off.any():
            return
        worst_mm = np.zeros(len(moves))
        np.maximum.at(worst_mm, of[off], over_mm[off])
        self.tally.add(follower, worst_mm > 0, worst_mm)
        self._in_air |= bool(high[of[off]].any())
        self._highest_mm = max(self._highest_mm, float(places[2, off].max()))
        self._widen(places[:2, off])

    def _widen(self, points: Floats) -> None:
        middle, half = _middle_and_half(self._slab)
        far = np.abs(points - middle[:, None]) / half[:, None]
        reach = np.full(2, np.hypot(*far).max()) if self._slab.round else far.max(axis=1)
        self._far = np.maximum(self._far, reach)

    def text(self, half_mm: float, bed: Bed) -> str:
        """What is wrong, and what to do; a slab that bears nothing, or that no bed holds, is not advised."""
        why, half = self._slab.why or "what lies under the piece", _middle_and_half(self._slab)[1]
        x_mm, y_mm = (2 * np.maximum(half, self._far * half + half_mm)).tolist()
        size = f"{x_mm:.1f} mm across" if self._slab.round and x_mm == y_mm else f"{x_mm:.1f} x {y_mm:.1f} mm"
        fits = x_mm <= bed.x_max_mm - bed.x_min_mm and y_mm <= bed.y_max_mm - bed.y_min_mm
        larger = (
            f"take one of at least {size}, its middle where it is, move it, or "
            if fits and not self._in_air
            else ""
        )
        return (
            f"clay is laid beyond {why}, up to {self.tally.worst:.1f} mm over its edge: the nozzle is "
            f"{self._highest_mm:.1f} mm over the bed there, and the bead falls; {larger}slice the file "
            "without what lies there, such as a skirt or a prime line"
        )


def _middle_and_half(ground: Ground) -> tuple[Floats, Floats]:
    """Of a rectangle on the bed: where its middle is, and half its sizes, x and y, mm."""
    low, high = np.array([ground.x_mm, ground.y_mm]).T
    return (low + high) / 2, (high - low) / 2
