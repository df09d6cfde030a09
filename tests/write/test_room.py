"""Where the nozzle may go: geometry of the piece's box, the height that is safe, beads laid earlier."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from gpost.config.model import Config
from gpost.errors import PlanError
from gpost.plan.intentions import Ground, LayClay, Pause, Stroke
from gpost.plan.plan import Plan
from gpost.spot import Spot
from gpost.testing import make_survey
from gpost.write.room import Room

BEAD = Stroke(((20.0, 60.0), (20.0, 160.0)), 8.0, 4.0, 40.0, 2.0)
WALL = {"clay": {"bead_width_mm": 6.0}}
COORDINATES = st.floats(0, 280)


def room(*wishes: Any, **machine: Any) -> Room:
    """The room beside a pot of radius 40 mm in the middle of the bed, its wall's bead 6 mm wide: 97 to 183 mm."""
    config = Config.model_validate({**WALL, "machine": machine})
    return Room(Plan(make_survey(), config).adding("test", wishes))


@given(COORDINATES, COORDINATES, COORDINATES, COORDINATES, st.floats(0, 10))
def test_a_way_that_meets_the_box_is_told(x: float, y: float, to_x: float, to_y: float, half: float) -> None:
    """If any of a thousand points of a way lies in the grown box, the way crosses; a crossing way comes near it."""
    crosses = room().crosses_piece((x, y), (to_x, to_y), half)
    points = [(x + (to_x - x) * n / 1000, y + (to_y - y) * n / 1000) for n in range(1001)]
    low, high = 97 - half, 183 + half
    depth = max(min(px - low, high - px, py - low, high - py) for px, py in points)
    assume(abs(depth) > 0.3)  # the points are at most 0.4 mm apart
    assert crosses is (depth > 0)


@pytest.mark.parametrize(
    ("point", "over"),
    [((140, 140), True), ((97, 97), True), ((183, 140), True), ((96.9, 140), False), ((140, 183.1), False)],
)
def test_a_point_over_the_piece_counts_half_a_bead(point: tuple[float, float], over: bool) -> None:
    """The nozzle's path is the bead's middle: the wall reaches half a bead further."""
    assert room().over_piece(point) is over


def test_the_safe_height_is_over_everything_that_lies_there() -> None:
    """Over the piece's top, over beads laid by then, over those laid now; not over later ones."""
    lay = LayClay(Spot(20), (BEAD,), 900.0)
    inside = Pause(Spot(30), "swap", "", "", lay=LayClay(Spot(0), (BEAD,), 900.0))
    assert room().safe_z_mm(6.0, Spot(50)) == 16.0
    assert room(lay).safe_z_mm(6.0, Spot(20)) == 50.0
    assert room(lay).safe_z_mm(6.0, Spot(19)) == 16.0
    assert room(inside).safe_z_mm(6.0, Spot(50)) == 50.0
    assert room().safe_z_mm(6.0, Spot(50), lay) == 50.0
    assert room(lay).safe_z_mm(60.0, Spot(50)) == 70.0


def test_a_low_ceiling_shortens_the_lift() -> None:
    """Down to 2 mm over the top; below that there is no safe height."""
    assert room(ceiling_mm=60).safe_z_mm(55.0, Spot(9)) == 60.0
    assert room(ceiling_mm=60).safe_z_mm(58.0, Spot(9)) == 60.0
    with pytest.raises(PlanError, match=r"line 10 .* 58\.1 mm high, and the ceiling is 60 mm"):
        room(ceiling_mm=60).safe_z_mm(58.1, Spot(9))


def test_without_a_lift_the_clearance_is_kept() -> None:
    """However small the lift in the config, 2 mm stay free."""
    assert room(pause={"lift_mm": 0}).safe_z_mm(6.0, Spot(9)) == 8.0


def test_near_beads_are_reached_without_lifting() -> None:
    """Within three widths on the same level, unless the piece is in between."""
    near = Stroke(((40.0, 160.0), (40.0, 60.0)), 8.0, 4.0, 40.0, 2.0)
    assert room().is_near((20.0, 160.0), 40.0, near)
    assert not room().is_near((20.0, 160.0), 36.0, near)
    assert not room().is_near((10.0, 160.0), 40.0, near)
    corner = Stroke(((100.0, 90.0), (200.0, 90.0)), 30.0, 4.0, 40.0, 2.0)
    assert not room().is_near((90.0, 100.0), 40.0, corner)


@pytest.mark.parametrize(
    ("bed", "park", "end"),
    [
        ({}, (20, 20), (20, 35)),
        ({}, (20, 260), (20, 245)),
        ({"round": True}, (140, 5), (140, 20)),
        ({}, (140, 90), (155, 90)),
        ({"x_max_mm": 300, "y_max_mm": 10}, (20, 5), (35, 5)),
        ({"x_max_mm": 10, "y_max_mm": 10}, (5, 5), None),
    ],
)
def test_the_wipe_ends_on_the_bed_and_off_the_piece(bed: Any, park: Any, end: Any) -> None:
    """Towards the middle along Y, else along X, else away from it; nowhere if there is no room."""
    found = room(bed=bed, park={"x_mm": park[0], "y_mm": park[1]}).wipe_end()
    assert found == (None if end is None else pytest.approx(end))


def ring(radius_mm: float, z_mm: float = 2.0, width_mm: float = 4.0) -> LayClay:
    """A bead round the pot's middle, before its first layer."""
    turn = [2 * math.pi * step / 72 for step in range(73)]
    points = tuple((140 + radius_mm * math.cos(at), 140 + radius_mm * math.sin(at)) for at in turn)
    return LayClay(Spot(10), (Stroke(points, width_mm, z_mm, z_mm, 2.0),), 900.0)


@pytest.mark.parametrize(
    ("radius_mm", "z_mm", "line", "right"),
    [
        (45.2, 2.0, 10, True),
        (44.8, 2.0, 10, False),
        (34.8, 2.0, 10, True),
        (45.2, 2.1, 10, False),
        (45.2, 2.0, 11, False),
    ],
)
def test_before_the_first_layer_a_bead_keeps_clear_of_the_foot_alone(
    radius_mm: float, z_mm: float, line: int, right: bool
) -> None:
    """Half a wall and half the bead from the foot's path, 5 mm, no higher than it, and not after it has begun."""
    lay = ring(radius_mm, z_mm)
    if right:
        room().check_strokes(lay, Spot(line))
    else:
        with pytest.raises(PlanError, match="would run into the piece"):
            room().check_strokes(lay, Spot(line))


@pytest.mark.parametrize(
    ("size_mm", "top_mm", "is_round", "right"),
    [
        (110.0, 0.0, False, True),
        (99.0, 0.0, False, False),
        (110.0, 0.5, False, False),
        (99.9, 0.0, True, False),
        (101.0, 0.0, True, True),
    ],
)
def test_a_bead_lies_on_a_slab_as_a_whole_or_beside_it(
    size_mm: float, top_mm: float, is_round: bool, right: bool
) -> None:
    """On its top, not in it, and not over its edge: a ring of radius 48 and 4 mm wide needs 100 mm."""
    side = (140 - size_mm / 2, 140 + size_mm / 2)
    there = room(Ground(side, side, top_mm, "the slab", is_round))
    if right:
        there.check_strokes(ring(48.0), Spot(10))
    else:
        with pytest.raises(PlanError, match="would run onto the slab"):
            there.check_strokes(ring(48.0), Spot(10))
