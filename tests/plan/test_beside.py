"""Room beside the piece for beads of clay."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from gpost.api import Config, LayClay, Plan, PlanError, Spot, Stroke
from gpost.plan import beside
from gpost.plan.beside import BeadSettings, Box, lay_beside, piece_box
from gpost.plan.intentions import Ground
from gpost.testing import make_survey

AREA_MM2 = (10 - 4) * 4 + math.pi * 4
"""Section of a bead 10 mm wide and 4 mm high: a stadium (exact geometry)."""


def pot_plan(config: dict[str, Any] | None = None, **pot: Any) -> Plan:
    """A plan without steps for a round pot; the nozzle is 4 mm, so a wall bead is 6 mm wide."""
    return Plan(make_survey(**pot), Config.model_validate(config or {}))


def laid(plan: Plan, clay_ml: float, *, tall: bool = False, **settings: Any) -> LayClay:
    """So much clay beside the piece."""
    return lay_beside(plan, BeadSettings(**settings), clay_ml, Spot(10), why="purge", tall=tall)


def box(stroke: Stroke) -> Box:
    """The ground a stroke covers, its round ends squared."""
    xs, ys = zip(*stroke.points_mm, strict=True)
    return Box(min(xs), max(xs), min(ys), max(ys)).grown(stroke.width_mm / 2)


def apart_mm(one: Box, other: Box) -> float:
    """Free room between two boxes along x or y, whichever is more; below 0 if they overlap."""
    a_mm = max(other.a_min - one.a_max, one.a_min - other.a_max)
    b_mm = max(other.b_min - one.b_max, one.b_min - other.b_max)
    return max(a_mm, b_mm)


def test_the_ground_of_the_piece_reaches_half_a_wall_beyond_the_nozzles_path() -> None:
    """A path of radius 40 round 140 with a wall of 6 mm covers 97 to 183."""
    assert piece_box(pot_plan()) == Box(97, 183, 97, 183)


def test_lines_by_hand() -> None:
    """Before a piece that begins at y 97, gap 10, beads 10 wide, 2 apart: centre lines at y 82, 70, ...

    A line on a bed of 280 is 270 long between the middles of its round ends, so 15 ml of bead
    (410.2 mm) need two lines, both filled alike, laid there and back.
    """
    lay = laid(pot_plan(), 15, side="front")
    first, second = lay.strokes
    half_mm = 15000 / AREA_MM2 / 2 / 2
    assert first.points_mm == (pytest.approx((140 - half_mm, 82)), pytest.approx((140 + half_mm, 82)))
    assert second.points_mm == (pytest.approx((140 + half_mm, 70)), pytest.approx((140 - half_mm, 70)))
    assert lay.feed_mm_min == pytest.approx(20_000 / AREA_MM2)  # 20 ml/min through that section


@pytest.mark.parametrize(
    ("side", "axis", "at_mm"), [("front", 1, 82), ("left", 0, 82), ("back", 1, 198), ("right", 0, 198)]
)
def test_each_side_is_where_it_says(side: str, axis: int, at_mm: float) -> None:
    """Front is low y, left low x; the first line is as far from the piece on every side."""
    lay = laid(pot_plan(), 5, side=side)
    assert [point[axis] for point in lay.strokes[0].points_mm] == pytest.approx([at_mm, at_mm])


def test_lines_make_way_for_the_park() -> None:
    """The park at 10, 10 keeps 15 mm free, so the line at y 10 begins at 25 + half a bead."""
    strokes = laid(pot_plan(), 66, side="front").strokes
    assert [stroke.points_mm[0][1] for stroke in strokes] == pytest.approx([82, 70, 58, 46, 34, 22, 10])
    park = Box(10, 10, 10, 10)
    assert all(apart_mm(box(stroke), park) >= 15 - 1e-9 for stroke in strokes)
    filled = 66000 / AREA_MM2 / (5 * 270 + 2 * 245)
    lengths = [math.dist(*stroke.points_mm) for stroke in strokes]
    assert lengths == pytest.approx([270 * filled] * 5 + [245 * filled] * 2)


def test_auto_takes_the_side_that_needs_the_fewest_beads() -> None:
    """A piece near the left edge of a bed wider than deep: the long free strip is at its right or before."""
    plan = pot_plan({"machine": {"bed": {"x_max_mm": 500, "y_max_mm": 220}}}, centre_mm=(80, 110))
    counts = {side: len(laid(plan, 30, side=side).strokes) for side in ("front", "back", "right")}
    assert len(laid(plan, 30).strokes) == min(counts.values()) < max(counts.values())


@pytest.mark.parametrize(("tall", "stack", "free_mm"), [(False, 1, 10), (True, 1, 20), (False, 2, 20)])
def test_a_tall_piece_or_a_stack_keeps_the_bodys_clearance(tall: bool, stack: int, free_mm: float) -> None:
    """10 mm of gap do for flat beads before the print; beside a wall the body needs its 20 mm."""
    plan = pot_plan()
    lay = laid(plan, 30, tall=tall, stack=stack)
    assert min(apart_mm(box(stroke), piece_box(plan)) for stroke in lay.strokes) == pytest.approx(free_mm)


def test_beads_are_stacked_only_where_one_level_does_not_do() -> None:
    """What is too much for one level goes onto a second, one bead's height up, all beads alike."""
    plan = pot_plan()
    assert {stroke.z_mm for stroke in laid(plan, 30, side="left", stack=3).strokes} == {4}
    strokes = laid(plan, 80, side="left", stack=3).strokes
    lower = [stroke for stroke in strokes if stroke.z_mm == 4]
    upper = [stroke for stroke in strokes if stroke.z_mm == 8]
    assert len(lower) == len(upper) == len(strokes) / 2
    assert [box(stroke) for stroke in lower] == [box(stroke) for stroke in upper]


