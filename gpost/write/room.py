"""Where the nozzle may go in an inserted block: the bed, the ceiling, the piece and what lies beside it."""

from __future__ import annotations

import itertools
import math

import numpy as np

from gpost.common.ways import apart_mm
from gpost.errors import PlanError
from gpost.plan.around import SAME_MM, foot_path, inside_mm
from gpost.plan.blocktime import CLEAR_MM, NEAR_WIDTHS
from gpost.plan.intentions import Ground, LayClay, Pause, Stroke
from gpost.plan.plan import Plan
from gpost.spot import Spot

TOUCHING_MM = 1e-6
"""A bead may touch a slab's edge."""
Point = tuple[float, float]


class Room:
    """Answers for one plan. Positions are machine mm. Raises PlanError where there is no safe way."""

    def __init__(self, plan: Plan) -> None:
        self._plan, self.machine = plan, plan.config.machine
        self._bounds_mm = plan.bounds_mm
        self._half_bead_mm = plan.bead_width_mm / 2
        pauses = [(pause.spot, pause.lay) for pause in plan.of(Pause) if pause.lay is not None]
        self._grounds = plan.of(Ground)
        self._lays = [*pauses, *((lay.spot, lay) for lay in plan.of(LayClay))]

    def safe_z_mm(self, top_mm: float, spot: Spot, lay: LayClay | None = None) -> float:
        """Height at which nothing is touched: over the piece's top and all beads, and under the ceiling.

        `top_mm` is the highest clay of the piece or the nozzle's place, `lay` what is to be laid here.
        """
        beads = [stroke.z_mm for at, laid in self._lays if at <= spot for stroke in laid.strokes]
        beads += [stroke.z_mm for stroke in lay.strokes] if lay is not None else []
        top_mm = max([top_mm, *beads, *(ground.top_mm for ground in self._grounds)])
        ceiling_mm = self.machine.ceiling_mm
        if top_mm + CLEAR_MM > ceiling_mm:
            raise PlanError(
                f"at line {spot.line + 1} the clay or the nozzle is {top_mm:g} mm high, and the ceiling is "
                f"{ceiling_mm:g} mm: the nozzle can't be lifted {CLEAR_MM:g} mm to move over it. Set "
                "`machine: ceiling_mm` if there is more room, or do without what is inserted there"
            )
        return min(top_mm + max(self.machine.pause.lift_mm, CLEAR_MM), ceiling_mm)

    def check_park(self) -> None:
        """The park lies on the bed and beside the piece."""
        x, y = self.machine.park.x_mm, self.machine.park.y_mm
        if not self.machine.bed.holds(x, y):
            raise PlanError(
                f"the park (x {x:g}, y {y:g} mm) lies off the bed; set `machine: park` or `machine: bed` in "
                "the config"
            )
        if self.over_piece((x, y)):
            raise PlanError(
                f"the park (x {x:g}, y {y:g} mm) lies over the piece; set `machine: park` to a place beside "
                "it"
            )

    def wipe_end(self) -> Point | None:
        """End of the wiping move: from the park, on the bed and not over the piece; None if there is none."""
        machine = self.machine
        bed, park, wipe_mm = machine.bed, machine.park, machine.pause.wipe_mm
        if wipe_mm <= 0:
            return None
        toward_x = math.copysign(wipe_mm, (bed.x_min_mm + bed.x_max_mm) / 2 - park.x_mm)
        toward_y = math.copysign(wipe_mm, (bed.y_min_mm + bed.y_max_mm) / 2 - park.y_mm)
        for dx, dy in ((0, toward_y), (toward_x, 0), (0, -toward_y), (-toward_x, 0)):
            x, y = park.x_mm + dx, park.y_mm + dy
            if bed.holds(x, y) and not self.over_piece((x, y)):
                return x, y
        return None

    def check_strokes(self, lay: LayClay, spot: Spot) -> None:
        """All beads that are laid at a spot lie on the bed, above its zero and beside the piece."""
        why = f" ({lay.why})" if lay.why else ""
        for stroke in lay.strokes:
            for x, y in stroke.points_mm:
                if not self.machine.bed.holds(x, y):
                    raise PlanError(
                        f"a bead beside the piece would leave the bed at x {x:g}, y {y:g} mm{why}; lay it "
                        "elsewhere"
                    )
            if stroke.z_mm <= 0:
                raise PlanError(
                    f"a bead beside the piece would be laid at {stroke.z_mm:g} mm, under the bed's "
                    f"zero{why}; lay it higher"
                )
            if self._meets_piece(stroke, spot):
                raise PlanError(f"a bead beside the piece would run into the piece{why}; lay it elsewhere")
            for ground in self._grounds:
                if not _lies_on(stroke, ground) and _meets(stroke, ground):
                    raise PlanError(
                        f"a bead beside the piece would run onto {ground.why}{why}; lay it elsewhere"
                    )

    def _meets_piece(self, stroke: Stroke, spot: Spot) -> bool:
        """Whether a bead comes where the piece is, or will be.

        That is the box round all of it; but of what is laid before the first layer, and no higher than that,
        nothing else comes near, so that it needs to keep clear of the foot alone.
        """
        legs, half_mm = itertools.pairwise(stroke.points_mm), stroke.width_mm / 2
        if not any(self.crosses_piece(a, b, half_mm) for a, b in legs):
            return False
        survey = self._plan.survey
        first_mm = float(survey.layers["low_mm"][0]) + self._plan.shift_mm[2]
        if spot > survey.start_of(0) or stroke.z_mm > first_mm + TOUCHING_MM:
            return True
        free_mm = apart_mm(foot_path(self._plan), np.array(stroke.points_mm).T)
        return free_mm < half_mm + self._half_bead_mm - SAME_MM

    def is_near(self, at: Point, height_mm: float, stroke: Stroke) -> bool:
        """Whether a stroke begins so near on the same level that the nozzle needn't be lifted."""
        start = stroke.points_mm[0]
        same_level = abs(height_mm - stroke.z_mm) < 0.01
        near = math.dist(at, start) <= NEAR_WIDTHS * stroke.width_mm
        return same_level and near and not self.crosses_piece(at, start, stroke.width_mm / 2)

    def over_piece(self, point: Point) -> bool:
        """Whether a point lies over the box around the piece, half a bead included."""
        return self.crosses_piece(point, point, 0.0)

    def crosses_piece(self, a: Point, b: Point, half_width_mm: float) -> bool:
        """Whether the straight way from a to b meets the box around the piece, grown by half beads."""
        x_mm, y_mm, _ = self._bounds_mm
        return _crosses(a, b, (x_mm, y_mm), self._half_bead_mm + half_width_mm)


