"""Each step that asks for heights means the same by one, and says so where a turn goes up and down by much."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from gpost_plugins.fan import Fan
from gpost_plugins.remind import Remind
from gpost_plugins.swap import Swap
from gpost_plugins.taper import Taper

from gpost.api import Air, Note, Pause, Say, ScaleFeed, Step, Survey
from gpost.testing import layer_start, make_survey, run_step, with_layers

EVEN = make_survey(layers=60, layer_mm=2, lines_per_layer=100, rising=True)
LEANING = with_layers(
    EVEN, low_mm=np.arange(60.0) + 20, height_mm=np.arange(60.0) + 51, start_z_mm=np.arange(60.0) + 20
)
"""Turns that rise by 1 mm and lean by 30: turn 41 goes from 60 to 91 mm and counts from 75 mm on."""
TURN = "asked for at 75 mm, it comes in layer 41, which goes from 60.0 to 91.0 mm, for the wall tilts or waves there"
STEPS: list[tuple[type[Step[Any]], dict[str, Any], str]] = [
    (Fan, {"bands": [{"from_height_mm": 75, "level_percent": 60}]}, "the band of 60 %"),
    (Taper, {"shape": "steps", "steps": [{"from_height_mm": 75, "feed_percent": 50}]}, "the feed of 50 %"),
    (Taper, {"from_height_mm": 75, "to_percent": 50}, "the feed of 50 %"),
    (Remind, {"at_heights_mm": [75]}, "a reminder"),
    (Swap, {"at_height_mm": 75, "colour": "blue", "where": "exact"}, "blue"),
    (Swap, {"at_height_mm": 75, "colour": "blue", "clear": "purge", "onto": "park"}, "blue"),
]


@pytest.mark.parametrize(("step", "settings", "what"), STEPS)
def test_a_step_warns_of_a_turn_that_goes_up_and_down(
    step: type[Step[Any]], settings: dict[str, Any], what: str
) -> None:
    """With the turn's own heights beside the one that was asked for: 75 mm lies 16 below its highest place."""
    (note,) = [note for note in run_step(step, settings, LEANING).of(Note) if "tilts" in note.text]
    assert note.warning
    assert note.text == (
        f"{what}: {TURN}: a height counts as the middle of a turn, and round the wall the bead lies up to "
        "16 mm lower or higher"
    )


@pytest.mark.parametrize(("step", "settings", "what"), STEPS)
@pytest.mark.parametrize("beside_mm", [0.0, 4.9])
def test_nothing_is_said_of_a_turn_that_hardly_does(
    step: type[Step[Any]], settings: dict[str, Any], what: str, beside_mm: float
) -> None:
    """A wall that waves by 2.5 mm to either side is as its maker drew it."""
    survey = with_layers(EVEN, height_mm=EVEN.layers["height_mm"] + beside_mm)
    assert not [note for note in run_step(step, settings, survey).of(Note) if "tilts" in note.text]


def test_nothing_is_said_of_a_layer_by_its_number() -> None:
    """It is one place."""
    plan = run_step(Fan, {"bands": [{"from_layer": 41, "level_percent": 60}]}, LEANING)
    assert not [note for note in plan.of(Note) if note.warning]


@pytest.mark.parametrize(("survey", "layer"), [(EVEN, 39), (LEANING, 41)])
def test_all_steps_mean_the_same_by_a_height(survey: Survey, layer: int) -> None:
    """75 mm: the first turn of 2 mm that begins above it, or the turn whose middle it is."""
    start = layer_start(survey, layer)
    plans = [run_step(step, settings, survey) for step, settings, _ in STEPS[:2]]
    (air,), (scale,) = [air for air in plans[0].of(Air) if air.level], plans[1].of(ScaleFeed)
    assert (air.spot, scale.first_line) == (start, start.line)
    (say,) = run_step(Remind, {"at_heights_mm": [75], "clear_mm": 0}, survey).of(Say)
    assert say.spot.line in range(start.line, start.line + 5)
    exact = {"at_height_mm": 75, "colour": "blue", "where": "exact"}
    (swap,) = run_step(Swap, exact, survey).of(Pause)
    assert swap.shows_at is not None
    assert start.line - 50 <= swap.shows_at.line <= start.line  # half a turn of 2 mm before it, if it is even
