"""Where a spot of the source is for the potter."""

from __future__ import annotations

import pytest

from gpost.config.model import Config
from gpost.plan.plan import Plan
from gpost.report.places import Places
from gpost.spot import Spot
from gpost.testing import layer_start, make_survey


def places(*, rising: bool = False, layers: int = 4) -> Places:
    """A pot of 2 mm layers, each 36 lines from line 10 on, 10 ml and 60 s."""
    return Places(Plan(make_survey(layers=layers, rising=rising), Config()))


@pytest.mark.parametrize(("line", "layer"), [(0, 0), (9, 0), (10, 1), (45, 1), (46, 2), (10 + 36 * 4, 4)])
def test_layer_of_a_line(line: int, layer: int) -> None:
    """Layers count from 1, a layer's first line belongs to it, and before the first is 0."""
    assert places().layer(line) == layer


def test_height_of_level_layers() -> None:
    """On a level layer the nozzle is at the layer's height, from its first line to its last."""
    found = places()
    assert found.place(Spot(46)).height_mm == pytest.approx(4.0)
    assert found.place(Spot(81, 0.5)).height_mm == pytest.approx(4.0)


def test_height_on_a_rising_wall() -> None:
    """On a rising wall the height follows the clay of the turn: a quarter of it is a quarter of the rise."""
    found = places(rising=True)
    assert found.place(Spot(46)).height_mm == pytest.approx(2.0)
    assert found.place(Spot(46 + 9)).height_mm == pytest.approx(2.5)
    assert found.place(Spot(46 + 18, 0.5)).height_mm == pytest.approx(2.0 + 2.0 * 18.5 / 36)


def test_height_before_the_piece_is_that_of_its_start() -> None:
    """Before the first layer printing goes on at the first layer's lowest point."""
    assert places(rising=True).place(Spot(0)).height_mm == pytest.approx(0.0)
    assert places().place(Spot(0)).height_mm == pytest.approx(2.0)


def test_file_without_clay() -> None:
    """A file that lays no clay has no layer and no height."""
    found = places(layers=0)
    assert (found.layer(3), found.place(Spot(3)).height_mm) == (0, 0.0)


def test_clock_inside_a_line() -> None:
    """The clock is straight along the lines of a layer, inside a line too: 60 s in 36 lines."""
    assert places().place(Spot(46)).clock_s == pytest.approx(60)
    assert places().place(Spot(46, 0.5)).clock_s == pytest.approx(60 + 60 / 72)


def test_stretch_ends_with_the_layer_of_its_last_line() -> None:
    """A stretch that ends just before a layer starts doesn't reach into it."""
    survey = make_survey(layers=4)
    found = places()
    place = found.place(layer_start(survey, 2), end_line=layer_start(survey, 4).line)
    assert (place.layer, place.last_layer, place.output_line) == (2, 3, None)
