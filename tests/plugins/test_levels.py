"""Layers as a potter names them."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from gpost_plugins import levels

from gpost.api import Config, LayClay, OddLayersError, Plan, PlanError, Spot, Stroke
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
    found = levels.reached(Plan(POT, Config()), layer, height_mm)
    assert found == levels.Reached(index, layer_start(POT, index + 1))


def test_on_a_rising_wall_the_turn_that_starts_there_counts() -> None:
    """From 10 mm on means the turn that starts at 10 mm, the sixth of 2 mm."""
    assert levels.reached(Plan(RISING, Config()), None, 10) == (5, layer_start(RISING, 6))
    assert levels.reached(Plan(RISING, Config()), None, 11) == (6, layer_start(RISING, 7))


def test_an_exact_height_lies_inside_a_turn() -> None:
    """11 mm is half-way up the sixth turn of 2 mm; on level layers a height is the layer's start."""
    assert levels.reached(Plan(RISING, Config()), None, 11, exact=True) == (6, Spot(65))
    assert levels.reached(Plan(RISING, Config()), None, 39.5, exact=True) == (20, Spot(207, 0.5))
    assert levels.reached(Plan(POT, Config()), None, 11, exact=True) == (5, layer_start(POT, 6))


def test_in_a_tall_layer_the_height_itself_counts() -> None:
    """A turn that rises by many times what the others do is no place to go to its start."""
    survey = make_survey(layers=20, layer_mm=[2] * 10 + [32] + [2] * 9, rising=True, lines_per_layer=10)
    assert levels.reached(Plan(survey, Config()), None, 36) == (11, Spot(115))
    assert levels.reached(Plan(survey, Config()), None, 55) == (13, layer_start(survey, 14))


def test_layers_that_are_a_guess_are_refused_by_number() -> None:
    """A height is a height wherever it lies; a layer's number is refused there, unless that is allowed."""
    odd = np.copy(RISING.layers)
    odd["odd"][10:] = True
    survey = dataclasses.replace(RISING, layers=odd)
    plan = Plan(survey, Config())
    with pytest.raises(OddLayersError, match=r"layer 15 is asked for, but from 20\.0 to 40\.0 mm the wall"):
        levels.reached(plan, 15, None)
    assert levels.reached(plan, 10, None) is not None
    assert levels.reached(plan, None, 30.5) == (16, Spot(162, 0.5))
    allowing = dataclasses.replace(plan, allowed=frozenset({"odd-layers"}))
    assert levels.reached(allowing, 15, None) == (14, layer_start(survey, 15))


@pytest.mark.parametrize(("layer", "height_mm"), [(21, None), (None, 40.1)])
def test_what_lies_above_the_piece_is_nowhere(layer: int | None, height_mm: float | None) -> None:
    """The words for it name the piece's last layer and height."""
    assert levels.reached(Plan(POT, Config()), layer, height_mm) is None
    assert "ends with layer 20 at 40.0 mm" in levels.too_high(POT, layer, height_mm)


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
    """Half of the turn is half of its rise."""
    assert RISING.height_at(spot) == pytest.approx(height_mm)


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
