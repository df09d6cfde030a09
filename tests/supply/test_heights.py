"""Net clay and nozzle height: 10 ml a layer of 2 mm, so 5 ml a mm."""

from __future__ import annotations

import numpy as np
import pytest

from gpost.api import Config, Pause, Plan, Spot
from gpost.supply.heights import Heights
from gpost.testing import layer_start, make_survey, with_layers

POT = make_survey(layers=80, ml_per_layer=10, layer_mm=2, lines_per_layer=10)
RISE = make_survey(layers=80, ml_per_layer=10, layer_mm=2, lines_per_layer=10, rising=True)


def heights(survey: object = POT, *pauses: Pause) -> Heights:
    """Of a plan with those pauses."""
    return Heights(Plan(survey, Config()).adding("test", pauses))  # type: ignore[arg-type]


PRIME = Pause(layer_start(POT, 31), "look", "", "", prime_ml=60)


def test_without_insertions_by_hand() -> None:
    """Level layers lie at 2, 4, ... 160 mm; a rising wall is between."""
    assert (heights().top_mm, heights(RISE).top_mm) == (160, 160)
    assert [heights().start_ml(mm) for mm in (2, 61, 62, 500)] == [0, 300, 300, 790]
    assert [heights().of(ml) for ml in (0, 5, 299, 300, 900)] == [2, 2, 60, 62, 160]
    assert [heights(RISE).of(ml) for ml in (0, 5, 300, 805)] == pytest.approx([0, 1, 60, 160])
    assert [heights(survey).rise_mm(61) for survey in (POT, RISE)] == pytest.approx([2, 2])


def test_a_prime_is_no_part_of_the_layer_before_it() -> None:
    """60 ml at layer 31: layer 30's middle stays at 295 ml, layer 31 begins at 360."""
    found = heights(POT, PRIME)
    assert found.start_ml(62) == 360
    height_mm, clay_ml = found.middles()
    assert (height_mm[29], clay_ml[29]) == (60, 295)
    assert (height_mm[30], clay_ml[30]) == (62, 365)


def test_within_a_prime_the_height_is_that_of_the_layer_that_follows() -> None:
    """What runs out beside the piece shows nowhere; what comes then is on layer 31."""
    assert [heights(POT, PRIME).of(ml) for ml in (299, 310, 350, 360)] == [60, 62, 62, 62]


def test_what_runs_out_beside_the_piece_is_not_laid() -> None:
    """Nor is what comes before the first layer."""
    purge = Pause(Spot(0), "look", "", "", prime_ml=20)
    at_ml = np.array([5.0, 25.0, 315.0, 330.0, 370.0, 385.0])
    assert heights(POT, purge, PRIME).laid(at_ml).tolist() == [25, 315, 385]


def test_a_last_layer_that_adds_no_clay_lies_where_it_begins() -> None:
    """What it lays is drawn back: there is no share of its clay, and a little clay has its share."""
    none = make_survey(layer_ml=[10, 0], layer_mm=2, lines_per_layer=10, rising=True)
    assert [heights(none).of(ml) for ml in (5, 10, 99)] == [1, 2, 2]
    little = make_survey(layer_ml=[10, 0.5], layer_mm=2, lines_per_layer=10, rising=True)
    assert [heights(little).of(ml) for ml in (10, 10.25, 10.5)] == pytest.approx([2, 3, 4])


def test_the_first_layer_rises_from_the_slab() -> None:
    """Every layer's rise is over the one before it; what is above the top has the last one's."""
    found = heights(make_survey(layer_ml=[10] * 4, layer_mm=[1, 2, 4, 8]))
    assert [found.rise_mm(mm) for mm in (0.5, 1, 3, 7, 15, 99)] == [1, 1, 2, 4, 8, 8]


def test_what_is_inserted_inside_a_layer_is_no_part_of_it() -> None:
    """60 ml at 303 ml, 0.6 mm into a turn of 2 mm: there the height stays, and then goes on as before."""
    inside = Pause(Spot(int(layer_start(RISE, 31).line) + 3), "look", "", "", prime_ml=60)
    found = heights(RISE, inside)
    assert [found.of(ml) for ml in (301, 303, 333, 363, 365, 370)] == pytest.approx(
        [60.2, 60.6, 60.6, 60.6, 61, 62]
    )
    height_mm, clay_ml = found.middles()
    assert (height_mm[30], clay_ml[30]) == pytest.approx((61, 365))
    assert (height_mm[31], clay_ml[31]) == pytest.approx((63, 375))


def test_where_a_height_or_a_layer_is_reached() -> None:
    """5 ml a mm; a prime at a layer's start, or inside it, comes before what is laid behind it."""
    inside = Pause(Spot(int(layer_start(RISE, 31).line) + 3), "look", "", "", prime_ml=60)
    assert [heights(RISE).reached_ml(mm) for mm in (0, 1, 60, 61, 160, 161)] == [0, 5, 300, 305, 800, None]
    assert [heights(RISE, inside).reached_ml(mm) for mm in (60, 60.4, 61)] == pytest.approx([300, 302, 365])
    assert [heights(RISE).begun_ml(index) for index in (0, 30, 79, 80)] == [0, 300, 790, None]
    assert heights(POT, PRIME).begun_ml(30) == 360


def test_on_a_wall_that_tilts_all_goes_by_the_middle_of_its_turns() -> None:
    """Turns that reach 40 mm up, and rise by 2: turn 31 counts from 79 to 81 mm, and lies at 300 to 310 ml."""
    tilted = heights(with_layers(RISE, height_mm=RISE.layers["low_mm"] + 40))
    assert [tilted.start_ml(mm) for mm in (79, 80, 81)] == [300, 310, 310]
    assert [tilted.risen_mm(ml) for ml in (300, 305, 310, 800)] == pytest.approx([79, 80, 81, 179])
    assert [tilted.reached_ml(mm) for mm in (79, 80, 179, 190, 199)] == pytest.approx(
        [300, 305, 800, 800, None]
    )
