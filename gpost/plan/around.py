"""Room round the piece's foot for beads like its first layer's, on the bed or the slab that it stands on."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from gpost.clay.bead import width_mm
from gpost.common.ways import apart_mm, filled
from gpost.config.settings import NotNegative, Positive, Settings
from gpost.errors import PlanError
from gpost.plan.beside import PARK_CLEAR_MM, half_wall_mm
from gpost.plan.intentions import Ground, LayClay, Pause, ScaleFlow, Stroke
from gpost.plan.outline import way_round
from gpost.plan.plan import Plan

Floats = NDArray[np.float64]
MOST_ROUNDS = 10
SAME_MM = 0.05
"""What an outline, and a distance from it, may be off."""
SLOWER = 0.5
"""Share of the first layer's own feed that is slow enough to look at a bead: common practice, no source."""


class RingSettings(Settings):
    """Where beads round the foot are laid, and how fast; for any step that lays some."""

    rounds: int = Field(2, ge=1, le=MOST_ROUNDS, description="How many times it goes round.")
    distance_mm: NotNegative = Field(5.0, description="Free room between the foot and the nearest bead, mm.")
    between_mm: NotNegative = Field(2.0, description="Free room between neighbouring beads, mm.")
    edge_mm: NotNegative = Field(
        3.0, description="Free room to the edge of the slab and of the bed, and to what lies there, mm."
    )
    feed_mm_min: Positive | None = Field(
        None,
        description="Feed while laying, mm/min; left out: half of the first layer's own, and no more than "
        "`machine: prime_flow_ml_min` gives.",
    )
    wipe_mm: NotNegative = Field(10.0, description="Length of the wiping move at the end, mm.")


class Bead(NamedTuple):
    """A bead as the first layer lays it."""

    width_mm: float
    height_mm: float
    z_mm: float
    """Nozzle height, machine mm."""
    ml_per_mm: float


class _Kept(NamedTuple):
    """Something that beads keep from."""

    what: str
    free_mm: float
    """So far from it a bead must stay, from its own edge on."""
    from_mm: Callable[[Floats], float]
    """How far from it the nearest point of a path is; below 0: beyond it, or on it."""


def foot_path(plan: Plan) -> Floats:
    """Where the first layer is laid, as printed: points x and y, machine mm, shape (2, k).

    What the file lays beside the piece at that height is none of it.
    """
    survey = plan.survey
    line, end = survey.start_of(0).line, survey.start_of(1).line
    found = list[Floats]()
    for part in survey.beside:
        if line <= part.first_line < end:
            found.append(survey.laid_points(line, part.first_line))
            line = part.end_line
    points = np.concatenate([*found, survey.laid_points(line, end)], axis=1)
    return np.asarray(points + np.array(plan.shift_mm[:2])[:, None])


def first_bead(plan: Plan) -> Bead:
    """The mean bead of the first layer, as printed: the flow that steps have scaled is in it."""
    layer, line = plan.survey.layers[0], plan.survey.start_of(0).line
    scales = [s.factor for s in plan.of(ScaleFlow) if s.first_line <= line < s.end_line]
    ml_per_mm = float(layer["laid_ml"] / layer["path_mm"]) * math.prod(scales)
    z_mm = float(layer["low_mm"]) + plan.shift_mm[2]
    under = ground_under(plan, foot_path(plan))
    height_mm = z_mm - (under.top_mm if under is not None else 0.0)
    if not (ml_per_mm > 0 and height_mm > 0):
        raise PlanError(
            f"the first layer is laid {height_mm:z.2f} mm above what it stands on, with "
            f"{ml_per_mm * 1000:.1f} mm3 of clay a millimetre: there is no such bead; look at the file with "
            "gpost survey"
        )
    width = width_mm(ml_per_mm * 1000, height_mm)
    return Bead(width, min(height_mm, width), z_mm, ml_per_mm)


