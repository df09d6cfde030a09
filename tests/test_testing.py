"""The kit for authors of steps: its pot's numbers are what was asked for."""

from __future__ import annotations

import gc
import math
import re
import sys
import tempfile
from collections.abc import Iterable
from pathlib import Path

import pydantic
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.api import Ask, Intention, Note, Pause, Plan, PlanError, Settings, Spot, Step, Survey
from gpost.demo.gcode import class_pieces, slice_piece
from gpost.errors import SourceError
from gpost.motion.state import MachineState
from gpost.survey.layerrows import LAYER_DTYPE
from gpost.testing import (
    Block,
    Job,
    bottle_config,
    layer_start,
    make_survey,
    run_on_bottle,
    run_on_lines,
    run_step,
    states,
    survey_of,
    with_layers,
)
from tests.docs.blocks import GUIDE, blocks
from tests.reference.interpreter import run


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
    assert survey.laid_at(Spot(second)) == (200, 140, 2)
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


class Turn(Step[CountSettings]):
    """Asks for everything that is put in as a block, half-way up."""

    name = "turn"
    Settings = CountSettings

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """A pause with a prime, and a question at the next layer."""
        middle = len(survey.layers) // 2
        yield Pause(layer_start(survey, middle), "turn", "to turn the wheel", "Turn it", prime_ml=3.0)
        yield Ask(layer_start(survey, middle + 1), "Look", "to look at it")


LINES = """
    G21
    G28
    M83
    G1 X60 Y60 Z2 F900
    G1 X140 E10
    G1 Y140 E10
    G1 X60 E10
    G1 Y60 E10
    G1 Z4
    G1 X140 E10 F600
    G1 Y140 E10
    G1 X60 E10
    G1 Y60 E10
    G0 Z60
"""
"""A square of two layers, 80 mm a side."""


def test_a_survey_of_a_few_lines() -> None:
    """Heights, path and clay are those of the square that the lines draw; lines can be asked for afterwards."""
    survey = survey_of(LINES, {"clay": {"metering": {"unit": "filament", "diameter_mm": 1.75}}})
    assert survey.layers["height_mm"].tolist() == [2, 4]
    assert survey.layers["path_mm"] == pytest.approx([320, 320])
    assert survey.layers["clay_ml"] == pytest.approx(40 * math.pi / 4 * 1.75**2 / 1000)
    half = survey.clay_before(Spot(int(survey.layers["first_line"][1])))
    assert half == pytest.approx(survey.clay_ml / 2)
    assert survey_of(LINES.split("\n")).layers.tolist() == survey_of(LINES.encode()).layers.tolist()
    with pytest.raises(SourceError, match="line 1"):
        survey_of("G1 X1..2")


