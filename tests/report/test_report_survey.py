"""The survey in words and as JSON."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from typing import Any

import pytest

from gpost.preflight.ofsurvey import survey_findings
from gpost.report.survey import ENDS, survey_json, survey_text
from gpost.survey.model import Survey
from gpost.testing import make_survey, with_layers
from tests.resuming import typed

SHA = "0" * 64
COMMANDS = [("M", 1040, 1), ("M", 1040, 3), ("G", 280, 2), ("G", 382, 4)]


def text_of(survey: Survey, **shown: Any) -> str:
    """The survey in words, with what is found of it for a nozzle of 4 mm."""
    return survey_text(survey, survey_findings(survey, 4.0), **shown)


def json_of(survey: Survey, **shown: Any) -> str:
    """The same as JSON."""
    return survey_json(survey, survey_findings(survey, 4.0), **shown)


def rows(text: str) -> list[str]:
    """The numbers of the layers that the table shows."""
    return [
        line.split()[0] for line in text.splitlines() if line[:6].strip().isdigit() and len(line.split()) == 8
    ]


def test_head_in_words() -> None:
    """Lines, layers, height, clay and time stand at the top."""
    text = text_of(make_survey(layers=3, commands=COMMANDS, lead_in_ml=2), name="pot.nc")
    assert text.startswith(
        "pot.nc\n  123 lines, 3.69 kB, 3 layers\n  6.0 mm high, 32.0 ml of clay, 0:03 h of"
    )
    assert "  2.0 ml come before layer 1: the file's own prime\n" in text
    assert "Commands beside the moves: G28 x 1, G38.2 x 1, M104 x 2\n" in text
    assert text.endswith("Nothing odd was found.\n")


@pytest.mark.parametrize(
    ("lines", "size_bytes", "layers", "said"),
    [(1, 40, 0, "1 line, 0.04 kB, 0 layers"), (9, 9_999, 1, "9 lines, 10.00 kB, 1 layer"), (2, 10_000, 2, "2 lines, 0.01 MB, 2 layers")],
)
def test_one_layer_is_no_layers(lines: int, size_bytes: int, layers: int, said: str) -> None:
    """Nor is a short file said to have 0.00 MB."""
    survey = dataclasses.replace(make_survey(layers=layers), lines=lines, size_bytes=size_bytes)
    assert text_of(survey, name="pot.nc").splitlines()[1] == f"  {said}"


def test_commands_by_name_are_counted_too() -> None:
    """Behind those by letter, in words and as JSON."""
    survey = dataclasses.replace(make_survey(commands=COMMANDS), named={"SET_AIR": 3, "LIFT_ALL": 1})
    assert "G28 x 1, G38.2 x 1, M104 x 2, LIFT_ALL x 1,\n  SET_AIR x 3\n" in text_of(survey, name="pot.nc")
    counted = json.loads(json_of(survey, name="pot.nc", sha256=SHA))["commands"]
    assert counted == {"G28": 1, "G38.2": 1, "M104": 2, "LIFT_ALL": 1, "SET_AIR": 3}


PIN = "{on: 'M42 P4 S<level>', off: M42 P4 S0, full: 1}"
FAN = "{on: 'M106 P1 S<level>', off: 'M106 P1 S0'}"
BY_NAME = "{on: 'SET_AIR VALUE=<level>', off: SET_AIR VALUE=0, full: 1}"


@pytest.mark.parametrize(
    ("air", "lines", "counted"),
    [
        (PIN, ["M42 P4 S1", "M42 P5 S1", "M106 S9", "M42 P4 S0"], {"M42": 3, "M106": 1}),
        (FAN, ["M106 P1 S9", "M106 P1 S0", "M107"], {"M106": 2, "M107": 1}),
        (BY_NAME, ["SET_AIR VALUE=1", "set_air value=0", "SET_LAMP", "M107"], {"M107": 1, "SET_AIR": 2, "SET_LAMP": 1}),
    ],
)
def test_the_blower_is_counted_as_the_file_has_it(
    tmp_path: Path, air: str, lines: list[str], counted: dict[str, int]
) -> None:
    """By its pin, its number or its name, whichever the studio's config says."""
    ring = ["G1 X90 Y50 E5", "G1 Y90 E5", "G1 X50 E5", "G1 Y50 E5"]
    (tmp_path / "pot.gcode").write_text("\n".join(["G28", "G0 X50 Y50 Z2 F3000", *lines, *ring, ""]))
    (tmp_path / "pot.yaml").write_text(f"machine: {{air: {air}, allow_commands: [SET_AIR]}}\n")
    names = ("survey", tmp_path / "pot.gcode", "-c", tmp_path / "pot.yaml")
    assert json.loads(typed(*names, "--json").output)["commands"] == {"G28": 1, **counted}
    said = ", ".join(f"{name} x {count}" for name, count in counted.items())
    assert f"Commands beside the moves: G28 x 1, {said}" in " ".join(typed(*names).output.split())


