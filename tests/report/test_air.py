"""How hard the blower blows in each layer: the file's own commands, and what steps make of them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from gpost_plugins.fan import Fan

from gpost.api import Config, Plan
from gpost.pipeline import survey_file
from gpost.report.air import air_percents
from gpost.survey.model import Survey
from gpost.testing import make_survey, run_step


@pytest.fixture
def rings(tmp_path: Path) -> Survey:
    """Ten square rings; the file blows at 51 from ring 3, 255 from ring 5, with no S from 7, not from 9 on."""
    own = {3: "M106 S51", 5: "M106 S255", 7: "M106", 9: "M107"}
    lines = ["G21", "G90", "M83", "G28"]
    for ring in range(1, 11):
        lines += [*([own[ring]] if ring in own else []), f"G0 X100 Y100 Z{2 * ring} F3000"]
        corners = ((180, 100), (180, 180), (100, 180), (100, 100))
        lines += [f"G1 X{x} Y{y} E5 F1200" for x, y in corners]
    path = tmp_path / "rings.gcode"
    path.write_text("\n".join([*lines, "G0 Z60", ""]))
    return survey_file(path, Config())


def test_the_files_own_commands_count_as_they_stand(rings: Survey) -> None:
    """S of 255 is full, M106 alone too, M107 is none; nothing is blown before the first."""
    after, before = air_percents(Plan(rings, Config()))
    assert before == pytest.approx([0, 0, 20, 20, 100, 100, 100, 100, 0, 0])
    assert after == pytest.approx(before)


def test_what_a_step_sets_takes_the_place_of_what_it_silences(rings: Survey) -> None:
    """`fan` silences all of them, and sets its own, as it is sent: of 30 % of 255, 76.5, a whole number."""
    plan = run_step(Fan, {"bands": [{"from_layer": 4, "level_percent": 30}]}, rings, {})
    after, before = air_percents(plan)
    assert after == pytest.approx([0] * 3 + [100 * 76 / 255] * 7)
    assert before == pytest.approx([0, 0, 20, 20, 100, 100, 100, 100, 0, 0])


def test_the_machine_says_how_much_is_full(tmp_path: Path) -> None:
    """Of a blower whose full level is 1, S1 is all, where the same command switches it."""
    path = tmp_path / "pot.gcode"
    path.write_text("G21\nG90\nM83\nG28\nM106 S1\nG0 X100 Y100 Z2\nG1 X180 E9 F900\nG1 Y180 E9\nG1 X100 E9\nG1 Y100 E9\n")
    config = Config.model_validate({"machine": {"air": {"full": 1, "decimals": 2}}})
    after, before = air_percents(Plan(survey_file(path, config), config))
    assert after == pytest.approx([100])
    assert before == pytest.approx([100])


def test_a_file_without_air_has_none() -> None:
    """Noughts, and no file read for it."""
    after, before = air_percents(Plan(make_survey(layers=5), Config()))
    assert after == pytest.approx(np.zeros(5))
    assert before == pytest.approx(np.zeros(5))


def test_commands_that_cannot_be_read_again_are_not_guessed() -> None:
    """Not known is None, not nought."""
    survey = make_survey(layers=5, commands=[("M", 1060, 20)])
    assert air_percents(Plan(survey, Config())) == (None, None)