def lay_round(plan: Plan, settings: RingSettings, *, why: str) -> list[LayClay]:
    """Beads round the foot before the first layer, one for each time, from outside in.

    Each is closed, and begins near the park. Raises PlanError if there is no room; it says how much there is.
    """
    foot, bead = foot_path(plan), first_bead(plan)
    half_mm, step_mm = bead.width_mm / 2, bead.width_mm + settings.between_mm
    nearest_mm = max(half_wall_mm(plan), half_mm) + settings.distance_mm + half_mm
    _refuse_off_bed(plan, foot)
    outs = [nearest_mm + step_mm * number for number in reversed(range(settings.rounds))]
    bed = plan.config.machine.bed
    if outs[0] > math.hypot(bed.x_max_mm - bed.x_min_mm, bed.y_max_mm - bed.y_min_mm):
        raise PlanError(
            f"beads {outs[0]:.4g} mm from the foot are off any bed; lay them nearer (distance_mm, between_mm)"
        )
    ways = [_from_park(plan, way_round(foot, out_mm, bead.width_mm)) for out_mm in outs]
    kept = [*_edges(plan, settings, foot), *_others(plan, settings)]
    _refuse_too_near(settings, bead, foot, half_wall_mm(plan), ways, kept)
    strokes = [_stroke(way, bead) for way in ways]
    flow_ml_min, own_mm_min = plan.config.machine.prime_flow_ml_min, plan.survey.layers[0]["feed_mm_min"]
    slow_mm_min = min(float(own_mm_min) * SLOWER or math.inf, flow_ml_min / bead.ml_per_mm)
    feed_mm_min, spot = settings.feed_mm_min or slow_mm_min, plan.survey.start_of(0)
    return [LayClay(spot, (stroke,), feed_mm_min, settings.wipe_mm, why) for stroke in strokes]


def _stroke(way: Floats, bead: Bead) -> Stroke:
    clay_ml = float(np.hypot(*np.diff(way, axis=1)).sum()) * bead.ml_per_mm
    points = tuple((x, y) for x, y in way.T.tolist())
    return Stroke(points, bead.width_mm, bead.height_mm, bead.z_mm, clay_ml)


def _from_park(plan: Plan, way: Floats) -> Floats:
    """A closed way begun where it is nearest to the park."""
    park = plan.config.machine.park
    at = int(np.hypot(way[0] - park.x_mm, way[1] - park.y_mm).argmin())
    return np.concatenate([way[:, at:-1], way[:, : at + 1]], axis=1)


def _refuse_off_bed(plan: Plan, foot: Floats) -> None:
    bed = plan.config.machine.bed
    low, high = foot.min(axis=1).tolist(), foot.max(axis=1).tolist()
    x_mm, y_mm = (bed.x_min_mm, bed.x_max_mm), (bed.y_min_mm, bed.y_max_mm)
    if low[0] < x_mm[0] or high[0] > x_mm[1] or low[1] < y_mm[0] or high[1] > y_mm[1]:
        raise PlanError("the piece's foot leaves the bed, so nothing can be laid round it; move the piece")


def _edges(plan: Plan, settings: RingSettings, foot: Floats) -> Iterator[_Kept]:
    """The edge of the bed, and of what lies on it: of that which the foot stands on from inside."""
    bed, free_mm, under = plan.config.machine.bed, settings.edge_mm, ground_under(plan, foot)
    on_bed = _Area((bed.x_min_mm, bed.x_max_mm), (bed.y_min_mm, bed.y_max_mm), bed.round)
    yield _Kept("the edge of the bed", free_mm, on_bed.inside_mm)
    for ground in plan.of(Ground):
        area = _Area(ground.x_mm, ground.y_mm, ground.round)
        if ground is under:
            yield _Kept(f"the edge of {ground.why}", free_mm, area.inside_mm)
        else:
            yield _Kept(ground.why, free_mm, area.beside_mm)


def _others(plan: Plan, settings: RingSettings) -> Iterator[_Kept]:
    """The park, and the beads that lie there already."""
    park = plan.config.machine.park
    here = np.array([[park.x_mm], [park.y_mm]])
    yield _Kept("the park, on which primed clay drops,", PARK_CLEAR_MM, partial(apart_mm, here))
    move = np.array(plan.shift_mm[:2])[:, None]
    for part in plan.survey.beside:
        there = partial(apart_mm, plan.survey.laid_points(part.first_line, part.end_line) + move)
        free_mm = settings.edge_mm + half_wall_mm(plan)
        yield _Kept("the clay that the file itself lays beside the piece", free_mm, there)
    lays = plan.of(LayClay) + [pause.lay for pause in plan.of(Pause) if pause.lay is not None]
    for lay in lays:
        for stroke in lay.strokes:
            there = partial(apart_mm, np.array(stroke.points_mm).T)
            free_mm = settings.edge_mm + stroke.width_mm / 2
            yield _Kept(f"the clay that {lay.why or 'a step'} lays", free_mm, there)


