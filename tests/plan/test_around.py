"""Room round the foot for beads like those of the first layer."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.api import Config, Ground, LayClay, Plan, PlanError, ScaleFlow, Shift, Spot, Stroke
from gpost.clay.bead import area_mm2
from gpost.plan.around import RingSettings, first_bead, foot_path, inside_mm, lay_round
from gpost.testing import make_survey, with_layers

RADIUS_MM = 40.0
ML_PER_MM = 10.0 / (2 * math.pi * RADIUS_MM)
"""The pot's first layer lays 10 ml on one turn."""
OFF_MM = 0.05


def pot_plan(*wishes: Any, config: dict[str, Any] | None = None, **pot: Any) -> Plan:
    """A round pot of radius 40 mm in the middle of the bed, its first layer 2 mm high, and some wishes."""
    plan = Plan(make_survey(radius_mm=RADIUS_MM, **pot), Config.model_validate(config or {}))
    return plan.adding("test", wishes)


def rings(plan: Plan, **settings: Any) -> list[Stroke]:
    """The beads round it, in the order in which they are laid."""
    return [stroke for lay in lay_round(plan, RingSettings(**settings), why="look") for stroke in lay.strokes]


def radii(stroke: Stroke, x_mm: float = 140, y_mm: float = 140) -> np.ndarray[Any, Any]:
    """Distance of each of a bead's corners from a middle."""
    return np.hypot(*(np.array(stroke.points_mm) - (x_mm, y_mm)).T)


def test_beads_by_hand() -> None:
    """The stadium of 10 ml on 251.3 mm, 2 mm high, is 20.3 wide (exact geometry); so each round is 22.3 farther in."""
    plan = pot_plan()
    width_mm = 1000 * ML_PER_MM / 2 + (1 - math.pi / 4) * 2
    outer, inner = rings(plan)
    assert (inner.width_mm, inner.height_mm, inner.z_mm) == (pytest.approx(width_mm), 2.0, 2.0)
    nearest_mm = RADIUS_MM + width_mm / 2 + 5 + width_mm / 2
    for stroke, far_mm in ((outer, nearest_mm + width_mm + 2), (inner, nearest_mm)):
        assert radii(stroke) == pytest.approx(np.full(len(stroke.points_mm), far_mm), abs=OFF_MM)
        assert stroke.points_mm[0] == stroke.points_mm[-1]
        assert stroke.clay_ml == pytest.approx(2 * math.pi * far_mm * ML_PER_MM, rel=1e-3)


@given(st.floats(0.3, 30), st.floats(0.3, 6), st.floats(0.5, 2))
def test_a_bead_holds_the_first_layer_s_clay(layer_ml: float, height_mm: float, flow: float) -> None:
    """Its section, as wide and high as it says, is the clay that a millimetre of the first layer gets."""
    plan = pot_plan(ScaleFlow(0, 999, flow), layer_ml=[layer_ml], layer_mm=height_mm)
    bead = first_bead(plan)
    ml_per_mm = layer_ml * flow / (2 * math.pi * RADIUS_MM)
    assert bead.ml_per_mm == pytest.approx(ml_per_mm)
    assert area_mm2(bead.width_mm, bead.height_mm) == pytest.approx(1000 * ml_per_mm)
    assert bead.height_mm <= min(height_mm, bead.width_mm) + 1e-9


def test_it_begins_near_the_park_and_keeps_the_feed_and_wipe_that_are_set() -> None:
    """The nozzle then comes to it over nothing."""
    lay, _ = lay_round(pot_plan(), RingSettings(feed_mm_min=300, wipe_mm=7), why="look")
    stroke = lay.strokes[0]
    park = (10.0, 10.0)
    far = [math.dist(point, park) for point in stroke.points_mm]
    assert far[0] == min(far)
    assert (lay.feed_mm_min, lay.wipe_mm, lay.why) == (300, 7, "look")


@pytest.mark.parametrize(("flow_ml_min", "feed_mm_min"), [(1000.0, 400.0), (2.0, 2 / ML_PER_MM)])
def test_it_is_slow(flow_ml_min: float, feed_mm_min: float) -> None:
    """Half of the first layer's own feed, if priming is not slower than that."""
    survey = with_layers(make_survey(), feed_mm_min=800.0)
    plan = Plan(survey, Config.model_validate({"machine": {"prime_flow_ml_min": flow_ml_min}}))
    lay = lay_round(plan, RingSettings(), why="")[0]
    assert lay.feed_mm_min == pytest.approx(feed_mm_min)


def test_a_moved_piece_is_gone_round_where_it_will_stand() -> None:
    """What an earlier step moves counts."""
    plan = pot_plan(Shift(0, 999, (10.0, -5.0, 0.0)))
    (stroke,) = rings(plan, rounds=1)
    assert radii(stroke, 150, 135) == pytest.approx(
        np.full(len(stroke.points_mm), radii(stroke, 150, 135)[0]), abs=OFF_MM
    )
    assert foot_path(plan).mean(axis=1) == pytest.approx((150, 135), abs=1)


