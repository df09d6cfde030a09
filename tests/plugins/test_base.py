"""The step that lays more clay in the first layers."""

from __future__ import annotations

from typing import Any

import pytest
from gpost_plugins.base import Base, gpost_steps
from pydantic import ValidationError

from gpost.api import Note, PlanError, ScaleFlow
from gpost.testing import layer_start, make_survey, run_step

SURVEY = make_survey(layers=4, ml_per_layer=10)


def scales(settings: dict[str, Any]) -> list[tuple[int, int, float]]:
    """(first line, end line, factor) of each scaled stretch."""
    found = run_step(Base, settings, SURVEY).of(ScaleFlow)
    return [(scale.first_line, scale.end_line, scale.factor) for scale in found]


def line(layer: int) -> int:
    """First line of a layer, counted from 1."""
    return layer_start(SURVEY, layer).line


def test_the_module_offers_the_step() -> None:
    """The hook names the class, and nothing else."""
    assert list(gpost_steps()) == [Base]


def test_the_first_layers_get_the_factor() -> None:
    """Two layers and 115 % if nothing is said; or so many and so much."""
    assert scales({}) == [(line(1), line(2), 1.15), (line(2), line(3), 1.15)]
    assert scales({"layers": 1, "flow_percent": 120}) == [(line(1), line(2), 1.2)]


def test_layer_by_layer() -> None:
    """Each layer has its own percentage; 100 changes nothing."""
    assert scales({"by_layer_percent": [120, 100, 110]}) == [(line(1), line(2), 1.2), (line(3), line(4), 1.1)]


def test_more_layers_than_there_are() -> None:
    """The last layer ends with the file, and a note says that the piece is shorter; it is no warning."""
    assert scales({"layers": 9, "flow_percent": 110})[-1] == (line(4), SURVEY.lines, 1.1)
    notes = run_step(Base, {"layers": 9}, SURVEY).of(Note)
    assert [note.text for note in notes if "are asked for" in note.text] == [
        "9 layers are asked for, and the piece has 4"
    ]
    assert not any(note.warning for note in notes)
    assert len(run_step(Base, {"layers": 4}, SURVEY).of(Note)) == 1


@pytest.mark.parametrize(
    ("settings", "added_ml", "text"),
    [
        ({"layers": 1, "flow_percent": 120}, 2.0, "2.0 ml more clay in the first layer"),
        ({"by_layer_percent": [120, 110]}, 3.0, "3.0 ml more clay in the first 2 layers"),
        ({"by_layer_percent": [90]}, -1.0, "1.0 ml less clay in the first layer"),
    ],
)
def test_the_clay_is_counted(settings: dict[str, Any], added_ml: float, text: str) -> None:
    """The summary says how much more, and the plan counts it."""
    plan = run_step(Base, settings, SURVEY)
    assert plan.of(Note)[0].text == text
    assert plan.total_ml == pytest.approx(SURVEY.clay_ml + added_ml)


@pytest.mark.parametrize("settings", [{"layers": 0}, {"flow_percent": 0}, {"by_layer_percent": [110, -5]}])
def test_what_is_no_factor_is_refused(settings: dict[str, Any]) -> None:
    """Layers are counted from 1, percentages are above 0."""
    with pytest.raises(ValidationError):
        run_step(Base, settings, SURVEY)


def test_a_file_without_layers_is_refused() -> None:
    """There is nothing to seal."""
    with pytest.raises(PlanError, match="no clay is laid"):
        run_step(Base, {}, make_survey(layers=0))
