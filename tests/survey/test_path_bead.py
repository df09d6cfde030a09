"""Clay by the path: by which bead, and where that can't be the one that is laid.

The section is reckoned here from its parts: a rectangle between two half discs.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from gpost.config.metering import path_bead
from gpost.config.model import Config
from gpost.pipeline import run_file
from gpost.preflight.ofsurvey import survey_findings
from gpost.report.survey import survey_text
from gpost.report.text import to_text
from gpost.survey.model import Survey

SurveyOf = Callable[..., Survey]
SIDE_MM, LAYERS = 60, 20


def section_mm2(width_mm: float, height_mm: float) -> float:
    """Of a bead that is wider than high."""
    return (width_mm - height_mm) * height_mm + math.pi * (height_mm / 2) ** 2


def squares(layer_mm: float) -> str:
    """Rings of four sides without E."""
    rows = ["G28", "G90"]
    for layer in range(1, LAYERS + 1):
        rows.append(f"G0 X100 Y100 Z{layer * layer_mm} F3000")
        rows += [f"G1 X{x} Y{y} F1200" for x, y in ((160, 100), (160, 160), (100, 160), (100, 100))]
    return "\n".join([*rows, ""])


def to_and_fro(layer_mm: float) -> str:
    """A straight wall, laid there and back."""
    rows = ["G28", "G90", f"G0 X60 Y140 Z{layer_mm} F3000"]
    for layer in range(1, LAYERS + 1):
        rows += [f"G0 Z{layer * layer_mm}", f"G1 X{60 if layer % 2 == 0 else 220} F1200"]
    return "\n".join([*rows, ""])


def config_of(*, nozzle_mm: float = 4, **clay: Any) -> Config:
    """The config of a file without E."""
    height = {"bead_height_mm": clay.pop("bead_height_mm")} if "bead_height_mm" in clay else {}
    metering = {"unit": "path", **height}
    return Config.model_validate(
        {"machine": {"nozzle_mm": nozzle_mm}, "clay": {"metering": metering, **clay}}
    )


@pytest.mark.parametrize(
    ("keys", "bead", "words"),
    [
        (
            {"bead_width_mm": 5},
            (5, 2),
            "5 mm wide (`clay: bead_width_mm`) and 2 mm high (half of `machine: nozzle_mm`)",
        ),
        (
            {"nozzle_mm": 3},
            (4.5, 1.5),
            "4.5 mm wide (1.5 times `machine: nozzle_mm`) and 1.5 mm high (half of `machine: nozzle_mm`)",
        ),
        (
            {"bead_width_mm": 7, "bead_height_mm": 3},
            (7, 3),
            "7 mm wide (`clay: bead_width_mm`) and 3 mm high (`bead_height_mm`)",
        ),
    ],
)
def test_the_bead_and_whence_it_comes(
    survey_of: SurveyOf, tmp_path: Path, keys: dict[str, Any], bead: tuple[float, float], words: str
) -> None:
    """All amounts are path times its section, and survey and run say how wide and how high it is."""
    config = config_of(**keys)
    survey = survey_of(squares(bead[1]), config=config)
    assert survey.clay_ml == pytest.approx(4 * SIDE_MM * LAYERS * section_mm2(*bead) / 1000)
    assert not survey.warnings
    assert f"clay by the path, as a bead {words}" in " ".join(survey_text(survey, survey_findings(survey, 4.0), name="pot").split())
    source = tmp_path / "pot.gcode"
    source.write_text(squares(bead[1]))
    summary = run_file(source, tmp_path / "out.gcode", config, [])
    assert summary.metering is not None
    assert summary.metering.path_bead == words
    assert f"clay is reckoned by the path, as a bead {words}" in " ".join(to_text(summary).split())


@pytest.mark.parametrize(("program", "path_mm"), [(squares, 4 * SIDE_MM), (to_and_fro, 160)])
@pytest.mark.parametrize(("layer_mm", "told"), [(1, True), (1.5, True), (1.8, False), (2, False), (3, True)])
def test_layers_of_another_height_are_told_with_both_amounts(
    survey_of: SurveyOf, program: Callable[[float], str], path_mm: float, layer_mm: float, told: bool
) -> None:
    """What it takes, and what a bead as high as the layers would; a little off is no matter."""
    survey = survey_of(program(layer_mm), config=config_of(bead_width_mm=5))
    taken, would = (path_mm * LAYERS * section_mm2(5, height) / 1000 for height in (2, layer_mm))
    found = [text for text in survey.warnings if "metered by the path" in text]
    assert len(found) == told
    for text in found:
        assert (
            f"high (half of `machine: nozzle_mm`): {taken:.3g} ml. But the layers are {layer_mm:g} mm apart"
            in text
        )
        assert f"a bead 5 x {layer_mm:g} mm takes {would:.3g} ml" in text


def test_what_it_advises_ends_the_warning(survey_of: SurveyOf) -> None:
    """With the height that it names the amount is the other one, and nothing is odd."""
    survey = survey_of(squares(3), config=config_of(bead_width_mm=5, bead_height_mm=3))
    assert survey.clay_ml == pytest.approx(4 * SIDE_MM * LAYERS * section_mm2(5, 3) / 1000)
    assert not survey.warnings


def test_where_e_meters_no_bead_is_taken(survey_of: SurveyOf) -> None:
    """Nothing is said of one."""
    config = Config.model_validate({"clay": {"metering": {"unit": "mm3"}, "bead_width_mm": 5}})
    assert path_bead(config) is None
    survey = survey_of(squares(2).replace(" F1200", " E100 F1200").replace("G90", "G90\nM83"), config=config)
    assert survey.path_bead is None
    assert "by the path" not in survey_text(survey, survey_findings(survey, 4.0), name="pot")
