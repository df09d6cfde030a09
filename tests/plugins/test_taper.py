"""The step that slows the upper walls and the short layers."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pydantic
import pytest
from gpost_plugins.taper import Taper, TaperSettings, gpost_steps
from hypothesis import given
from hypothesis import strategies as st

from gpost.api import Note, Plan, PlanError, ScaleFeed, Survey
from gpost.pipeline import run_file
from gpost.steps.recipe import make_recipe
from gpost.testing import make_survey, run_step, with_layers
from tests.config_files import load_files
from tests.reference.interpreter import run
from tests.reference.state import Dialect

POT = make_survey(layers=11, layer_mm=2, lines_per_layer=10)


def tapered(survey: Survey = POT, before: Any = (), **settings: Any) -> Plan:
    """The taper on a pot of 11 layers of 60 s, with no floor unless given."""
    return run_step(Taper, {"floor_mm_min": 0, **settings}, survey, before=before)


def stepped(steps: list[tuple[int, int]], survey: Survey, **settings: Any) -> Plan:
    """The taper in steps of (from height, percent)."""
    rungs = [{"from_height_mm": from_mm, "feed_percent": percent} for from_mm, percent in steps]
    return tapered(survey, shape="steps", steps=rungs, **settings)


def factors(plan: Plan) -> list[float]:
    """Factor of each layer, read back from the stretches of lines."""
    found = np.ones(len(plan.survey.layers))
    for scale in plan.of(ScaleFeed):
        first = plan.survey.layers["first_line"]
        found[(first >= scale.first_line) & (first < scale.end_line)] *= scale.factor
    return [float(factor) for factor in found]


def test_the_module_offers_the_step() -> None:
    """The hook names the class, and nothing else."""
    assert list(gpost_steps()) == [Taper]


@pytest.mark.parametrize(
    ("settings", "expected"),
    [
        ({"from_layer": 1, "to_percent": 50}, [1 - 0.05 * i for i in range(11)]),
        ({"from_layer": 6, "to_percent": 50}, [1] * 6 + [0.9, 0.8, 0.7, 0.6, 0.5]),
        ({"from_height_mm": 14, "to_percent": 60}, [1] * 7 + [0.9, 0.8, 0.7, 0.6]),
        ({"to_percent": 50}, [1] * 6 + [0.9, 0.8, 0.7, 0.6, 0.5]),  # from half the height, 12 mm
        ({"from_layer": 4, "to_percent": 40}, [1, 1, 1, *(1 - 0.6 / 7 * i for i in range(8))]),
        ({"from_layer": 3, "to_percent": 100}, [1] * 11),
    ],
)
def test_linear_by_hand(settings: dict[str, Any], expected: list[float]) -> None:
    """Full feed up to the start, straight down to the top layer's."""
    assert factors(tapered(**settings)) == pytest.approx(expected, abs=5.1e-4)


def test_steps_by_hand() -> None:
    """Each step holds until the next; 16 mm is layer 8."""
    steps = [{"from_layer": 4, "feed_percent": 80}, {"from_height_mm": 16, "feed_percent": 60}]
    plan = tapered(shape="steps", steps=steps)
    assert factors(plan) == [1] * 3 + [0.8] * 4 + [0.6] * 4


def test_neighbours_with_one_factor_are_one_stretch() -> None:
    """Two steps make two stretches; the last one goes to the end of the file."""
    steps = [{"from_layer": 4, "feed_percent": 80}, {"from_layer": 8, "feed_percent": 60}]
    scales = tapered(shape="steps", steps=steps, floor_mm_min=400).of(ScaleFeed)
    assert [(s.first_line, s.end_line, s.factor, s.floor_mm_min) for s in scales] == [
        (40, 80, 0.8, 400),
        (80, POT.lines, 0.6, 400),
    ]


@pytest.mark.parametrize(
    ("least_s", "factor"),
    [
        (20, 1.0),
        (19, 1.0),
        (40, (38 - math.sqrt(38**2 - 180)) / 6),
        (120, (118 - math.sqrt(118**2 - 180)) / 6),
    ],
)
def test_the_least_time_by_hand(least_s: float, factor: float) -> None:
    """A layer of 20 s, 2 of travel and 3 in corners: 2 + 15/k + 3k = least, a square equation."""
    survey = make_survey(layers=4, time_per_layer_s=20, travel_s=2, corner_s=3)
    plan = tapered(survey, to_percent=100, least_layer_s=least_s)
    assert factors(plan) == pytest.approx([factor] * 4, abs=1e-3)
    assert all(plan.layer_times_s >= least_s - 1e-9)
    assert len(plan.of(ScaleFeed)) == (factor < 1)


