"""What a ScaleFeed makes of a feed."""

from __future__ import annotations

import math

import numpy as np
import pytest

from gpost.plan.feeds import down_to_thousandths, feed_scales, scaled_mm_min, slow_factor, times_s
from gpost.plan.intentions import ScaleFeed
from gpost.testing import make_survey


@pytest.mark.parametrize(
    ("feed", "factor", "floor", "scaled"),
    [
        (1000, 0.5, 0, 500),
        (1000, 0.5, 600, 600),
        (1000, 0.5, 2000, 1000),
        (400, 0.5, 600, 400),
        (1000, 1.5, 2000, 1500),
        (1000, 1.0, 600, 1000),
    ],
)
def test_the_floor_holds_a_feed_up_and_makes_none_faster(
    feed: float, factor: float, floor: float, scaled: float
) -> None:
    """Slowed no further than to the floor; what is below it already stays; what is made faster knows no floor."""
    assert scaled_mm_min(np.array([float(feed)]), factor, floor).tolist() == [scaled]


LAYERS = make_survey(layers=1, time_per_layer_s=60, travel_s=10, corner_s=20).layers
"""Of 60 s, 10 are travel and 50 laying, of these 20 for corners: 30 are path over feed."""


@pytest.mark.parametrize(
    ("factor", "time_s"),
    [(1, 60), (0.5, 10 + 60 + 10), (2, 10 + 15 + 40), (0.25, 10 + 120 + 5)],
)
def test_the_time_of_a_layer_by_hand(factor: float, time_s: float) -> None:
    """Path over feed grows as 1/k, corners shrink as k, travel stays."""
    assert times_s(LAYERS, np.array([factor])) == pytest.approx([time_s])


@pytest.mark.parametrize("least_s", [61, 80, 135, 1000])
def test_the_factor_that_takes_so_long_is_the_slower_root(least_s: float) -> None:
    """A layer with it takes just that."""
    factor = slow_factor(LAYERS[0], least_s)
    assert times_s(LAYERS, np.array([factor])) == pytest.approx([least_s])
    assert 0 < factor < math.sqrt(30 / 20)  # at which a layer is quickest


@pytest.mark.parametrize(("least_s", "row"), [(5, {}), (10, {}), (30, {}), (80, {"cruise_s": 0, "laying_s": 0})])
def test_no_factor_is_needed_where_none_helps(least_s: float, row: dict[str, float]) -> None:
    """Travel alone takes as long, no feed is so quick, or there is no path to slow."""
    table = LAYERS.copy()
    for name, value in row.items():
        table[name] = value
    assert slow_factor(table[0], least_s) == math.inf


def test_whole_thousandths_are_never_more() -> None:
    """But for the rounding of floats."""
    found = down_to_thousandths(np.array([0.5, 0.5009, 0.1 + 0.2, 0.29999999999, 1.0, 0.0009]))
    assert found.tolist() == [0.5, 0.5, 0.3, 0.3, 1.0, 0.0]


def test_runs_of_layers_with_one_factor() -> None:
    """Layers 2 and 3 by a half, layer 5 by a quarter, of ten lines each after 10; others are left as they are."""
    survey = make_survey(layers=5, lines_per_layer=10)
    factors = np.array([1.0, 0.5, 0.5, 1.0, 0.25])
    assert list(feed_scales(survey, factors, 600, "why")) == [
        ScaleFeed(20, 40, 0.5, 600, "why"),
        ScaleFeed(50, survey.lines, 0.25, 600, "why"),
    ]
    moved = list(feed_scales(survey, factors, 600, "why", {1: 23, 3: 44}))
    assert [(scale.first_line, scale.end_line) for scale in moved] == [(23, 44), (50, survey.lines)]
