"""The step that calls the potter now and then."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
import pytest
from gpost_plugins.remind import MOST_CALLS, Remind, gpost_steps
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from gpost.api import Command, Note, Pause, Plan, PlanError, Say, ScaleFeed, Silence, Spot, Step
from gpost.survey.model import OwnPause
from gpost.testing import layer_start, make_survey, run_step
from tests.lookups import answering

SURVEY = make_survey(layers=20, time_per_layer_s=60, lines_per_layer=100, radius_mm=50)
LINE_MM = 2 * np.pi * 50 / 100
"""Path on a line."""


def remind(settings: dict[str, Any], *before: Any, config: Any = None, survey: Any = SURVEY) -> Plan:
    """The plan with reminders after other wishes."""

    class Before(Step[Any]):
        """What is in the plan already."""

        name = "before"
        Settings = Remind.Settings

        def plan(self, survey: Any, plan: Plan) -> Any:
            return before

    return run_step(Remind, settings, survey, config, [Before(Remind.Settings(every_min=1))])


def lines_of(plan: Plan) -> list[int]:
    """Where messages are shown."""
    return [say.spot.line for say in plan.of(Say)]


def test_the_module_offers_the_step() -> None:
    """The hook names the class, and nothing else."""
    assert list(gpost_steps()) == [Remind]


def test_a_message_every_so_many_minutes() -> None:
    """In layers of a minute each: half-way through layers 5 and 14; at the start of 10 and 19 it keeps clear."""
    plan = remind({"every_min": 4.5})
    first = SURVEY.layers["first_line"]
    assert lines_of(plan) == [first[4] + 50, first[9] + 10, first[13] + 50, first[18] + 10]
    clocks = [plan.clock_before(line) / 60 for line in lines_of(plan)]
    assert clocks == pytest.approx([4.5, 9, 13.5, 18], abs=0.2)
    assert plan.of(Note)[-1].text == "4 reminders: Wet the slab's edge, look at the wall"


def test_minutes_are_those_of_changed_feeds() -> None:
    """With all feeds halved the machine takes twice as long, and calls come at half the height."""
    plan = remind({"every_min": 20}, ScaleFeed(0, SURVEY.lines, 0.5))
    (line,) = lines_of(plan)
    assert plan.clock_before(line) == pytest.approx(1200, abs=15)
    assert abs(line - layer_start(SURVEY, 11).line) <= 15


def test_at_chosen_heights() -> None:
    """A call comes in the layer of each height, clear of its start."""
    plan = remind({"at_heights_mm": [10, 30], "clear_mm": 40})
    clear = int(np.ceil(40 / LINE_MM))
    assert lines_of(plan) == [layer_start(SURVEY, layer).line + clear for layer in (5, 15)]


def test_beep_and_pause() -> None:
    """A beep goes with the message; a pause may lie inside a layer, and needs no clay."""
    config = {"machine": {"beep": ["M300 S440 P200"]}}
    plan = remind({"at_heights_mm": [10], "how": "beep"}, config=config)
    assert plan.of(Command)[0].codes == ("M300 S440 P200",)
    assert plan.of(Command)[0].spot == plan.of(Say)[0].spot
    (pause,) = remind({"at_heights_mm": [10], "how": "pause", "text": "Look"}).pauses
    assert (pause.kind, pause.message, pause.within_layer, pause.prime_ml) == ("remind", "Look", True, 0)
    assert pause.reason == "Look, layer 5 (10.0 mm)"


def test_a_beep_needs_a_command() -> None:
    """Without `machine: beep` the machine can't be made to sound."""
    with pytest.raises(PlanError, match="set `machine: beep`"):
        remind({"every_min": 5, "how": "beep"})


@given(
    every_min=st.floats(0.5, 30),
    clear_mm=st.floats(0, 150),
    pauses=st.lists(st.tuples(st.integers(10, 2000), st.sampled_from([0.0, 0.5])), max_size=6),
)
def test_a_call_keeps_clear(every_min: float, clear_mm: float, pauses: list[tuple[int, float]]) -> None:
    """Never within the given path of a layer's start, of another pause or of another call, in the same layer."""
    others = [Pause(Spot(*at), "swap", "", "") for at in pauses]
    plan = remind({"every_min": every_min, "clear_mm": clear_mm}, *others)
    first = SURVEY.layers["first_line"]
    found = lines_of(plan)
    taken = [at + part for at, part in pauses] + [float(line) for line in found]
    for line in found:
        start = int(first[first <= line][-1])
        assert (line - start) * LINE_MM >= clear_mm - 1e-6
        assert (start + 100 - line) * LINE_MM >= clear_mm - 1e-6
        near = [at for at in taken if at != line and start <= at < start + 100]
        assert all(abs(at - line) * LINE_MM >= clear_mm - 1e-6 for at in near)
    assert len(set(found)) == len(found)


def test_calls_without_a_place_are_told() -> None:
    """Where no layer has so much path on both sides, a warning says so."""
    plan = remind({"every_min": 5, "clear_mm": 200})
    assert lines_of(plan) == []
    notes = plan.of(Note)
    assert notes[-1].warning
    assert "3 of 3 reminders found no place" in notes[-1].text


def test_the_path_counts_and_not_the_lines() -> None:
    """In a layer of few long lines and many short ones the distance is measured along the path."""
    survey = make_survey(layers=1, lines_per_layer=100, time_per_layer_s=600)
    first = layer_start(survey, 1).line
    lengths = np.where(np.arange(100) < 90, 0.1, 50.0)
    survey = answering(survey, laid_path=lambda _first, _end: (first + np.arange(100), lengths))
    plan = remind({"at_heights_mm": [2], "clear_mm": 30}, survey=survey)
    assert lines_of(plan) == [first + 91]


@pytest.mark.parametrize(
    "settings", [{}, {"every_min": 0}, {"at_heights_mm": [-1]}, {"every_min": 5, "how": "shout"}]
)
def test_what_makes_no_sense_is_refused(settings: dict[str, Any]) -> None:
    """It must be said when, and times and heights are above 0."""
    with pytest.raises(ValidationError):
        remind(settings)


def test_a_call_keeps_clear_of_the_file_s_own_pauses() -> None:
    """They thicken the wall as others do; one that a step silences does not."""
    first = int(SURVEY.layers["first_line"][4])
    survey = dataclasses.replace(SURVEY, own_pauses=(OwnPause(first + 50, "M0"),))
    settings = {"every_min": 4.5, "clear_mm": 30}
    (before, *_), (there, *_) = (lines_of(remind(settings, survey=each)) for each in (SURVEY, survey))
    assert before == first + 50
    assert abs(there - before) == math.ceil(30 / LINE_MM)
    silent = remind(settings, Silence(np.array([first + 50]), "no waiting"), survey=survey)
    assert lines_of(silent)[0] == before


def test_too_many_calls_are_refused() -> None:
    """Nobody comes a thousand times."""
    with pytest.raises(PlanError, match="more than 1,000 calls"):
        remind({"every_min": 20 / MOST_CALLS / 1.1})


def test_a_height_above_the_piece_is_left_out() -> None:
    """A note says so."""
    plan = remind({"at_heights_mm": [99]})
    assert not plan.of(Say)
    assert plan.of(Note)[0].text.startswith("a reminder: 99 mm is above the piece")