SMALL = {"layer_ml": [1.5] * 5}
"""Beads 3.4 mm wide."""


def slab(size_mm: float, *, is_round: bool = False) -> tuple[Shift, Ground]:
    """A slab 5 mm thick under the pot, which is raised by that and a gap of 0.1."""
    low, high = 140 - size_mm / 2, 140 + size_mm / 2
    return Shift(0, 999, (0.0, 0.0, 5.1)), Ground((low, high), (low, high), 5.0, "the slab", is_round)


def test_on_a_slab_the_beads_lie_on_it() -> None:
    """At the height of the piece's own first layer there, and as high as the gap above the slab."""
    outer, _ = rings(pot_plan(*slab(200), **SMALL))
    assert (outer.z_mm, outer.height_mm) == (pytest.approx(7.1), pytest.approx(2.1))


@pytest.mark.parametrize("is_round", [False, True])
def test_they_keep_off_the_slab_s_edge(is_round: bool) -> None:
    """By hand: the outer bead reaches so far from the middle; 3 mm of slab show beyond it, or it is refused."""
    wall_mm = max(6.0, first_bead(pot_plan(*slab(200), **SMALL)).width_mm)
    width_mm = first_bead(pot_plan(*slab(200), **SMALL)).width_mm
    needed_mm = RADIUS_MM + wall_mm / 2 + 5 + 2 * width_mm + 2 + 3
    assert rings(pot_plan(*slab(2 * needed_mm, is_round=is_round), **SMALL))
    tight = pot_plan(*slab(2 * needed_mm - 2, is_round=is_round), **SMALL)
    room_mm = 5 + 2 * width_mm + 2 - 1
    with pytest.raises(PlanError, match=rf"the edge of the slab leaves {room_mm:.1f} mm; ask for 1 round,"):
        rings(tight)
    assert rings(tight, rounds=1)


def test_a_slab_beside_is_kept_off() -> None:
    """Something that the foot doesn't stand on."""
    beside = Ground((200.0, 270.0), (100.0, 180.0), 5.0, "the test tile")
    with pytest.raises(PlanError, match="the test tile leaves"):
        rings(pot_plan(beside, **SMALL), distance_mm=10)
    assert rings(pot_plan(beside, **SMALL))


def test_beads_that_lie_there_are_kept_off() -> None:
    """Its middle 17 mm from the foot's: less its own half, half a wall and 3 mm to be free that leaves 7 mm."""
    line = Stroke(((83.0, 100.0), (83.0, 180.0)), 8.0, 2.0, 2.0, 1.0)
    purge = LayClay(Spot(10), (line,), 900.0, why="purge")
    with pytest.raises(
        PlanError, match=r"the clay that purge lays leaves 7\.0 mm; lower distance_mm, or make room"
    ):
        rings(pot_plan(purge, **SMALL))
    with pytest.raises(PlanError, match="purge lays"):
        rings(pot_plan(purge, **SMALL), rounds=1)
    assert rings(pot_plan(purge, **SMALL), rounds=1, distance_mm=3.5)


def test_the_park_and_the_bed_s_edge_are_kept_off() -> None:
    """Primed clay drops at the park; beyond the edge there is nothing to lay on."""
    at_park = {"machine": {"park": {"x_mm": 75, "y_mm": 140}}}
    with pytest.raises(PlanError, match="the park, on which primed clay drops, leaves"):
        rings(pot_plan(config=at_park, **SMALL))
    narrow = {"machine": {"bed": {"x_min_mm": 95, "x_max_mm": 185}}}
    with pytest.raises(PlanError, match="the edge of the bed leaves"):
        rings(pot_plan(config=narrow, **SMALL))
    with pytest.raises(PlanError, match="the piece's foot leaves the bed"):
        rings(pot_plan(config={"machine": {"bed": {"x_min_mm": 105, "x_max_mm": 185}}}, **SMALL))
    round_bed = {
        "machine": {"bed": {"x_min_mm": 80, "x_max_mm": 200, "y_min_mm": 80, "y_max_mm": 200, "round": True}}
    }
    assert rings(pot_plan(config=round_bed, **SMALL), rounds=1)


def test_how_far_inside_by_hand() -> None:
    """Of a rectangle the nearest side, of a circle the radius; below 0 outside."""
    points = np.array([[10.0, 50.0], [30.0, 50.0]])
    assert inside_mm(points, (0, 100), (0, 100), is_round=False) == 10
    assert inside_mm(points, (0, 100), (0, 100), is_round=True) == pytest.approx(50 - math.hypot(40, 20))
    assert inside_mm(points, (20, 100), (0, 100), is_round=False) == -10


def test_a_first_layer_that_is_no_bead_is_told() -> None:
    """Below what it stands on."""
    under = Ground((0.0, 280.0), (0.0, 280.0), 5.0, "the slab")
    with pytest.raises(PlanError, match="there is no such bead"):
        rings(pot_plan(under, **SMALL))
