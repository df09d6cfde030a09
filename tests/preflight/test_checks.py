"""All checks together: on clean pieces, allowed by name, and block by block."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from gpost.config.model import Config
from gpost.demo.gcode import class_pieces
from gpost.errors import PlanError
from gpost.pipeline import check_file, run_file
from gpost.plan.plan import Plan
from gpost.preflight.checks import Preflight, refusal
from gpost.preflight.model import ALLOWABLE, NAMES, Finding
from gpost.read.source import Source
from gpost.steps.manager import build_manager
from gpost.survey.build import survey_source
from tests.sliced import write_piece

Pot = Callable[..., str]
PIECES = class_pieces()
ML = Config.model_validate({"clay": {"metering": {"unit": "ml", "ml_per_unit": 1}}})
WRONG = ["G1 X300 F1200", "G1 Z400", "G1 X100 Z4", "G1 E-3"]


@pytest.mark.parametrize("name", PIECES)
def test_the_class_pieces_have_no_errors(name: str, tmp_path: Path) -> None:
    """A clean sliced piece has no error, and no warning but that of its heaters."""
    write_piece(tmp_path / "piece.gcode", *PIECES[name])
    config = Config.model_validate({"cartridge": {"volume_ml": 2000}})
    found = check_file(tmp_path / "piece.gcode", config, ())
    assert [(finding.name, finding.severity) for finding in found] == [("heating", "warning")]


def test_all_wall_forms_have_no_errors(tmp_path: Path) -> None:
    """Level or rising, with arcs, lifts, relief, inches, relative modes: a clean piece stays clean."""
    piece, style = PIECES["small-bowl-1"]
    styles = [
        replace(style, wall="rise", level_last=True, relative_e=True),
        replace(style, wall="rise", base="spiral", inches=True, decimals=4),
        replace(style, arcs=True, z_hop=True, retract=True, relative_axes=True),
    ]
    for number, one in enumerate(styles):
        path = tmp_path / f"{number}.gcode"
        write_piece(path, piece, one)
        assert [finding.name for finding in check_file(path, Config(), ())] == ["heating"]


@pytest.mark.parametrize(
    ("names", "advice"),
    [
        (["too-fast"], "say --allow too-fast"),
        (["too-fast", "wall-in-air"], "say --allow too-fast --allow wall-in-air"),
        (["outside-bed"], "outside-bed, line 2: "),
        (["too-fast", "below-zero"], "below-zero, line 2: "),
        (["above-ceiling"], "above-ceiling, line 2: "),
        (["plan"], ""),
    ],
)
def test_what_is_advised(names: list[str], advice: str) -> None:
    """To allow what hurts the piece alone; never to send the nozzle where there is no room for it."""
    assert refusal([Finding(name, "error", 1, "") for name in names]).endswith(advice)


def test_errors_stop_a_run(pot: Pot, tmp_path: Path) -> None:
    """The refusal names every error with its line; that a nozzle may leave the bed is never advised."""
    source, output = tmp_path / "pot.gcode", tmp_path / "out.gcode"
    source.write_text(pot(end=WRONG))
    with pytest.raises(PlanError) as caught:
        run_file(source, output, ML, ())
    said = str(caught.value)
    assert "outside-bed, line 14: " in said
    assert "above-ceiling, line 15: " in said
    assert "--allow" not in said
    assert not output.exists()
    with pytest.raises(PlanError, match="above-ceiling"):
        run_file(source, output, ML, (), allow=["outside-bed"])


def test_allowed_errors_are_warnings(pot: Pot, tmp_path: Path) -> None:
    """What is allowed by name stops nothing, and stands in the summary as a warning with the others."""
    source, output = tmp_path / "pot.gcode", tmp_path / "out.gcode"
    source.write_text(pot(end=WRONG))
    summary = run_file(source, output, ML, (), allow=["outside-bed", "above-ceiling"])
    assert output.read_bytes() == source.read_bytes()
    told = [text.partition(",")[0] for text in summary.warnings[-3:]]
    assert told == ["outside-bed", "above-ceiling", "long-relief"]
    assert summary.warnings[-3].endswith("(allowed)")


def test_what_may_be_allowed_is_advised(pot: Pot, tmp_path: Path) -> None:
    """The refusal says how to go on in spite of what hurts nothing but the piece."""
    path = tmp_path / "pot.gcode"
    path.write_text(pot().replace("Z4", "Z12"))
    with pytest.raises(PlanError, match="say --allow wall-in-air"):
        run_file(path, tmp_path / "out.gcode", ML, ())


@pytest.mark.parametrize("chunk_bytes", [32, 57, 128, 1000])
def test_blocks_leave_no_trace(pot: Pot, tmp_path: Path, chunk_bytes: int) -> None:
    """However the file is cut into blocks, the findings are the same."""
    start = ["G90", "M83", "G1 X-5 E1 F600", "M109 S200", "G28"]
    path = tmp_path / "pot.gcode"
    path.write_text(pot(start=start, end=[*WRONG, "G3 X100 Y100 I100 J0", "G1 Y-4", "G1 Z-3"]))

    def found(source: Source) -> tuple[Finding, ...]:
        preflight = Preflight(ML)
        survey = survey_source(source, ML, None, (preflight.observe,))
        return preflight.findings(Plan(survey, ML))

    whole = found(Source(path))
    assert {finding.name for finding in whole} == {
        *("outside-bed", "above-ceiling", "below-zero", "clay-before-homing"),
        *("heating", "long-relief", "odd"),
    }
    assert found(Source(path, chunk_bytes=chunk_bytes)) == whole


def test_a_plan_that_cannot_be_made_is_a_finding(pot: Pot, tmp_path: Path) -> None:
    """Steps that can't be carried out stand beside what is wrong with the file itself."""
    path = tmp_path / "pot.gcode"
    path.write_text(pot(start=["G28", "G90", "M83", "M104 S200"], end=WRONG))
    swap = build_manager().load(["swap"])["swap"]
    step = swap(swap.Settings.model_validate({"at_height_mm": 500, "colour": "blue"}))
    found = check_file(path, ML, [step])
    assert [f.name for f in found] == ["plan", "outside-bed", "above-ceiling", "odd", "long-relief"]
    assert found[0].text.startswith("swap: ")