def test_the_least_time_and_the_taper_work_together() -> None:
    """The slower of both counts: short layers below, the taper above."""
    survey = make_survey(layers=4, time_per_layer_s=[10, 40, 40, 40])
    plan = tapered(survey, from_layer=2, to_percent=50, least_layer_s=20)
    assert factors(plan) == pytest.approx([0.5, 1, 0.75, 0.5])
    assert plan.layer_times_s == pytest.approx([20, 40, 40 / 0.75, 80])


def test_what_an_earlier_taper_slowed_counts() -> None:
    """A layer of 15 s at half feed takes 30 s already, so a least time of 30 s asks for nothing more."""
    survey = make_survey(layers=3, time_per_layer_s=15)
    steps = ({"from_layer": 1, "feed_percent": 50},)
    first = Taper(TaperSettings.model_validate({"shape": "steps", "steps": steps, "floor_mm_min": 0}))
    plan = tapered(survey, [first], to_percent=100, least_layer_s=30)
    assert len(plan.of(ScaleFeed)) == 1
    plan = tapered(survey, [first], to_percent=100, least_layer_s=60)
    assert plan.layer_times_s == pytest.approx([60, 60, 60])


def test_the_floor_goes_with_every_stretch_and_its_short_layers_are_warned_of() -> None:
    """A feed of 1200 mm/min can't go below 600, so 10 s become 20 s and no more."""
    radius_mm = 1200 / 60 * 10 / (2 * math.pi)
    survey = make_survey(layers=3, time_per_layer_s=10, radius_mm=radius_mm)
    plan = tapered(survey, to_percent=100, least_layer_s=50, floor_mm_min=600)
    assert plan.layer_times_s == pytest.approx([20, 20, 20])
    (warning,) = [note.text for note in plan.of(Note) if note.warning]
    assert "3 layers stay shorter than 50 s" in warning
    assert "above 600 mm/min" in warning


def test_the_note_says_how_much_time_it_costs() -> None:
    """Four layers of 60 s at half feed: 4 minutes more, as nothing is lost in corners here."""
    plan = tapered(shape="steps", steps=[{"from_layer": 8, "feed_percent": 50}])
    assert plan.total_s - POT.time_s == pytest.approx(240)
    (note,) = plan.of(Note)
    assert note.text == "4 layers are slower, down to 50 % of their feed, which adds 4.0 min"


def test_no_change_is_said_so() -> None:
    """Nothing slower: a note and no scaling."""
    plan = tapered(to_percent=100)
    assert not plan.of(ScaleFeed)
    assert "no layer has to be slower" in plan.of(Note)[0].text


@given(
    st.lists(st.floats(3, 200), min_size=1, max_size=20),
    st.floats(10, 100),
    st.floats(0, 100),
    st.floats(0, 0.3),
)
def test_feeds_only_fall_and_times_reach_the_least(
    times_s: list[float], to_percent: float, least_s: float, corner_share: float
) -> None:
    """No layer gets faster, none is too short, unless at the slowest feed there is."""
    survey = make_survey(
        layers=len(times_s), time_per_layer_s=times_s, corner_s=corner_share * min(times_s), lines_per_layer=4
    )
    plan = tapered(survey, from_layer=1, to_percent=to_percent, least_layer_s=least_s)
    found = np.array(factors(plan))
    assert (found <= 1).all()
    assert ((plan.layer_times_s >= least_s - 1e-6) | (found <= 0.0101)).all()
    assert (plan.layer_times_s >= survey.layers["time_s"] - 1e-6).all()


@pytest.mark.parametrize(
    "settings",
    [
        {"from_layer": 2, "from_height_mm": 3},
        {"shape": "steps"},
        {"steps": [{"from_layer": 2}]},
        {"shape": "steps", "steps": [{"from_layer": 2}], "from_layer": 3},
        {"shape": "steps", "steps": [{}]},
        {"to_percent": 0},
        {"to_percent": 101},
        {"least_layer_s": -1},
    ],
)
def test_settings_that_contradict_each_other_are_refused(settings: dict[str, Any]) -> None:
    """When the config is read, before any file is."""
    with pytest.raises(pydantic.ValidationError):
        tapered(**settings)


