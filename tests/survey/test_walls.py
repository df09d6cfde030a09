"""Walls as people's own scripts write them are read as what they are, or it is said that they can't be."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings

from gpost.survey.model import Survey
from tests.reference.walls import CASES, WRITINGS, Wall, named, seeded, walls
from tests.survey.wallcheck import config_of, differences, judge, odd_ranges

SurveyOf = Callable[..., Survey]
DRAWN = max(60, settings.default.max_examples if settings.default else 0)


@pytest.mark.parametrize("writing", WRITINGS)
@pytest.mark.parametrize("name", CASES)
def test_named_walls(survey_of: SurveyOf, name: str, writing: str) -> None:
    """Each named wall, in each writing, has the layers, seams, clay, boxes and pieces of its truth, and is odd just where it is."""
    wall = named(name, writing)
    survey = survey_of(wall.program, config=config_of(wall))
    assert differences(survey, wall) == []
    assert wall.odd is not None or odd_ranges(survey) == []


@given(walls())
@settings(max_examples=DRAWN)
def test_drawn_walls_are_never_silently_misread(survey_of: SurveyOf, wall: Wall) -> None:
    """Turns and heights are as known, or the survey says where it can't tell them."""
    survey = survey_of(wall.program, config=config_of(wall))
    assert judge(survey, wall) != "wrong", differences(survey, wall)


def changed(wall: Wall, **layer: Any) -> Wall:
    """The wall with another truth of its fifth layer."""
    layers = list(wall.layers)
    layers[4] = replace(layers[4], **layer)
    return replace(wall, layers=tuple(layers))


UNTRUE: dict[str, Callable[[Wall], Wall]] = {
    "a layer fewer": lambda wall: replace(wall, layers=wall.layers[:-1]),
    "two pieces": lambda wall: replace(wall, pieces=2),
    "odd": lambda wall: replace(wall, odd=(20, 30)),
    "kind": lambda wall: changed(wall, kind="turn"),
    "height": lambda wall: changed(wall, height_mm=wall.layers[4].height_mm + 0.01),
    "low": lambda wall: changed(wall, low_mm=wall.layers[4].low_mm - 0.01),
    "seam": lambda wall: changed(wall, first_line=wall.layers[4].first_line + 1),
    "path": lambda wall: changed(wall, path_mm=wall.layers[4].path_mm * 1.001),
    "clay": lambda wall: changed(wall, laid_e=wall.layers[4].laid_e * 0.999),
    "box": lambda wall: changed(wall, bounds_mm=((59.9, 140.0), (60.0, 140.0))),
}


@pytest.mark.parametrize("untrue", UNTRUE.values(), ids=UNTRUE)
def test_the_check_sees_what_differs(survey_of: SurveyOf, untrue: Callable[[Wall], Wall]) -> None:
    """Of level rings, that are read rightly, any other truth is a difference."""
    wall = named("rings")
    survey = survey_of(wall.program, config=config_of(wall))
    assert judge(survey, wall) == "right"
    assert judge(survey, untrue(wall)) == "wrong"
    assert differences(survey, untrue(wall)) != []


def test_a_seed_is_a_wall() -> None:
    """The same seed gives the same wall, so that one that was misread can be looked at again."""
    assert seeded(7) == seeded(7)
    assert seeded(7).program != seeded(8).program
