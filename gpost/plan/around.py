"""Room round the piece's foot: beads like those of the first layer, on the bed or the slab that it stands on."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from gpost.clay.bead import width_mm
from gpost.config.settings import NotNegative, Positive, Settings
from gpost.errors import PlanError
from gpost.plan.beside import PARK_CLEAR_MM, half_wall_mm
from gpost.plan.intentions import Ground, LayClay, Pause, ScaleFlow, Stroke
from gpost.plan.outline import apart_mm, way_round
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
    distance_mm: NotNegative = Field(
        5.0, description="Free room between the foot and the nearest bead, mm."
    )
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


class _Near(NamedTuple):
    """What a bead keeps from, and how much room it leaves to one."""

    what: str
    over_mm: float
    """By how much it comes too near; 0 or less: it doesn't."""


def foot_path(plan: Plan) -> Floats:
    """Where the first layer is laid, as printed: points x and y, machine mm, shape (2, k)."""
    survey = plan.survey
    points = survey.laid_points(survey.start_of(0).line, survey.start_of(1).line)
    return np.asarray(points + np.array(plan.shift_mm[:2])[:, None])


def first_bead(plan: Plan) -> Bead:
    """The mean bead of the first layer, as printed: the flow that steps have scaled is in it."""
    layer, line = plan.survey.layers[0], plan.survey.start_of(0).line
    scales = [s.factor for s in plan.of(ScaleFlow) if s.first_line <= line < s.end_line]
    ml_per_mm = float(layer["laid_ml"] / layer["path_mm"]) * math.prod(scales)
    z_mm = float(layer["low_mm"]) + plan.shift_mm[2]
    under = _ground_under(plan, foot_path(plan))
    height_mm = z_mm - (under.top_mm if under is not None else 0.0)
    if not (ml_per_mm > 0 and height_mm > 0):
        raise PlanError(
            f"the first layer is laid {height_mm:z.2f} mm above what it stands on, with {ml_per_mm * 1000:.1f} "
            "mm3 of clay a millimetre: there is no such bead; look at the file with gpost survey"
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
    ways = [_from_park(plan, way_round(foot, out_mm, bead.width_mm)) for out_mm in outs]
    near = [near for way in ways for near in _too_near(plan, settings, foot, bead, way)]
    if near:
        raise PlanError(_too_little(settings, bead, max(near, key=lambda near: near.over_mm)))
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


def _too_near(
    plan: Plan, settings: RingSettings, foot: Floats, bead: Bead, way: Floats
) -> Iterator[_Near]:
    """All that a bead along this way would come too near to."""
    found = [*_edges(plan, settings, foot, bead, way), *_obstacles(plan, settings, bead, way)]
    return (near for near in found if near.over_mm > SAME_MM)


def _edges(
    plan: Plan, settings: RingSettings, foot: Floats, bead: Bead, way: Floats
) -> Iterator[_Near]:
    """The edge of the bed, and of what lies on it: of that which the foot stands on from inside."""
    bed, free_mm = plan.config.machine.bed, bead.width_mm / 2 + settings.edge_mm
    x_mm, y_mm = (bed.x_min_mm, bed.x_max_mm), (bed.y_min_mm, bed.y_max_mm)
    yield _Near("the edge of the bed", free_mm - inside_mm(way, x_mm, y_mm, is_round=bed.round))
    under = _ground_under(plan, foot)
    for ground in plan.of(Ground):
        if ground is under:
            inside = inside_mm(way, ground.x_mm, ground.y_mm, is_round=ground.round)
            yield _Near(f"the edge of {ground.why}", free_mm - inside)
        else:
            yield _Near(ground.why, free_mm - _beside_mm(way, ground))


def _obstacles(plan: Plan, settings: RingSettings, bead: Bead, way: Floats) -> Iterator[_Near]:
    """The park, and the beads that lie there already."""
    park, half_mm = plan.config.machine.park, bead.width_mm / 2
    far_mm = apart_mm(way, np.array([[park.x_mm], [park.y_mm]]))
    yield _Near("the park, where primed clay drops", half_mm + PARK_CLEAR_MM - far_mm)
    lays = plan.of(LayClay) + [pause.lay for pause in plan.of(Pause) if pause.lay is not None]
    for lay in lays:
        for stroke in lay.strokes:
            far_mm = apart_mm(way, np.array(stroke.points_mm).T)
            free_mm = half_mm + settings.edge_mm + stroke.width_mm / 2
            yield _Near(f"the clay that {lay.why or 'a step'} lays", free_mm - far_mm)


def _ground_under(plan: Plan, foot: Floats) -> Ground | None:
    """What lies on the bed under the whole foot, such as the slab."""
    grounds = [g for g in plan.of(Ground) if inside_mm(foot, g.x_mm, g.y_mm, is_round=g.round) >= 0]
    return max(grounds, key=lambda ground: ground.top_mm, default=None)


def inside_mm(
    points: Floats, x_mm: tuple[float, float], y_mm: tuple[float, float], *, is_round: bool
) -> float:
    """How far inside a rectangle, or the ellipse in it, the outermost of some points lies; below 0: outside.

    Exact for a rectangle and a circle; of an ellipse no more than it is.
    """
    middle = np.array([[sum(x_mm) / 2], [sum(y_mm) / 2]])
    half = np.array([[x_mm[1] - x_mm[0]], [y_mm[1] - y_mm[0]]]) / 2
    if is_round:
        return float((1 - np.hypot(*((points - middle) / half)).max()) * half.min())
    return float((half - np.abs(points - middle)).min())


def _beside_mm(way: Floats, ground: Ground) -> float:
    """How far a way keeps from the rectangle round something; below 0: it comes onto it."""
    over = np.stack([np.maximum(low - at, at - high) for (low, high), at in zip((ground.x_mm, ground.y_mm), way, strict=True)])
    return float(np.where(over.max(axis=0) < 0, over.max(axis=0), np.hypot(*np.maximum(over, 0))).min())


def _too_little(settings: RingSettings, bead: Bead, near: _Near) -> str:
    """Words for beads that don't fit, and what does."""
    needed_mm = settings.distance_mm + settings.rounds * bead.width_mm + (settings.rounds - 1) * settings.between_mm
    room_mm = max(needed_mm - near.over_mm, 0.0)
    fits = math.floor((room_mm - settings.distance_mm + settings.between_mm) / (bead.width_mm + settings.between_mm))
    beads = f"{settings.rounds} beads" if settings.rounds > 1 else "a bead"
    advice = f"ask for {fits} round{'s' if fits > 1 else ''}" if fits > 0 else "lower distance_mm"
    return (
        f"there is no room for {beads} {bead.width_mm:.1f} mm wide round the foot: that takes {needed_mm:.1f} mm, and "
        f"{near.what} leaves {room_mm:.1f} mm; {advice}, or make room there"
    )