def test_steps_are_listed_from_the_bottom_up() -> None:
    """A step that starts no higher than the one before it is refused."""
    with pytest.raises(PlanError, match="bottom up"):
        tapered(shape="steps", steps=[{"from_layer": 5}, {"from_layer": 5}])


def test_a_start_above_the_piece_is_left_out() -> None:
    """No layer is slower, and a note says where the piece ends."""
    plan = tapered(from_height_mm=40)
    assert factors(plan) == [1] * 11
    assert "ends with layer 11 at 22.0 mm" in plan.of(Note)[0].text


@pytest.mark.parametrize("rising", [False, True])
def test_a_pot_of_one_layer_is_tapered_too(rising: bool) -> None:
    """There is no way up, so its one layer keeps its feed."""
    assert factors(tapered(make_survey(layers=1, rising=rising), to_percent=50)) == [1]


def test_what_the_floor_holds_up_is_told_as_it_is() -> None:
    """41 % of 900 mm/min would be 369; with a floor of 600 the file has 67 %, and that is what is said."""
    radius_mm = 900 / 60 * 20 / (2 * math.pi)  # a turn of 20 s at 900 mm/min
    survey = make_survey(layers=10, time_per_layer_s=20, radius_mm=radius_mm)
    (note,) = tapered(
        survey, shape="steps", steps=[{"from_layer": 6, "feed_percent": 41}], floor_mm_min=600
    ).of(Note)
    assert note.text == (
        "5 layers are slower, down to 67 % of their feed, which adds 0.8 min; 41 % would be needed, but the feed is "
        "kept above 600 mm/min"
    )


def test_a_floor_above_the_file_s_feeds_leaves_them() -> None:
    """Then no layer gets slower, and it is said why."""
    survey = make_survey(layers=10, time_per_layer_s=20, radius_mm=900 / 60 * 20 / (2 * math.pi))
    (note,) = tapered(survey, to_percent=41, floor_mm_min=2000).of(Note)
    assert note.text == "no layer gets slower, as the feed is kept above 2000 mm/min"


def test_the_summary_s_feeds_are_those_of_the_written_file(tmp_path: Path) -> None:
    """The least share of its feed that any laying move of the output has is the summary's, and so is the largest."""
    square = ["X40 Y40", "X80 Y40", "X80 Y80", "X40 Y80"]
    lines = ["G28", "G90", "M83", "G0 X40 Y80 Z1 F3000", "F900"]
    for layer in range(1, 13):
        lines += [f"G1 Z{layer} F900", *(f"G1 {corner} E3" for corner in square)]
    path = tmp_path / "pot.gcode"
    path.write_text("\n".join(lines) + "\n")
    recipe = make_recipe(
        load_files([("r.yaml", "steps:\n- taper: {from_layer: 1, to_percent: 41, floor_mm_min: 600}\n")])
    )
    done = run_file(path, tmp_path / "out.gcode", recipe.config, recipe.steps)
    feeds = [
        event.feed_mm_min
        for event in run((tmp_path / "out.gcode").read_bytes(), Dialect())
        if event.lays_clay
    ]
    slower = [feed / 900 * 100 for feed in feeds if feed is not None and feed < 899]
    (change,) = [change for change in done.changes if change.kind == "feed"]
    assert change.what == f"feed taken to {min(slower):.0f} to {max(slower):.0f} %"
    assert f"down to {min(slower):.0f} %" in next(note for note in done.notes if "layers are slower" in note)


TALL = make_survey(layers=11, layer_mm=[2] * 5 + [20] + [2] * 4 + [40], lines_per_layer=10, rising=True)
"""Its sixth turn goes from 10 to 30 mm and its last from 38 to 78: heights inside them are places there."""


@pytest.mark.parametrize(
    ("steps", "scales"),
    [
        ([(58, 50)], [(115, 125, 0.5)]),
        ([(34, 60), (58, 50)], [(90, 115, 0.6), (115, 125, 0.5)]),
        ([(20, 60), (32, 80), (58, 50)], [(65, 80, 0.6), (80, 115, 0.8), (115, 125, 0.5)]),
    ],
)
def test_a_step_inside_the_last_turn_goes_from_there_to_the_end(
    steps: list[tuple[int, int]], scales: list[tuple[int, int, float]]
) -> None:
    """And none before it ends there at full feed. 58 mm is half of the last turn, which has 10 of 120 lines."""
    found = stepped(steps, TALL)
    (note,) = found.of(Note)
    assert "down to 50 % of" in note.text
    assert [(scale.first_line, scale.end_line, scale.factor) for scale in found.of(ScaleFeed)] == scales


