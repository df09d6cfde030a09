"""Heights and spots of a wall, from its table: walls of 10 ml and 10 lines a layer, after 10 lines."""

from __future__ import annotations

import numpy as np
import pytest

from gpost.spot import Spot
from gpost.survey.layerrows import bounds_of
from gpost.survey.model import Survey
from gpost.testing import layer_start, make_survey, with_layers
from tests.lookups import answering

LEVEL = make_survey(layers=4, ml_per_layer=10, lines_per_layer=10, layer_mm=2)
RISING = make_survey(layers=4, ml_per_layer=10, lines_per_layer=10, layer_mm=2, rising=True)
WAVING = with_layers(RISING, low_mm=np.array([0.0, 2, 4, 6]), height_mm=np.array([10.0, 12, 14, 16]))
"""It waves by 10 mm and rises by 2 mm a turn."""


def without_layers() -> Survey:
    """A survey with an empty table."""
    from dataclasses import replace

    return replace(LEVEL, layers=LEVEL.layers[:0])


@pytest.mark.parametrize(
    ("survey", "spot", "height_mm"),
    [
        (LEVEL, Spot(0), 2),
        (LEVEL, Spot(10), 2),
        (LEVEL, Spot(19, 0.9), 2),
        (LEVEL, Spot(20), 4),
        (LEVEL, Spot(99), 8),
        (RISING, Spot(0), 0),
        (RISING, Spot(20), 2),
        (RISING, Spot(25), 3),
        (RISING, Spot(25, 0.5), 3.1),
        (RISING, Spot(49), 7.8),
        (RISING, Spot(99), 8),
        (WAVING, Spot(20), 2),
        (WAVING, Spot(25), 7),  # as the file says
        (WAVING, Spot(29), 11),
        (without_layers(), Spot(5), 0),
    ],
)
def test_the_height_at_a_spot(survey: Survey, spot: Spot, height_mm: float) -> None:
    """Level layers have one; on a turn it rises from its lowest place to its highest."""
    assert survey.height_at(spot) == pytest.approx(height_mm)


@pytest.mark.parametrize("survey", [RISING, WAVING])
def test_a_turn_begins_where_its_first_bead_does(survey: Survey) -> None:
    """On a wall that waves that is not its lowest place; the file isn't read for it."""
    turns = with_layers(survey, start_z_mm=np.array([0.0, 3.5, 4, 6]))
    asked = answering(turns, laid_at=lambda _: (0.0, 0.0, 3.9))
    assert [asked.height_at(spot) for spot in (Spot(20), Spot(22))] == [3.5, 3.9]


@pytest.mark.parametrize(
    ("survey", "first", "last", "between_mm"),
    [
        (LEVEL, Spot(10), Spot(39), (2, 6)),
        (RISING, Spot(25), Spot(45), (3, 7)),
        (WAVING, Spot(25), Spot(27), (2, 12)),  # the turn comes down as low, and goes as high
        (WAVING, Spot(25), Spot(35), (2, 14)),
    ],
)
def test_between_which_heights_something_is_laid(
    survey: Survey, first: Spot, last: Spot, between_mm: tuple[float, float]
) -> None:
    """Those of the two places; where the wall waves, of their turns."""
    assert survey.heights_between(first, last) == pytest.approx(between_mm)


def test_a_wave_that_comes_down_between_two_places() -> None:
    """Though no turn reaches into the next: it begins above its lowest place, or the next above its highest."""
    for turn, start_z_mm in ((1, [0.0, 2.5, 4, 6]), (1, [0.0, 2, 3.5, 6])):
        turns = with_layers(RISING, start_z_mm=np.array(start_z_mm))
        asked = answering(turns, laid_at=lambda spot: (0.0, 0.0, {25: 3.8, 27: 2.6}[spot.line]))
        assert asked.heights_between(Spot(25), Spot(27)) == (2, 4)
        assert turns.waves_between(turn, turn) == (2, 4)


