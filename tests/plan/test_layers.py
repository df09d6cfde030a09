"""Layers as a potter names them."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.api import Config, LayClay, OddLayersError, Plan, PlanError, Spot, Stroke, Survey
from gpost.plan import layers
from gpost.testing import layer_start, make_survey, with_layers

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
    found = layers.find_layer(Plan(POT, Config()), layer, height_mm)
    assert found == layers.FoundLayer(index, layer_start(POT, index + 1))


def test_on_a_rising_wall_the_turn_that_starts_there_counts() -> None:
    """From 10 mm on means the turn that starts at 10 mm, the sixth of 2 mm."""
    assert layers.find_layer(Plan(RISING, Config()), None, 10) == (5, layer_start(RISING, 6))
    assert layers.find_layer(Plan(RISING, Config()), None, 11) == (6, layer_start(RISING, 7))


def test_an_exact_height_lies_inside_a_turn() -> None:
    """11 mm is half-way up the sixth turn of 2 mm; on level layers a height is the layer's start."""
    assert layers.find_layer(Plan(RISING, Config()), None, 11, exact=True) == (6, Spot(65))
    assert layers.find_layer(Plan(RISING, Config()), None, 39.5, exact=True) == (20, Spot(207, 0.5))
    assert layers.find_layer(Plan(POT, Config()), None, 11, exact=True) == (5, layer_start(POT, 6))


def test_in_a_tall_layer_the_height_itself_counts() -> None:
    """A turn that rises by many times what the others do is no place to go to its start."""
    survey = make_survey(layers=20, layer_mm=[2] * 10 + [32] + [2] * 9, rising=True, lines_per_layer=10)
    assert layers.find_layer(Plan(survey, Config()), None, 36) == (11, Spot(115))
    assert layers.find_layer(Plan(survey, Config()), None, 55) == (13, layer_start(survey, 14))


@pytest.mark.parametrize(
    ("height_mm", "found"),
    [
        (38, (19, layer_start(RISING, 20))),
        (38.5, (20, Spot(202, 0.5))),
        (39.8, (20, Spot(209))),
        (40, None),
        (41, None),
    ],
)
def test_a_height_inside_the_last_turn_is_found_there(
    height_mm: float, found: layers.FoundLayer | None
) -> None:
    """No turn begins above 38 mm, and the last one has a fifth of a mm a line; at its top of 40 mm it ends."""
    assert layers.find_layer(Plan(RISING, Config()), None, height_mm) == found


TILTED = with_layers(RISING, low_mm=np.arange(20.0), height_mm=np.arange(20.0) + 21)
"""Turn 20 goes from 19 to 40 mm: it rises by 1 mm, and counts from 29 to 30."""


@pytest.mark.parametrize(("height_mm", "layer"), [(3, 1), (10, 1), (10.1, 2), (28.1, 20), (29, 20), (40, None)])
def test_a_turn_that_tilts_is_found_by_its_middle(height_mm: float, layer: int | None) -> None:
    """Nothing begins above its top."""
    found = None if layer is None else (layer - 1, layer_start(TILTED, layer))
    assert layers.find_layer(Plan(TILTED, Config()), None, height_mm) == found


def test_inside_the_last_turn_that_tilts_a_height_is_found_by_clay_and_then_by_height() -> None:
    """Half way from 29 to 30 is half of its clay; above that it is where the turn, from 19 to 40 mm, gets so high."""
    assert layers.find_layer(Plan(TILTED, Config()), None, 29.5) == (20, Spot(205))
    assert layers.find_layer(Plan(TILTED, Config()), None, 37.9) == (20, Spot(209))


def test_layers_that_are_a_guess_are_refused_by_number() -> None:
    """A height is a height wherever it lies; a layer's number is refused there, unless that is allowed."""
    odd = np.copy(RISING.layers)
    odd["odd"][10:] = True
    survey = dataclasses.replace(RISING, layers=odd)
    plan = Plan(survey, Config())
    with pytest.raises(OddLayersError, match=r"layer 15 is asked for, but from 20\.0 to 40\.0 mm the wall"):
        layers.find_layer(plan, 15, None)
    assert layers.find_layer(plan, 10, None) is not None
    assert layers.find_layer(plan, None, 30.5) == (16, Spot(162, 0.5))
    allowing = dataclasses.replace(plan, allowed=frozenset({"odd-layers"}))
    assert layers.find_layer(allowing, 15, None) == (14, layer_start(survey, 15))