def ground_under(plan: Plan, points: Floats) -> Ground | None:
    """What lies on the bed under all of some points, such as the slab under the foot."""
    grounds = [g for g in plan.of(Ground) if inside_mm(points, g.x_mm, g.y_mm, is_round=g.round) >= 0]
    return max(grounds, key=lambda ground: ground.top_mm, default=None)


class _Area(NamedTuple):
    """A rectangle on the bed, or the ellipse in it, mm."""

    x_mm: tuple[float, float]
    y_mm: tuple[float, float]
    is_round: bool

    def inside_mm(self, path: Floats) -> float:
        """How far inside its edge a path keeps."""
        return inside_mm(path, self.x_mm, self.y_mm, is_round=self.is_round)

    def beside_mm(self, path: Floats) -> float:
        """How far a path keeps from the rectangle; below 0: it comes onto it."""
        x, y = filled(path)
        over = np.stack(
            [np.maximum(low - at, at - high) for (low, high), at in ((self.x_mm, x), (self.y_mm, y))]
        )
        deep_mm, far_mm = over.max(axis=0), np.hypot(*np.maximum(over, 0))
        return float(np.where(deep_mm < 0, deep_mm, far_mm).min())


def inside_mm(
    points: Floats, x_mm: tuple[float, float], y_mm: tuple[float, float], *, is_round: bool
) -> float:
    """How far inside a rectangle, or the ellipse in it, the outermost of some points is; below 0: outside."""
    return float(deep_mm(points, x_mm, y_mm, is_round=is_round).min())


def deep_mm(
    points: Floats, x_mm: tuple[float, float], y_mm: tuple[float, float], *, is_round: bool
) -> Floats:
    """How far inside a rectangle, or the ellipse in it, each of some points lies, (k,); below 0: outside.

    Exact for a rectangle and a circle; of an ellipse no more than it is, but for points outside.
    """
    middle = np.array([[sum(x_mm) / 2], [sum(y_mm) / 2]])
    half = np.array([[x_mm[1] - x_mm[0]], [y_mm[1] - y_mm[0]]]) / 2
    if is_round:
        return np.asarray((1 - np.hypot(*((points - middle) / half))) * half.min())
    return np.asarray((half - np.abs(points - middle)).min(axis=0))


def _refuse_too_near(
    settings: RingSettings,
    bead: Bead,
    foot: Floats,
    half_wall_mm: float,
    ways: Sequence[Floats],
    kept: Iterable[_Kept],
) -> None:
    """Raise PlanError if a bead comes too near to anything, with what leaves the least room."""
    found = []
    for each in kept:
        over_mm = max(bead.width_mm / 2 + each.free_mm - each.from_mm(way) for way in ways)
        if over_mm > SAME_MM:
            free_mm = each.from_mm(foot) - each.free_mm - max(half_wall_mm, bead.width_mm / 2)
            found.append((max(min(free_mm, _needed_mm(settings, bead) - over_mm), 0.0), each.what))
    if found:
        raise PlanError(_too_little(settings, bead, *min(found)))


def _needed_mm(settings: RingSettings, bead: Bead) -> float:
    """Room that all beads take, from the foot outwards."""
    beads_mm = settings.rounds * bead.width_mm + (settings.rounds - 1) * settings.between_mm
    return settings.distance_mm + beads_mm


def _too_little(settings: RingSettings, bead: Bead, room_mm: float, what: str) -> str:
    """Words for beads that don't fit, and what does."""
    step_mm = bead.width_mm + settings.between_mm
    fits = math.floor((room_mm - settings.distance_mm + settings.between_mm) / step_mm)
    beads = f"{settings.rounds} beads" if settings.rounds > 1 else "a bead"
    advice = f"ask for {fits} round{'s' if fits > 1 else ''}" if fits > 0 else "lower distance_mm"
    return (
        f"there is no room for {beads} {bead.width_mm:.1f} mm wide round the foot: that takes "
        f"{_needed_mm(settings, bead):.1f} mm, and {what} leaves {room_mm:.1f} mm; {advice}, or make room "
        "there"
    )