@pytest.mark.parametrize(
    ("settings", "z_mm"),
    [
        ({}, 4.0),
        ({"bead_height_mm": 1.0}, 2.0),
        ({"bead_height_mm": 6.0, "bead_width_mm": 9}, 6.0),
        ({"z_mm": 5}, 5.0),
    ],
)
def test_the_nozzle_is_as_high_as_the_first_layer_or_the_bead(settings: dict[str, Any], z_mm: float) -> None:
    """The first layer of the pot is at 2 mm; a higher bead needs the nozzle at its own height."""
    assert laid(pot_plan(), 5, **settings).strokes[0].z_mm == z_mm


def test_a_length_is_kept_and_lies_before_the_piece() -> None:
    """Beads of at most 100 mm stay in front of the piece's middle."""
    strokes = laid(pot_plan(), 15, side="front", length_mm=100).strokes
    assert len(strokes) == math.ceil(15000 / AREA_MM2 / 100)
    for stroke in strokes:
        assert math.dist(*stroke.points_mm) <= 100
        assert sum(x for x, _ in stroke.points_mm) / 2 == pytest.approx(140)


def test_no_room_is_said_with_what_would_fit() -> None:
    """On a bed of 140 mm with a 86 mm piece, 27 mm are left: one line of 130 mm at every side."""
    plan = pot_plan({"machine": {"bed": {"x_max_mm": 140, "y_max_mm": 140}}}, centre_mm=(70, 70))
    room_ml = 130 * AREA_MM2 / 1000
    with pytest.raises(PlanError, match=rf"60\.0 ml don't fit.* hold {room_ml:.1f} ml .*; lay less, "):
        laid(plan, 60)
    assert laid(plan, room_ml - 0.01).clay_ml == pytest.approx(room_ml - 0.01)


def test_a_bead_higher_than_wide_is_refused() -> None:
    """It would fall over."""
    with pytest.raises(PlanError, match="higher than wide"):
        laid(pot_plan(), 5, bead_width_mm=3, bead_height_mm=4)