@pytest.mark.parametrize(("layer", "height_mm"), [(21, None), (None, 40.1)])
def test_what_lies_above_the_piece_is_nowhere(layer: int | None, height_mm: float | None) -> None:
    """The words for it name the piece's last layer and height."""
    assert layers.find_layer(Plan(POT, Config()), layer, height_mm) is None
    assert "ends with layer 20 at 40.0 mm" in layers.above_top_words(POT, layer, height_mm)


def test_the_top_of_the_piece_is_not_above_it() -> None:
    """Nothing is laid above it all the same."""
    assert layers.above_top_words(RISING, None, 40) == (
        "40 mm is the top of the piece, which ends with layer 20 at 40.0 mm"
    )


def test_a_file_without_clay_has_no_layers() -> None:
    """The reason is given."""
    with pytest.raises(PlanError, match="no clay"):
        layers.need_layers(make_survey(layers=0))


def test_heights_need_one_piece() -> None:
    """With three pieces one after the other a height is three places."""
    with pytest.raises(PlanError, match="3 pieces"):
        layers.need_one_piece(make_survey(pieces=3))


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
    assert layers.spot_words(POT, spot) == text


@pytest.mark.parametrize(("spot", "height_mm"), [(Spot(10), 0.0), (Spot(15), 1.0), (Spot(22, 0.5), 2.5)])
def test_height_on_a_rising_wall_grows_with_the_clay(spot: Spot, height_mm: float) -> None:
    """Half of the turn is half of its rise."""
    assert RISING.height_at(spot) == pytest.approx(height_mm)


@pytest.mark.parametrize(
    ("clay_ml", "index"), [(-5, 0), (0, 0), (4, 0), (5, 1), (6, 1), (10, 1), (186, 19), (500, 19)]
)
def test_the_nearest_start_by_clay(clay_ml: float, index: int) -> None:
    """Layers start every 10 ml; halfway the later one is taken."""
    assert layers.nearest_layer(Plan(POT, Config()), clay_ml) == index


def test_clay_inserted_at_a_layers_start_lies_between_reaching_and_going_on() -> None:
    """30 ml at layer 3's start: the layer is reached with 20 ml and goes on with 50."""
    stroke = Stroke(((0, 0), (9, 0)), 10, 4, 4, 30.0)
    plan = Plan(POT, Config()).adding("purge", [LayClay(layer_start(POT, 3), (stroke,), 600)])
    assert layers.clay_to_layer(plan, 2) == 20
    assert layers.clay_from_layer(plan, 2) == 50
    assert layers.clay_to_layer(plan, 3) == 60


@pytest.mark.parametrize("survey", [POT, RISING])
def test_a_layer_ends_where_the_next_one_starts(survey: Survey) -> None:
    """The last one with its last clay: 20 layers of 10 lines after 10 lines of lead-in."""
    assert layers.layer_end(survey, 0) == layer_start(survey, 2)
    assert layers.layer_end(survey, 19) == Spot(210)


@pytest.mark.parametrize(
    ("index", "part", "spot"),
    [
        (0, 0, Spot(10)),
        (0, 0.5, Spot(15)),
        (0, 0.25, Spot(12, 0.5)),
        (3, 0.99, Spot(49, 0.9)),
        (3, 1, Spot(50)),
        (19, 1, Spot(210)),
    ],
)
def test_a_spot_by_part_of_the_layers_path(index: int, part: float, spot: Spot) -> None:
    """Ten lines of the same path each: a tenth of the layer is a line, a twentieth half of one."""
    found = layers.spot_in_layer(POT, index, part)
    assert (found.line, found.fraction) == (spot.line, pytest.approx(spot.fraction, abs=1e-9))


@given(st.floats(0, 1), st.integers(0, 19))
def test_half_way_round_is_half_the_clay_and_half_the_rise(part: float, index: int) -> None:
    """On an even turn path, clay and height grow together: closed forms of a straight line."""
    found = layers.spot_in_layer(RISING, index, part)
    assert RISING.clay_before(found) == pytest.approx(10 * (index + part), abs=1e-5)
    if part < 1:
        assert RISING.height_at(found) == pytest.approx(2 * (index + part), abs=1e-5)


@pytest.mark.parametrize("part", [-0.1, 1.1, float("nan")])
def test_a_part_is_0_to_1(part: float) -> None:
    """Anything else is a fault of the step."""
    with pytest.raises(ValueError, match="a part of a layer is 0 to 1"):
        layers.spot_in_layer(POT, 3, part)


@pytest.mark.parametrize(("clay_ml", "index"), [(54.999996, 5), (55.000004, 6), (55.0, 6), (55.0000001, 6)])
def test_half_way_between_two_starts_the_later_counts(clay_ml: float, index: int) -> None:
    """Half-way to a millionth of a millilitre."""
    assert layers.nearest_layer(Plan(POT, Config()), clay_ml) == index