@pytest.mark.parametrize("floor_mm_min", [0, 300])
def test_a_step_that_begins_inside_a_turn_is_held_up_by_no_floor(floor_mm_min: float) -> None:
    """The whole turn is not as slow as the step; at 1500 mm/min neither floor is met."""
    for steps in ([(20, 60), (32, 80)], [(10, 50), (20, 80)], [(34, 60), (58, 50)], [(34, 50), (58, 60)]):
        (note,) = stepped(steps, TALL, floor_mm_min=floor_mm_min).of(Note)
        assert "needed" not in note.text, note.text


def test_the_least_time_goes_with_a_step_inside_the_last_turn() -> None:
    """Turns of 60 s that are to take 120 are laid at half their feed, after the step's beginning, too."""
    found = stepped([(58, 80)], TALL, least_layer_s=120)
    assert found.layer_times_s == pytest.approx(120, abs=0.3)
    assert [(scale.first_line, scale.end_line) for scale in found.of(ScaleFeed)] == [(10, 125)]


LEANING = with_layers(
    make_survey(layers=20, layer_mm=2, lines_per_layer=10, rising=True),
    low_mm=np.arange(20.0), height_mm=np.arange(20.0) + 21,
)
"""Turns that rise by 1 mm, and lean by 20: turn 11 goes from 10 to 31 and counts from 20 mm on, the last from 29."""


@pytest.mark.parametrize(
    ("settings", "slow"),
    [
        ({"shape": "steps", "steps": [{"from_height_mm": 20, "feed_percent": 60}]}, [0.6] * 10),
        ({"shape": "steps", "steps": [{"from_height_mm": 28.5, "feed_percent": 50}]}, [0.5]),
        ({"to_percent": 50}, [1 - 0.5 * i / 9 for i in range(1, 10)]),  # from 10 + 9.5 mm, which is turn 11
    ],
)
def test_on_a_wall_that_leans_each_turn_counts_by_its_middle(
    settings: dict[str, Any], slow: list[float]
) -> None:
    """The first 20 - n turns are as fast as in the file."""
    expected = [1.0] * (20 - len(slow)) + slow
    assert factors(tapered(LEANING, **settings)) == pytest.approx(expected, abs=5.1e-4)


def test_one_layer_is_one_layer() -> None:
    """Not 1 layers."""
    (note,) = tapered(shape="steps", steps=[{"from_layer": 11, "feed_percent": 50}]).of(Note)
    assert note.text.startswith("1 layer is slower, down to 50 %")


def test_the_rim_of_a_tilted_wall_is_as_slow_as_its_last_step(tmp_path: Path) -> None:
    """A tube of 30 turns of 2 mm that comes to lean by 5 mm to either side: its rim goes from 57 to 67 mm.

    By the middle its turn 11 begins at 22 mm and its last at 60, at about 59 of 62 mm the last step does.
    """
    sides, lines = 36, ["G28", "G90", "M83", "G0 X80 Y40 Z2 F3000"]
    for step in range(1, 30 * sides + 1):
        angle, turn = 2 * math.pi * step / sides, step / sides
        x, y = 40 + 40 * math.cos(angle), 40 + 40 * math.sin(angle)
        lines.append(f"G1 X{x:.3f} Y{y:.3f} Z{2 + 2 * turn + turn / 6 * math.cos(angle):.3f} E3 F1500")
    path = tmp_path / "leaning.gcode"
    path.write_text("\n".join(lines) + "\n")
    rungs = "[{from_height_mm: 21, feed_percent: 60}, {from_height_mm: 59, feed_percent: 50}]"
    text = f"steps:\n- taper: {{shape: steps, steps: {rungs}}}\n"
    recipe = make_recipe(load_files([("r.yaml", text)]))
    done = run_file(path, tmp_path / "out.gcode", recipe.config, recipe.steps)
    events = run((tmp_path / "out.gcode").read_bytes(), Dialect())
    feeds = [event.feed_mm_min for event in events if event.lays_clay]
    assert feeds == [*[1500] * 10 * sides, *[900] * 19 * sides, *[750] * sides]
    assert "20 layers are slower, down to 50 % of their feed, which adds" in "".join(done.notes)
    assert "needed" not in "".join(done.notes)
