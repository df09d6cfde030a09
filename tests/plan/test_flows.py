"""Net clay under changed flows, by hand: layers that lay 10 ml each, on 10 lines each, after 4 ml of lead-in."""

from __future__ import annotations

import numpy as np
import pytest

from gpost.plan.flows import Flows
from gpost.plan.intentions import ScaleFlow
from gpost.survey.model import Survey
from gpost.testing import make_survey, with_layers

POT = make_survey(layers=4, ml_per_layer=10, lines_per_layer=10, lead_in_lines=10, lead_in_ml=4)
"""Layers begin at lines 10, 20, 30 and 40, with 4, 14, 24 and 34 ml before them."""


def flows(*scales: ScaleFlow, survey: Survey = POT) -> Flows:
    """Of these changes."""
    return Flows(survey, scales, survey.clay_before)


def test_without_changes_clay_is_the_source_s() -> None:
    """Amounts beyond the file's are as they are, too."""
    found = flows()
    assert [found.scaled_ml(ml) for ml in (-5, 0, 44, 99)] == [-5, 0, 44, 99]
    assert [found.source_ml(ml) for ml in (-5, 0, 44, 99)] == [-5, 0, 44, 99]
    assert found.scaled_all_ml(np.array([1.0, 2.0])).tolist() == [1, 2]


@pytest.mark.parametrize(
    ("scale", "own_ml", "scaled_ml"),
    [
        (ScaleFlow(20, 30, 1.5), [4, 14, 19, 24, 34, 44], [4, 14, 21.5, 29, 39, 49]),
        (ScaleFlow(20, 30, 0.5), [14, 19, 24, 34], [14, 16.5, 19, 29]),
        (ScaleFlow(25, 30, 2), [14, 19, 24, 34], [14, 19, 29, 39]),  # half a layer
        (ScaleFlow(0, 99, 2), [2, 4, 14, 44], [2, 4, 24, 84]),  # a lead-in is not laid
        (ScaleFlow(0, 10, 2), [2, 4, 44], [2, 4, 44]),
        (ScaleFlow(40, 55, 2), [34, 44], [34, 54]),
    ],
)
def test_what_is_laid_is_scaled_and_nothing_else(
    scale: ScaleFlow, own_ml: list[float], scaled_ml: list[float]
) -> None:
    """From its first line up to its last, in the lines' own share of their layer."""
    found = flows(scale)
    assert [found.scaled_ml(ml) for ml in own_ml] == pytest.approx(scaled_ml)
    assert found.scaled_all_ml(np.array(own_ml)) == pytest.approx(scaled_ml)
    assert [found.source_ml(ml) for ml in scaled_ml] == pytest.approx(own_ml)


def test_changes_of_one_place_multiply() -> None:
    """Twice half as much again is two and a quarter times as much; where they meet no line counts for both."""
    found = flows(ScaleFlow(10, 30, 1.5), ScaleFlow(20, 40, 1.5))
    assert [found.scaled_ml(ml) for ml in (4, 14, 24, 34, 44)] == pytest.approx([4, 19, 41.5, 56.5, 66.5])


def test_beyond_the_file_what_was_added_stays_added() -> None:
    """Before its first clay nothing is added, after its last all is."""
    found = flows(ScaleFlow(20, 30, 1.5))
    assert [found.scaled_ml(ml) for ml in (-100, 44, 5000)] == [-100, 49, 5005]
    assert found.source_ml(5005) == pytest.approx(5000)


def test_a_layer_that_draws_back_all_it_lays_is_scaled_too() -> None:
    """It lays 10 ml and draws 10 back: with twice the flow 10 ml more come, as from any other layer."""
    survey = with_layers(POT, clay_ml=np.array([10.0, 0.0, 10.0, 10.0]), laid_ml=10.0)
    found = flows(ScaleFlow(20, 30, 2), survey=survey)
    assert [found.scaled_ml(ml) for ml in (4, 13, 24, 34)] == pytest.approx([4, 13, 34, 44])


def test_a_layer_of_a_little_clay_has_its_even_share() -> None:
    """Half of half a millilitre is on half its lines."""
    survey = with_layers(POT, clay_ml=np.array([10.0, 0.5, 10.0, 10.0]), laid_ml=np.array([10.0, 0.5, 10, 10]))
    found = flows(ScaleFlow(25, 30, 3), survey=survey)
    assert [found.scaled_ml(ml) for ml in (14, 14.25, 14.5, 24.5)] == pytest.approx([14, 14.25, 15, 25])