def _lies_on(stroke: Stroke, ground: Ground) -> bool:
    """Whether a bead lies on the top of something as a whole."""
    on_top = stroke.z_mm - stroke.height_mm >= ground.top_mm - TOUCHING_MM
    inside = inside_mm(np.array(stroke.points_mm).T, ground.x_mm, ground.y_mm, is_round=ground.round)
    return on_top and inside >= stroke.width_mm / 2 - TOUCHING_MM


def _meets(stroke: Stroke, ground: Ground) -> bool:
    """Whether a bead comes over the rectangle round something."""
    box, half_mm = (ground.x_mm, ground.y_mm), stroke.width_mm / 2 - TOUCHING_MM
    return any(_crosses(a, b, box, half_mm) for a, b in itertools.pairwise(stroke.points_mm))


def _crosses(a: Point, b: Point, box: tuple[Point, Point], grown_mm: float) -> bool:
    """Whether the straight way from a to b meets a box, (low, high) of x and of y, grown on every side."""
    enter, leave = 0.0, 1.0
    for axis in (0, 1):
        low, high = box[axis]
        low, high, start, by = low - grown_mm, high + grown_mm, a[axis], b[axis] - a[axis]
        if by == 0:
            if not low <= start <= high:
                return False
            continue
        first, last = sorted(((low - start) / by, (high - start) / by))
        enter, leave = max(enter, first), min(leave, last)
    return enter <= leave
