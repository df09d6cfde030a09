"""What is found of the survey alone: turns that go up and down."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from gpost.config.model import Config
from gpost.preflight.ofsurvey import odd_findings, survey_findings
from gpost.read.source import Source
from gpost.survey.build import survey_source
from gpost.testing import make_survey, with_layers

EVEN = make_survey(layers=20, layer_mm=2, lines_per_layer=10, rising=True)
LEANING = with_layers(EVEN, height_mm=EVEN.layers["height_mm"] + np.arange(20.0))
"""Its n-th turn, from 2 n - 2 to 2 n mm, goes n - 1 mm higher: more than 5 mm from the seventh on."""


def test_turns_that_go_up_and_down_are_told() -> None:
    """The one that does so most with its heights: turn 20 goes from 38 to 40 + 19 mm; the first is in line 71."""
    (found,) = survey_findings(LEANING, None)
    assert (found.name, found.severity, found.line, found.count) == ("odd", "note", 70, 14)
    assert found.text == (
        "the wall tilts or waves: layer 20 goes from 38.0 to 59.0 mm, the most of 14 such layers. A height that "
        "a step asks for counts as the middle of a turn, and its bead lies lower or higher round the wall"
    )


def test_of_a_rest_only_what_is_still_to_come_is_told() -> None:
    """From turn 20 on, which begins at line 200."""
    (found,) = odd_findings(LEANING, 200)
    assert (found.line, found.count) == (200, 1)
    assert "layer 20 goes from 38.0 to 59.0 mm. A height" in found.text
    assert list(odd_findings(LEANING, 201)) == []


@pytest.mark.parametrize("rising", [True, False])
def test_nothing_is_said_of_even_turns_and_levels(rising: bool) -> None:
    """Each place of a level layer is as high, and a turn climbs to where the next begins."""
    assert survey_findings(make_survey(layers=20, layer_mm=2, rising=rising), None) == ()
    waving = with_layers(EVEN, height_mm=EVEN.layers["height_mm"] + 4.9)
    assert survey_findings(waving, None) == ()


@pytest.mark.parametrize(("line", "severity"), [("G10\nG11", "note"), ("M163 S0 P0.5", "warning")])
def test_relief_by_codes_is_no_fault_of_a_file(tmp_path: Path, line: str, severity: str) -> None:
    """Nothing is to be done about G10 and G11; clay that is mixed is not told apart."""
    path = tmp_path / "pot.gcode"
    path.write_text(f"G28\nM83\nG0 X100 Y100 Z2 F1500\nG1 X140 E0.9\nG1 Y140 E0.9\n{line}\nG1 X100 E0.9\nG1 Y100 E0.9\n")
    config = Config.model_validate({"clay": {"metering": {"unit": "ml", "ml_per_unit": 1}}})
    found = [f for f in odd_findings(survey_source(Source(path), config)) if "M163" in f.text or "by M" in f.text or "G10" in f.text]
    assert [finding.severity for finding in found] == [severity]