def test_its_file_goes_with_the_survey(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """What is kept to answer from is gone when nobody asks any more."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    survey = survey_of(LINES)
    assert len(list(tmp_path.iterdir())) == 1
    del survey
    gc.collect()
    assert list(tmp_path.iterdir()) == []


@pytest.fixture(scope="module")
def bottle() -> Job:
    """The step on the demo's bottle."""
    return run_on_bottle(Turn, {})


def test_a_run_on_the_bottle_is_the_command_s(bottle: Job) -> None:
    """The bottle is the demo's, what is written tells of the step, and it waits as often as it was asked to."""
    assert bottle.sliced == slice_piece(*class_pieces()["twisted-bottle"])
    assert bottle.summary.steps == ("turn",)
    middle = len(bottle.plan.survey.layers) // 2
    assert [pause.spot for pause in bottle.plan.pauses] == [layer_start(bottle.plan.survey, middle)]
    assert bottle.lines.count("M0") == 2
    assert [block.kind for block in bottle.blocks] == ["turn", "ask"]
    assert all("\n".join(block.lines) in "\n".join(bottle.lines) for block in bottle.blocks)


def test_states_before_and_after_are_the_reference_interpreter_s(bottle: Job) -> None:
    """Place, registers and modes at each block's edges are what tests/reference says; a block changes none of them."""
    events = run(bottle.output)
    assert len(bottle.blocks) == 2
    for block in bottle.blocks:
        assert block.changed == ()
        end = block.first_line + len(block.lines)
        for state, event in ((block.before, events[block.first_line - 1]), (block.after, events[end - 1])):
            theirs = event.state
            assert state.position_mm == pytest.approx(theirs.position_mm, abs=1e-9)
            assert state.register == pytest.approx([float(theirs.register[axis]) for axis in "XYZE"], abs=1e-9)
            assert (state.relative, state.e_relative, state.scale) == (theirs.relative, theirs.e_relative, float(theirs.scale))
            assert state.air == float(theirs.fan)
    moves = [event.start_mm for event in events[bottle.blocks[0].first_line : bottle.blocks[0].first_line + len(bottle.blocks[0].lines)]]
    assert len(set(moves)) > 2, "the nozzle was elsewhere meanwhile"


def test_what_a_block_changes_is_named() -> None:
    """Air that stays otherwise, and a register, are told by their names; a feed and a motion mode are not."""
    begin, end = MachineState(), MachineState(air=100.0, register=(0.0, 0.0, 0.0, 2.0), feed_mm_min=900.0, motion=0)
    assert Block("look", 0, (), begin, end).changed == ("register", "air")
    assert Block("look", 0, (), begin, MachineState(register=(0.0, 0.0, 0.0, 1e-12))).changed == ()


def test_states_of_any_lines() -> None:
    """Before each line that is asked for, wherever it lies, and past the last at the end; a place by hand."""
    found = states(LINES, [0, 4, 8, 9, 14])
    assert [state.position_mm for state in found] == [(0, 0, 0), (60, 60, 2), (60, 60, 2), (60, 60, 4), (60, 60, 60)]
    assert [state.feed_mm_min for state in found[1:]] == [900, 900, 900, 600]
    assert found[0].known == (False, False, False)
    assert found[-1].e_relative


def test_a_run_refuses_what_the_command_refuses() -> None:
    """Clay that runs out stops it, unless it is allowed; settings are checked."""
    small = {**bottle_config(), "cartridge": {"volume_ml": 60}}
    with pytest.raises(PlanError, match="short-clay"):
        run_on_bottle(Turn, {}, small)
    assert run_on_bottle(Turn, {}, small, allow=["short-clay"]).summary.pauses
    with pytest.raises(pydantic.ValidationError):
        run_on_lines(Turn, {"time": 1}, LINES)
    assert len(run_on_lines(Turn, {}, LINES.replace("G28", "G28\nG92 E0")).blocks) == 2


def test_the_page_for_authors_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its Python blocks, one after the other in one folder, do what stands there; the first is the step."""
    step, *others = blocks(GUIDE / "own-step.md", "python")
    (tmp_path / "look.py").write_text(step.text)
    monkeypatch.syspath_prepend(str(tmp_path))
    names: dict[str, object] = {}
    assert len(others) >= 3
    for block in others:
        exec(compile(block.text, block.where, "exec"), names)
    monkeypatch.delitem(sys.modules, "look")


def test_every_column_of_a_layer_is_told_to_authors() -> None:
    """The page has a row for each column of the table, and for no other."""
    rows = re.findall(r"^\| (`.*?) \|", (GUIDE / "own-step.md").read_text("utf-8"), re.MULTILINE)
    told = [name for row in rows for name in re.findall(r"`(\w+)`", row)]
    assert sorted(told) == sorted(LAYER_DTYPE.names or ())


def test_low_is_not_the_layer_s_bottom() -> None:
    """As the page says: the top once more in a level layer; in a wall that rises the top of the turn below."""
    level, rising = make_survey(layers=4, layer_mm=2), make_survey(layers=4, layer_mm=2, rising=True)
    assert level.layers["low_mm"].tolist() == level.layers["height_mm"].tolist()
    assert rising.layers["low_mm"][1:].tolist() == rising.layers["height_mm"][:-1].tolist()
    assert survey_of(LINES).layers["low_mm"].tolist() == [2, 4]
