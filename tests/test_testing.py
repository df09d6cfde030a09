"""The kit for authors of steps: its pot's numbers are what was asked for."""

from __future__ import annotations

import math
from collections.abc import Iterable

import pydantic
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.api import Intention, Note, Plan, Settings, Spot, Step, Survey
from gpost.testing import layer_start, make_survey, run_step, with_layers


class CountSettings(Settings):
    """Settings of the step below."""

    times: int = 1


class Count(Step[CountSettings]):
    """Notes how many entries the plan has had."""

    name = "count"
    Settings = CountSettings

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """One note each time."""
        return [Note(str(len(plan.entries)))] * self.settings.times


def test_layers_follow_each_other_without_gaps() -> None:
    """Layer n starts n - 1 layers' lines after the lead-in, and the tail follows the last."""
    survey = make_survey(layers=3, lines_per_layer=7, lead_in_lines=4)
    assert survey.layers["first_line"].tolist() == [4, 11, 18]
    assert survey.lines == 4 + 3 * 7 + 5
    assert layer_start(survey, 2) == Spot(11)


@pytest.mark.parametrize(
    ("spot", "clay_ml"),
    [
        (Spot(0), 0.0),
        (Spot(5), 4.0),
        (Spot(10), 8.0),
        (Spot(15), 23.0),
        (Spot(17, 0.5), 30.5),
        (Spot(20), 38.0),
        (Spot(25), 43.0),
        (Spot(30), 48.0),
        (Spot(34), 48.0),
    ],
)
def test_clay_is_straight_within_a_layer(spot: Spot, clay_ml: float) -> None:
    """8 ml over 10 lines of lead-in, 30 ml over 10 lines, then 10 ml over 10 lines, then none."""
    survey = make_survey(layer_ml=[30, 10], lines_per_layer=10, lead_in_ml=8)
    assert survey.clay_before(spot) == pytest.approx(clay_ml, abs=1e-12)


@given(
    st.lists(st.floats(0.5, 50), min_size=1, max_size=8),
    st.floats(0.0, 20.0),
    st.integers(1, 40),
    st.floats(0.001, 0.999),
)
def test_find_clay_undoes_clay_before(
    layer_ml: list[float], lead_in_ml: float, lines: int, share: float
) -> None:
    """The spot found for an amount has just that amount before it."""
    survey = make_survey(layer_ml=layer_ml, lead_in_ml=lead_in_ml, lines_per_layer=lines)
    clay_ml = share * survey.clay_ml
    found = survey.find_clay(clay_ml)
    assert 0 <= found.fraction < 1
    assert survey.clay_before(found) == pytest.approx(clay_ml, abs=1e-6)


def test_find_clay_gives_whole_lines_where_it_can() -> None:
    """An amount that is reached at a layer's start is found there, not in the move before."""
    survey = make_survey(layers=60, ml_per_layer=0.1, lines_per_layer=7)
    for layer in range(2, 61):
        assert survey.find_clay(0.1 * (layer - 1)) == layer_start(survey, layer)


def test_past_the_end_there_is_the_end_of_the_file() -> None:
    """More clay than there is is reached at the end."""
    survey = make_survey(layers=2)
    assert survey.find_clay(21) == Spot(survey.lines)


def test_the_pot_is_a_cylinder() -> None:
    """Path, bounds and heights are those of a cylinder of the radius asked for."""
    survey = make_survey(layers=5, layer_mm=3, radius_mm=30, centre_mm=(100, 90))
    assert survey.bounds_mm == ((70, 130), (60, 120), (3, 15))
    assert survey.laid_path_mm == pytest.approx(5 * 2 * math.pi * 30)
    assert survey.layers["low_mm"].tolist() == survey.layers["height_mm"].tolist()


def test_a_rising_wall_starts_each_turn_where_the_last_ended() -> None:
    """On a rising wall a layer spans one layer height."""
    survey = make_survey(layers=3, layer_mm=2, rising=True)
    assert survey.layers["low_mm"].tolist() == [0, 2, 4]
    assert survey.layers["height_mm"].tolist() == [2, 4, 6]


def test_the_times_of_a_layer_add_up() -> None:
    """Layer time is travel, cruise, and what corners add; the feed is path over cruise."""
    survey = make_survey(layers=2, time_per_layer_s=[30, 20], travel_s=2, corner_s=3, radius_mm=50)
    assert survey.layers["laying_s"].tolist() == [28, 18]
    assert survey.layers["cruise_s"].tolist() == [25, 15]
    assert survey.layers["feed_mm_min"][1] == pytest.approx(2 * math.pi * 50 / 15 * 60)
    assert survey.clock_before(layer_start(survey, 2).line) == 30
    assert survey.clock_before(survey.lines) == survey.time_s == 50


def test_what_is_asked_of_lines_is_answered_by_the_layers() -> None:
    """A layer that is made wider, longer or richer shows it where points, path, height and clay are asked for."""
    pot = make_survey(layers=3, layer_mm=2, rising=True, lines_per_layer=10, ml_per_layer=10)
    survey = with_layers(pot, clay_ml=[10, 40, 10], path_mm=[100, 300, 100], x_max_mm=[180, 200, 180])
    second = layer_start(survey, 2).line
    assert survey.clay_before(Spot(second + 5)) == pytest.approx(30)
    assert survey.laid_path(second, second + 10)[1].tolist() == [30.0] * 10
    assert survey.laid_points(second, second + 10)[0].max() == pytest.approx(200)
    assert survey.laid_points(0, second)[0].max() == pytest.approx(180)
    assert survey.laid_points(0, 10).shape == (2, 0)
    assert survey.laid_z(Spot(second + 5)) == pytest.approx(3)
    assert survey.laid_z(Spot(survey.laid_until)) is None
    assert survey.rises_to(0, survey.lines, 3) == Spot(second + 5)
    assert survey.rises_to(0, second, 3) is None
    assert survey.lifted_from(0, 3) == second + 6
    assert survey.lifted_from(survey.laid_until, 6) == survey.laid_until


def test_run_step_shows_each_step_the_plan_of_those_before() -> None:
    """Steps in `before` run first, in their order."""
    before = [Count(CountSettings(times=2)), Count(CountSettings())]
    plan = run_step(Count, {"times": 1}, make_survey(), before=before)
    assert [note.text for note in plan.of(Note)] == ["0", "0", "2", "3"]


def test_run_step_checks_settings_as_a_config_file_does() -> None:
    """An unknown key is refused."""
    with pytest.raises(pydantic.ValidationError):
        run_step(Count, {"time": 1}, make_survey())
    with pytest.raises(pydantic.ValidationError):
        run_step(Count, {}, make_survey(), {"cartridge": {"litres": 1}})
