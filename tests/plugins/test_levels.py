"""Layers as a potter names them."""

from __future__ import annotations

import pytest
from gpost_plugins import levels

from gpost.api import Config, LayClay, Plan, PlanError, Spot, Stroke
from gpost.testing import layer_start, make_survey

POT = make_survey(layers=20, layer_mm=2, ml_per_layer=10, lines_per_layer=10)
RISING = make_survey(layers=20, layer_mm=2, ml_per_layer=10, lines_per_layer=10, rising=True)


@pytest.mark.parametrize(
    ("layer", "height_mm", "index"),
    [
        (1, None, 0),
        (20, None, 19),
        (None, 0, 0),
        (None, 2, 0),
        (None, 2.1, 1),
        (None, 40, 19),
        (None, 3.9996, 1),
    ],
)
def test_a_layer_is_found_by_number_or_height(layer: int | None, height_mm: float | None, index: int) -> None:
    """A height names the first layer that lies there or above; rounding of the file doesn't matter."""
    assert levels.layer_at(POT, layer, height_mm) == index


def test_on_a_rising_wall_the_turn_that_starts_there_counts() -> None:
    """From 10 mm on means the turn that starts at 10 mm, the sixth of 2 mm."""
    assert levels.layer_at(RISING, None, 10) == 5


@pytest.mark.parametrize(("layer", "height_mm"), [(21, None), (None, 40.1)])
def test_what_lies_above_the_piece_is_refused(layer: int | None, height_mm: float | None) -> None:
    """The sentence names the piece's last layer and height."""
    with pytest.raises(PlanError, match=r"ends with layer 20 at 40\.0 mm"):
        levels.layer_at(POT, layer, height_mm)


def test_a_file_without_clay_has_no_layers() -> None:
    """The reason is given."""
    with pytest.raises(PlanError, match="no clay"):
        levels.need_layers(make_survey(layers=0))


def test_heights_need_one_piece() -> None:
    """With three pieces one after the other a height is three places."""
    with pytest.raises(PlanError, match="3 pieces"):
        levels.need_one_piece(make_survey(pieces=3))


@pytest.mark.parametrize(
    ("spot", "text"),
    [
        (Spot(3), "before layer 1"),
        (Spot(10), "layer 1 (2.0 mm)"),
        (Spot(29), "layer 2 (4.0 mm)"),
        (Spot(209, 0.5), "layer 20 (40.0 mm)"),
        (Spot(215), "the end of the file"),
    ],
)
def test_a_place_is_told_by_layer_and_height(spot: Spot, text: str) -> None:
    """Layers count from 1, heights are the nozzle's in mm."""
    assert levels.place(POT, spot) == text


@pytest.mark.parametrize(("spot", "height_mm"), [(Spot(10), 0.0), (Spot(15), 1.0), (Spot(22, 0.5), 2.5)])
def test_height_on_a_rising_wall_grows_with_the_clay(spot: Spot, height_mm: float) -> None:
    """Half of the turn's clay is half of its rise."""
    assert levels.height_at(RISING, spot) == pytest.approx(height_mm)


@pytest.mark.parametrize(
    ("clay_ml", "index"), [(-5, 0), (0, 0), (4, 0), (5, 1), (6, 1), (10, 1), (186, 19), (500, 19)]
)
def test_the_nearest_start_by_clay(clay_ml: float, index: int) -> None:
    """Layers start every 10 ml; halfway the later one is taken."""
    assert levels.nearest_start(Plan(POT, Config()), clay_ml) == index


def test_clay_inserted_at_a_layers_start_lies_between_reaching_and_going_on() -> None:
    """30 ml at layer 3's start: the layer is reached with 20 ml and goes on with 50."""
    stroke = Stroke(((0, 0), (9, 0)), 10, 4, 4, 30.0)
    plan = Plan(POT, Config()).adding("purge", [LayClay(layer_start(POT, 3), (stroke,), 600)])
    assert levels.clay_to(plan, 2) == 20
    assert levels.clay_from(plan, 2) == 50
    assert levels.clay_to(plan, 3) == 60