def test_short_table_is_whole() -> None:
    """A piece of few layers is shown with every layer."""
    text = text_of(make_survey(layers=2 * ENDS + 1), name="pot.nc")
    assert rows(text) == [str(n) for n in range(1, 2 * ENDS + 2)]


def test_long_table_is_shortened_in_the_middle() -> None:
    """Of a long piece the first and last layers are shown, and it is said that there are more."""
    text = text_of(make_survey(layers=300), name="pot.nc")
    assert rows(text) == [str(n) for n in [*range(1, ENDS + 1), *range(301 - ENDS, 301)]]
    assert "--all shows them" in text


def test_long_table_whole_on_demand() -> None:
    """With `whole` every layer is shown."""
    assert len(rows(text_of(make_survey(layers=300), name="pot.nc", whole=True))) == 300


def test_table_fits_the_terminal() -> None:
    """Every line of a large piece fits 80 columns."""
    survey = make_survey(layers=900, lines_per_layer=3000, ml_per_layer=99, time_per_layer_s=5000)
    text = text_of(survey, name="a" * 200, whole=True)
    assert max(map(len, text.splitlines())) <= 80


def test_odd_things_are_listed() -> None:
    """Every warning of the survey is told, and can't steer the terminal."""
    survey = dataclasses.replace(make_survey(), warnings=("E runs \x1b[31mbackwards",))
    assert "What is odd\n  - E runs \\x1b[31mbackwards\n" in text_of(survey, name="pot.nc")


def test_what_check_says_of_the_layers_is_said() -> None:
    """Layers that are a guess, one that doesn't fit the nozzle, and a wall in the air."""
    survey = with_layers(make_survey(layer_mm=[3.8, 2, 2, 5, *[2] * 6]), odd=[False] * 5 + [True] * 5)
    text = " ".join(text_of(survey, name="pot.nc").split())
    assert "- odd-layers, line 191: from 16.8 to 24.8 mm the wall doesn't go round" in text
    assert "- wall-in-air, line 119: layer 4 lies 5.00 mm above the one before" in text
    assert "- first-layer, line 11: the first layer is 3.80 mm high, which is too high" in text
    assert json.loads(json_of(survey, name="pot.nc", sha256=SHA))["warnings"] == [
        finding.sentence for finding in survey_findings(survey, 4.0)
    ]


def test_without_a_nozzle_no_layer_is_said_not_to_fit() -> None:
    """Only what the motion itself tells."""
    survey = with_layers(make_survey(layer_mm=[3.8, *[2] * 9]), odd=[False] * 5 + [True] * 5)
    assert [found.name for found in survey_findings(survey, None)] == ["odd-layers"]


def test_several_pieces_are_told() -> None:
    """A file with several pieces says so."""
    assert "2 pieces, one after the other" in text_of(make_survey(pieces=2), name="pot.nc")


def test_json_holds_every_layer() -> None:
    """The JSON has one object a layer, with lines counted from 1."""
    survey = make_survey(layers=30, rising=True, commands=COMMANDS)
    found = json.loads(json_of(survey, name="pot.nc", sha256=SHA))
    assert found["sha256"] == SHA
    assert len(found["layers"]) == 30
    assert found["layers"][1]["layer"] == 2
    assert found["layers"][1]["first_line"] == 10 + 36 + 1
    assert found["layers"][1]["kind"] == "rises"
    assert found["commands"] == {"G28": 1, "G38.2": 1, "M104": 2}


def test_a_feed_that_the_file_has_not_said() -> None:
    """It is shown as such, and null in JSON."""
    survey = with_layers(make_survey(layers=1), feed_mm_min=0)
    (row,) = [line for line in text_of(survey, name="pot.nc").splitlines() if line.startswith("     1 ")]
    assert row.split()[-3:] == ["not", "said", "11"]
    assert json.loads(json_of(survey, name="pot.nc", sha256=SHA))["layers"][0]["feed_mm_min"] is None


def test_json_of_a_file_without_clay() -> None:
    """A file that lays no clay gives valid JSON, without bounds."""
    found = json.loads(json_of(make_survey(layers=0), name="pot\udcff.nc", sha256=SHA))
    assert (found["layers"], found["bounds_mm"], found["height_mm"]) == ([], None, 0.0)
    assert "0 layers" in text_of(make_survey(layers=0), name="pot.nc")