@given(
    clay_ml=st.floats(0.5, 120),
    width_mm=st.floats(4, 14),
    stack=st.integers(1, 3),
    between_mm=st.floats(0, 5),
    side=st.sampled_from(["auto", "front", "left", "right", "back"]),
    centre=st.tuples(st.floats(90, 190), st.floats(90, 190)),
    radius_mm=st.floats(10, 80),
    is_round=st.booleans(),
    tall=st.booleans(),
)
def test_what_is_laid_is_all_there_on_the_bed_and_clear(
    clay_ml: float,
    width_mm: float,
    stack: int,
    between_mm: float,
    side: str,
    centre: tuple[float, float],
    radius_mm: float,
    is_round: bool,
    tall: bool,
) -> None:
    """Whatever fits: the volume is exact, all corners are on the bed, nothing touches anything.

    A second lay keeps clear of the first as well.
    """
    config = {"machine": {"bed": {"round": is_round}, "park": {"x_mm": 140, "y_mm": 20}}}
    plan = pot_plan(config, centre_mm=centre, radius_mm=radius_mm)
    settings = {"bead_width_mm": width_mm, "stack": stack, "between_mm": between_mm, "side": side}
    try:
        first = laid(plan, clay_ml, tall=tall, **settings)
        both = [first, laid(plan.adding("purge", [first]), clay_ml, tall=tall, **settings)]
    except PlanError:
        assume(False)
    bed, piece = plan.config.machine.bed, piece_box(plan)
    grounds: list[tuple[Box, float]] = []
    for lay in both:
        assert lay.clay_ml == pytest.approx(clay_ml)
        for stroke in lay.strokes:
            b = box(stroke)
            assert all(bed.holds(x, y) for x in (b.a_min, b.a_max) for y in (b.b_min, b.b_max))
            assert apart_mm(b, piece) >= (20 if tall else 10) - 1e-6
            assert math.dist(*stroke.points_mm) * stroke.clay_ml > 0
            for other, z_mm in grounds:
                assert z_mm != stroke.z_mm or apart_mm(b, other) >= between_mm - 1e-6
            grounds.append((b, stroke.z_mm))


@pytest.mark.parametrize(("stack", "low_mm", "high_mm"), [(1, 2, 2), (2, 20, 200)])
def test_a_stack_that_stands_already_is_a_wall(stack: int, low_mm: float, high_mm: float) -> None:
    """Beside beads on one another the body needs its 20 mm, beside single ones 2 mm as asked for do."""
    plan = pot_plan({"machine": {"bed": {"x_max_mm": 600}}})
    first = laid(plan, 140, side="right", stack=stack, length_mm=None if stack == 1 else 100)
    assert len({stroke.z_mm for stroke in first.strokes}) == stack
    second = laid(plan.adding("purge", [first]), 4, side="right")
    free_mm = min(apart_mm(box(a), box(b)) for a in first.strokes for b in second.strokes)
    assert low_mm - 1e-9 <= free_mm <= high_mm + 1e-9


@pytest.mark.parametrize(("z_mm", "free_mm"), [(4.0, 2.0), (6.0, 2.0), (6.1, 20.0), (40.0, 20.0)])
def test_beads_that_stand_higher_keep_the_bodys_clearance(z_mm: float, free_mm: float) -> None:
    """Beside beads over half a bead higher than the new ones the body needs its 20 mm; else 2 mm do."""
    standing = LayClay(Spot(5), (Stroke(((135.0, 70.0), (145.0, 70.0)), 10.0, 4.0, z_mm, 1.0),), 900.0)
    lay = laid(pot_plan().adding("test", [standing]), 30, side="front")
    room_mm = [apart_mm(box(stroke), box(standing.strokes[0])) for stroke in lay.strokes]
    assert min(room_mm) == pytest.approx(free_mm) if free_mm < 20 else min(room_mm) >= free_mm - 1e-9


@pytest.mark.parametrize(("wide_mm", "fits"), [(39.9, False), (40.1, True)])
def test_a_bead_is_three_widths_long_at_least(wide_mm: float, fits: bool) -> None:
    """On a bed 40 mm wide the middle of a bead 10 mm wide may be 30 mm long; on a narrower one none is laid."""
    plan = pot_plan({"machine": {"bed": {"x_max_mm": wide_mm}}}, centre_mm=(20, 140), radius_mm=10)
    if fits:
        assert laid(plan, 1, side="front").strokes
    else:
        with pytest.raises(
            PlanError, match="no room in front of the piece for a bead 10 mm wide and 30 mm long"
        ):
            laid(plan, 1, side="front")


@pytest.mark.parametrize(("park_x_mm", "low_mm", "high_mm"), [(138, 158, 275), (142, 5, 122)])
def test_a_line_runs_on_the_longer_side_of_what_is_in_its_way(
    park_x_mm: float, low_mm: float, high_mm: float
) -> None:
    """The park keeps 15 mm and half a bead, about in the middle of lines that reach from 5 to 275."""
    plan = pot_plan({"machine": {"park": {"x_mm": park_x_mm, "y_mm": 20}}})
    room_ml = (4 * 270 + 3 * 117) * AREA_MM2 / 1000
    found = [stroke.points_mm for stroke in laid(plan, room_ml, side="front").strokes]
    ends = {points[0][1]: sorted(x for x, _ in points) for points in found}
    assert sorted(ends) == pytest.approx([10, 22, 34, 46, 58, 70, 82])
    for y, found_mm in ends.items():
        assert found_mm == pytest.approx([low_mm, high_mm] if y < 40 else [5, 275])