def test_names() -> None:
    """Every name can be allowed, but for a plan that can't be made, and what stops nothing anyway."""
    stops_nothing = {"odd", "e-mode", "step", "own-pause", "command", "missing-trial", "colours"}
    assert set(NAMES) - set(ALLOWABLE) == {"plan", *stops_nothing}


def test_a_wrong_metering_is_found_before_the_print(tmp_path: Path) -> None:
    """Twice the diameter is four times the clay; the path says what it must be, and the check tells."""
    write_piece(tmp_path / "piece.gcode", *PIECES["tall-bottle"])
    wrong = Config.model_validate({"clay": {"metering": {"unit": "filament", "diameter_mm": 3.5}}})
    texts = [f.text for f in check_file(tmp_path / "piece.gcode", wrong, ()) if f.name == "odd"]
    assert any("metering" in text for text in texts)
    right = Config.model_validate({"cartridge": {"volume_ml": 2000}})
    assert not [f for f in check_file(tmp_path / "piece.gcode", right, ()) if f.name == "odd"]


@pytest.mark.parametrize(("ml_per_unit", "first"), [(1.0, "swap: "), (0.5, "by E the walls take ")])
def test_the_likelier_cause_of_too_little_clay_comes_first(
    tmp_path: Path, ml_per_unit: float, first: str
) -> None:
    """A swap that comes too early is put off where the metering is right; where it is wrong, that is told."""
    lines = ["G21", "G90", "M83", "G28", "G0 X140 Y100 Z2 F1500"]
    for level in range(1, 11):
        # a bead 6 mm wide and 2 mm high, round at its sides: 4 x 2 + pi mm2
        push = math.pi * 40 * (8 + math.pi) / 1000
        lines += [f"G0 Z{2 * level}", f"G3 X60 I-40 E{push:.4f}", f"G3 X140 I40 E{push:.4f}"]
    (tmp_path / "pot.gcode").write_text("\n".join(lines) + "\n")
    metering = {"unit": "ml", "ml_per_unit": ml_per_unit}
    config = Config.model_validate(
        {"clay": {"metering": metering, "bead_width_mm": 6}, "cartridge": {"line_ml": 20}}
    )
    swap = build_manager().load(["swap"])["swap"]
    step = swap(swap.Settings.model_validate({"at_height_mm": 4, "colour": "blue"}))
    with pytest.raises(PlanError) as raised:
        run_file(tmp_path / "pot.gcode", tmp_path / "out.gcode", config, [step])
    said = str(raised.value).splitlines()
    assert said[0].startswith(first)
    assert said[-1].startswith("swap: blue: only ")
    assert len(said) == (1 if ml_per_unit == 1 else 3)


def test_a_doubtful_metering_is_no_cause_of_a_piece_off_the_bed(pot: Pot, tmp_path: Path) -> None:
    """That would be so with any amount of clay."""
    path = tmp_path / "pot.gcode"
    path.write_text(pot(start=["G28", "G90", "M83"], end=WRONG))
    half = Config.model_validate({"clay": {"metering": {"unit": "ml", "ml_per_unit": 0.1}}})
    with pytest.raises(PlanError) as raised:
        run_file(path, tmp_path / "out.gcode", half, [])
    assert "by E the walls" not in str(raised.value)