def test_a_height_stays_within_its_turn() -> None:
    """Whatever the file answers."""
    for laid_mm, height_mm in ((1.0, 2.0), (3.0, 3.0), (9.0, 4.0), (None, 4.0)):
        survey = answering(
            RISING, laid_at=lambda _, laid_mm=laid_mm: None if laid_mm is None else (0.0, 0.0, laid_mm)
        )
        assert survey.height_at(Spot(25)) == height_mm


@pytest.mark.parametrize(
    ("survey", "height_mm", "spot"),
    [
        (LEVEL, 0, layer_start(LEVEL, 1)),
        (LEVEL, 2, layer_start(LEVEL, 1)),
        (LEVEL, 2.1, layer_start(LEVEL, 2)),
        (LEVEL, 8, layer_start(LEVEL, 4)),
        (LEVEL, 8.0005, layer_start(LEVEL, 4)),
        (LEVEL, 8.1, None),
        (RISING, 0, layer_start(RISING, 1)),
        (RISING, 2, layer_start(RISING, 2)),
        (RISING, 3, Spot(25)),
        (RISING, 7, Spot(45)),
        (RISING, 8, Spot(50)),
        (RISING, 8.1, None),
        (WAVING, 4, Spot(10)),  # the middle of 0 and 10, less half the rise
        (WAVING, 6, Spot(20)),
        (WAVING, 7, Spot(25)),  # half the clay from 6 to 8, from which on the next one counts
        (WAVING, 11, Spot(45)),  # the last turn counts from 10 to 12
        (WAVING, 15, Spot(49)),  # and goes above that: from 6 to 16 mm on its ten lines
        (WAVING, 16.1, None),
    ],
)
def test_where_the_wall_reaches_a_height(survey: Survey, height_mm: float, spot: Spot | None) -> None:
    """At a layer's start, or inside a turn; nowhere above the top."""
    assert survey.spot_at(height_mm) == spot


def test_a_turn_that_is_never_met_ends_where_the_next_begins() -> None:
    """Where the file knows no place of that height."""
    survey = answering(RISING, rises_to=lambda *_: None)
    assert survey.spot_at(3.0) == layer_start(RISING, 3)


def test_layers_by_line_and_by_height() -> None:
    """Before the first there is none; beyond the last comes the end of the file."""
    assert [LEVEL.index_at(line) for line in (0, 9, 10, 19, 20, 999)] == [-1, -1, 0, 0, 1, 3]
    assert [LEVEL.start_of(index) for index in (0, 3, 4)] == [Spot(10), Spot(40), Spot(LEVEL.lines)]
    assert [LEVEL.first_above(mm) for mm in (0, 2, 2.0005, 2.002, 8, 9)] == [0, 0, 0, 1, 3, 4]
    assert LEVEL.height_mm == 8


def test_the_bounds_of_layers() -> None:
    """The widest of all; nothing for none."""
    assert bounds_of(LEVEL.layers) == ((100, 180), (100, 180), (2, 8))
    assert bounds_of(LEVEL.layers[:0]) == ((0, 0), (0, 0), (0, 0))


def test_tall_and_odd_layers_are_loose() -> None:
    """More than three times what half the layers rise by, and more than 3 mm."""
    tall = make_survey(layer_ml=[10] * 5, layer_mm=[2, 2, 2, 7, 2])
    assert tall.loose.tolist() == [False, False, True, False, False]
    assert not make_survey(layer_ml=[10] * 5, layer_mm=[2, 2, 2, 6, 2]).loose.any()
    assert not make_survey(layer_ml=[10] * 5, layer_mm=[0.5, 0.5, 0.5, 2.5, 0.5]).loose.any()
    odd = with_layers(LEVEL, odd=np.array([False, True, False, False]))
    assert odd.loose.tolist() == [False, True, False, False]


def test_lines_with_a_code() -> None:
    """Each once, of the letter asked for."""
    commands = [("M", 1060, 3), ("G", 1060, 4), ("M", 1070, 5), ("M", 1060, 7), ("M", 1060, 7), ("M", 30, 8)]
    survey = make_survey(commands=commands)
    assert survey.lines_with("M", [1060, 1070]).tolist() == [3, 5, 7]
    assert survey.lines_with("G", [1060]).tolist() == [4]
    assert survey.lines_with("T", [0]).tolist() == []