@pytest.mark.parametrize(("given", "said"), [(1, 2), (2, 3), (3, 4)])
def test_one_bead_more_on_one_another_is_advised_where_it_helps(given: int, said: int) -> None:
    """What lies before the piece in so many levels and a little more fits in one more."""
    plan = pot_plan()
    for clay_ml in range(40, 2000, 10):
        try:
            laid(plan, clay_ml, side="left", stack=given)
        except PlanError as error:
            assert f"set stack to {said}," in str(error)
            assert str(error).count("set stack") == 1
            break
    laid(plan, clay_ml, side="left", stack=said)


def test_more_beads_on_one_another_than_can_stand_are_not_advised() -> None:
    """Nor is a stack that is there already."""
    with pytest.raises(PlanError) as told:
        laid(pot_plan(), 100_000, side="left", stack=3)
    assert "set stack" not in str(told.value)


@pytest.mark.parametrize(("side", "at_mm"), [("front", 82), ("back", 198), ("left", 82), ("right", 198)])
def test_lines_on_a_round_bed_end_on_its_rim(side: str, at_mm: float) -> None:
    """Of a bed of 140 mm round 140, 140 a bead whose outer edge is 63 mm from the middle has 250.04 mm of chord."""
    plan = pot_plan({"machine": {"bed": {"round": True}}})
    half_chord_mm = math.sqrt(140**2 - (140 - 77) ** 2)
    room_ml = (2 * half_chord_mm - 10) * AREA_MM2 / 1000
    (stroke,) = laid(plan, room_ml - 1e-6, side=side).strokes
    along = 0 if side in ("front", "back") else 1
    assert [point[1 - along] for point in stroke.points_mm] == pytest.approx([at_mm, at_mm])
    ends = sorted(point[along] for point in stroke.points_mm)
    assert ends == pytest.approx([140 - half_chord_mm + 5, 140 + half_chord_mm - 5], abs=1e-4)


@pytest.mark.parametrize(
    ("taken", "free_mm"),
    [
        ([], (5, 275)),
        ([Box(90, 120, 0, 30)], (125, 275)),
        ([Box(90, 120, 0, 30), Box(215, 225, 0, 30)], (125, 210)),
        ([Box(215, 225, 0, 30), Box(90, 120, 0, 30)], (125, 210)),
        ([Box(110, 120, 0, 30), Box(215, 225, 0, 30)], (5, 105)),
        ([Box(90, 220, 0, 30), Box(100, 110, 0, 30)], (5, 85)),
        ([Box(90, 120, 25.5, 30)], (5, 275)),
        ([Box(90, 120, 24, 30)], (125, 275)),
        ([Box(90, 120, 0, 14.5)], (5, 275)),
        ([Box(90, 120, 0, 16)], (125, 275)),
    ],
)
def test_the_longest_free_stretch(taken: list[Box], free_mm: tuple[float, float]) -> None:
    """Of a line at 20 mm on a bed of 280, for a bead 10 mm wide: between what is in its way, half a bead off."""
    assert beside._free(Box(0, 280, 0, 280), False, taken, 20.0, 5.0) == free_mm


@pytest.mark.parametrize("side", ["auto", "front", "left", "right", "back"])
def test_short_room_beside_a_slab_makes_no_stubs(side: str) -> None:
    """A slab of 160 round the middle of a bed of 280 leaves 60 mm at each side of it, of which 45 for a bead.

    The lines nearest to the piece run there; 5 ml, 137 mm of bead, lie as one beyond the slab, and not as two
    stubs and a bead.
    """
    plan = pot_plan().adding("slab", [Ground((60.0, 220.0), (60.0, 220.0), 3.0)])
    (stroke,) = laid(plan, 5, side=side).strokes
    assert math.dist(*stroke.points_mm) == pytest.approx(5000 / AREA_MM2)


def test_as_few_lines_as_hold_the_clay_and_the_nearest_of_equal_ones() -> None:
    """One more than a line beyond the slab holds (270 mm, 9.9 ml): two there, the nearest, filled alike."""
    plan = pot_plan().adding("slab", [Ground((60.0, 220.0), (60.0, 220.0), 3.0)])
    strokes = laid(plan, 10.5, side="front").strokes
    assert [stroke.points_mm[0][1] for stroke in strokes] == [46, 34]
    assert [stroke.clay_ml for stroke in strokes] == pytest.approx([5.25, 5.25])
