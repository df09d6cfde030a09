"""The step that puts the piece on a mark."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from gpost_plugins.place import Place, PlaceSettings, gpost_steps
from gpost_plugins.purge import Purge
from pydantic import ValidationError

from gpost.api import LayClay, Note, PlanError, Shift
from gpost.pipeline import run_file
from gpost.steps.recipe import make_recipe
from gpost.survey.marks import HERE_IT_ENDS
from gpost.testing import make_survey, run_step, with_layers
from tests.config_files import load_files
from tests.reference.interpreter import run

RING = "".join(f"G1 X{x} Y{y} E5\n" for x, y in ((120, 80), (120, 120), (80, 120), (80, 80)))
PIECE = "G21\nG90\nG28\nM83\nG1 Z2 F1200\nG0 X80 Y80\n" + RING + "G1 Z4\n" + RING
SURVEY = make_survey(centre_mm=(140, 150), radius_mm=40)
BED = {"machine": {"bed": {"x_max_mm": 280, "y_max_mm": 280}, "nozzle_mm": 4}}
ROUND = {"machine": {"bed": {"x_max_mm": 280, "y_max_mm": 280, "round": True}, "nozzle_mm": 4}}


def test_the_module_offers_the_step() -> None:
    """The hook names the class, and nothing else."""
    assert list(gpost_steps()) == [Place]


@pytest.mark.parametrize(
    ("settings", "by_mm"),
    [
        ({"x_mm": 100, "y_mm": 120.25}, (-40.0, -29.75, 0.0)),
        ({"x_mm": 100}, (-40.0, 0.0, 0.0)),
        ({"y_mm": 151}, (0.0, 1.0, 0.0)),
    ],
)
def test_the_middle_comes_onto_the_point(settings: dict[str, Any], by_mm: tuple[float, ...]) -> None:
    """All up to the last clay is moved along the bed; a coordinate that is left out stays."""
    plan = run_step(Place, settings, SURVEY, BED)
    (shift,) = plan.of(Shift)
    assert (shift.first_line, shift.end_line, shift.by_mm) == (0, SURVEY.laid_until, by_mm)
    (x_mm, y_mm, z_mm), own = plan.bounds_mm, SURVEY.bounds_mm
    assert x_mm == pytest.approx([side + by_mm[0] for side in own[0]])
    assert y_mm == pytest.approx([side + by_mm[1] for side in own[1]])
    assert z_mm == own[2]


def test_it_is_the_foot_that_comes_onto_the_point() -> None:
    """A wall that leans over to one side does not count: the first layer's middle does."""
    upright = make_survey(centre_mm=(140, 150), layers=3)
    survey = with_layers(upright, x_max_mm=upright.layers["x_max_mm"] + [0, 60, 60])
    (shift,) = run_step(Place, {"x_mm": 100, "y_mm": 150}, survey, BED).of(Shift)
    assert shift.by_mm == (-40.0, 0.0, 0.0)


def test_a_piece_that_is_there_already_is_left_alone() -> None:
    """Less than half a thousandth of a millimetre is no move."""
    assert run_step(Place, {"x_mm": 140.0003, "y_mm": 150}, SURVEY, BED).of(Shift) == []


def ending(tmp_path: Path, end: str, steps: str) -> list[str]:
    """The last lines of a piece with this end, once these steps have been carried out, but for gpost's own."""
    (tmp_path / "in.gcode").write_text(PIECE + end)
    recipe = make_recipe(load_files({"recipe.yaml": f"steps: {steps}\n"}))
    run_file(tmp_path / "in.gcode", tmp_path / "out.gcode", recipe.config, recipe.steps)
    *lines, last = (tmp_path / "out.gcode").read_text().splitlines()
    assert last == HERE_IT_ENDS
    return lines[-end.count("\n") :]


def test_a_wipe_after_the_last_clay_goes_with_the_piece(tmp_path: Path) -> None:
    """Back in its old place it would drag the nozzle across the rim; once risen the source's own places count."""
    end = "G1 E-2\nG1 X90 Y100\nG0 Z30\nG0 X10 Y270\n"
    expected = ["G1 E-2", "G1 X190 Y200", "G0 Z30", "G0 X10 Y270"]
    assert ending(tmp_path, end, "[{place: {x_mm: 200, y_mm: 200}}]") == expected


def test_a_relative_end_is_left_alone_with_a_slab_too(tmp_path: Path) -> None:
    """The slab raises to the end of the file, and asks nothing of X and Y there."""
    end = "G91\nG0 Z30\nG1 X-2 Y2\n"
    steps = "[{place: {x_mm: 160, y_mm: 160}}, {slab: {thickness_mm: 3, diameter_mm: 150}}]"
    assert ending(tmp_path, end, steps) == ["G91", "G0 Z30", "G1 X-2 Y2"]


def test_only_say_moves_nothing() -> None:
    """The summary says where the middle is."""
    plan = run_step(Place, {"only_say": True}, SURVEY, BED)
    assert plan.of(Shift) == []
    assert plan.of(Note)[0].text == "the middle of the piece is at x 140.0, y 150.0 mm"


def test_the_middle_of_a_bed_with_its_zero_there_has_no_minus() -> None:
    """A hair to the left of the zero is 0.0, not -0.0."""
    survey = make_survey(centre_mm=(-0.01, -0.04), radius_mm=40)
    (note,) = run_step(Place, {"only_say": True}, survey, BED).of(Note)
    assert note.text == "the middle of the piece is at x 0.0, y 0.0 mm"


@pytest.mark.parametrize(("x_mm", "fits"), [(43.0, True), (42.9, False), (237.0, True), (237.1, False)])
def test_the_whole_piece_stays_on_the_bed(x_mm: float, fits: bool) -> None:
    """Radius 40 and half a wall of 6 mm: the middle keeps 43 mm from the edge."""
    if fits:
        assert run_step(Place, {"x_mm": x_mm}, SURVEY, BED).of(Shift)
        return
    with pytest.raises(PlanError, match=r"would reach x (-0.1|280.1), y 150.0 mm, off the bed"):
        run_step(Place, {"x_mm": x_mm}, SURVEY, BED)


@pytest.mark.parametrize(("x_mm", "fits"), [(237.0, True), (237.1, False)])
def test_a_round_piece_may_stand_at_the_edge_of_a_round_bed(x_mm: float, fits: bool) -> None:
    """There the middles of the box's sides count, not its corners."""
    settings = {"x_mm": x_mm, "y_mm": 140}
    if fits:
        assert run_step(Place, settings, SURVEY, ROUND).of(Shift)
        return
    with pytest.raises(PlanError, match="off the bed"):
        run_step(Place, settings, SURVEY, ROUND)


def test_later_steps_see_the_piece_where_it_will_stand() -> None:
    """A purge is laid beside the moved piece."""
    moved = [Place(PlaceSettings(x_mm=60, y_mm=60))]
    survey = make_survey(radius_mm=30)
    (lay,) = run_step(Purge, {"volume_ml": 5, "side": "left"}, survey, BED, moved).of(LayClay)
    assert max(x for stroke in lay.strokes for x, _ in stroke.points_mm) < 60 - 30


def test_nothing_to_do_is_refused() -> None:
    """Without a point there must be `only_say`."""
    with pytest.raises(ValidationError, match="say where"):
        run_step(Place, {}, SURVEY)


def test_a_file_without_layers_is_refused() -> None:
    """There is no piece to move."""
    with pytest.raises(PlanError, match="no clay is laid"):
        run_step(Place, {"x_mm": 100}, make_survey(layers=0))


BUCKET = "G21\nG90\nM83\nG28\nG0 X5 Y6 Z30 F3000\nG1 E40 F300\nG1 E-2\n"
LOWER = "G0 X80 Y80\nG0 Z2\nG1 E2\n" + RING
UPPER = "G0 X80 Y80\nG0 Z4\n" + RING
PARKED = "G1 X90 Y80\nG0 Z20\nG0 X10 Y11\nM0\n"


Places = list[tuple[float, ...]]


def stood(program: str) -> tuple[Places, Places]:
    """(where the nozzle is at each push in one place of 10 mm or more and at each M0, where each bead ends).

    By the reference interpreter.
    """
    still, laid, waits = [], [], 0
    for event in run(program.encode()):
        x, y, z = (round(at, 3) for at in event.end_mm)
        if event.state.paused > waits or (event.path_mm == 0 and event.e_delta_mm >= 10):
            still.append((x, y, z))
        elif event.lays_clay:
            laid.append((x, y, z))
        waits = event.state.paused
    return still, laid


def placed(tmp_path: Path, program: str, steps: str = "[{place: {x_mm: 150, y_mm: 140}}]") -> tuple[str, Any]:
    """The output with the piece on this point, and the summary."""
    (tmp_path / "in.gcode").write_text(program)
    recipe = make_recipe(load_files({"recipe.yaml": f"steps: {steps}\n"}))
    summary = run_file(tmp_path / "in.gcode", tmp_path / "out.gcode", recipe.config, recipe.steps)
    return (tmp_path / "out.gcode").read_text(), summary


@pytest.mark.parametrize("back", ["G0 X80 Y80\n", "G0 X80\nG0 Y80\n", "G0 Z30\nG0 Y80 X80 Z25\n"])
def test_a_bucket_and_a_park_stay_where_they_are(tmp_path: Path, back: str) -> None:
    """They are the machine's, whatever is printed: clay that is pushed out beside the bucket is in the way."""
    program = BUCKET + LOWER + PARKED + back + UPPER + PARKED.replace("X10", "X12") + "G0 X80 Y80\n" + UPPER
    output, summary = placed(tmp_path, program)
    (own, own_laid), (still, laid) = stood(program), stood(output)
    assert still == own == [(5, 6, 30), (10, 11, 20), (12, 11, 20)]
    assert laid == [(x + 50, y + 40, z) for x, y, z in own_laid]
    (note,) = [note for note in summary.notes if "left where the file has it" in note]
    assert "its own push on line 6 (x 5.0, y 6.0 mm)" in note
    assert "its own wait on line " in note
    assert not [warning for warning in summary.warnings if "place" in warning]


def test_the_wipe_before_a_park_goes_with_the_piece(tmp_path: Path) -> None:
    """It is the way there that stays alone: over the rim the nozzle goes where the piece is."""
    output, _ = placed(tmp_path, BUCKET + LOWER + PARKED + UPPER)
    lines = output.splitlines()
    at = lines.index("G0 X10 Y11")
    assert lines[at - 2 : at] == ["G1 X140 Y120", "G0 Z20"]


def test_moved_to_where_the_bucket_would_leave_the_bed_nothing_does(tmp_path: Path) -> None:
    """Moved left with the piece the bucket was off the bed, and the piece was blamed."""
    output, _ = placed(tmp_path, BUCKET + LOWER + UPPER, "[{place: {x_mm: 60, y_mm: 90}}]")
    assert stood(output)[0] == [(5, 6, 30)]


@pytest.mark.parametrize(
    ("park", "line"),
    [
        ("G0 X10 Y11\nM0\nG0 X80 Y80\n", 16),  # without a lift the nozzle draws through fresh clay
        ("G0 Z20\nG0 X10 Y11\nM0\nG91\nG0 X70 Y69\nG90\nM83\n", 17),
        ("G0 Z20\nG0 X10 Y11\nM0\nG92 X10 Y11\nG0 X80 Y80\n", 17),
    ],
)
def test_a_park_that_the_file_goes_on_from_moves_and_is_warned_of(
    tmp_path: Path, park: str, line: int
) -> None:
    """What comes after it hangs on it, so it can't be left alone."""
    program = BUCKET + LOWER + park + "G0 Z4\n" + RING
    output, summary = placed(tmp_path, program)
    assert stood(output)[0][1][:2] == (60, 51)
    (warning,) = [warning for warning in summary.warnings if "moved with the piece" in warning]
    assert f"its own wait on line {line} (x 10.0, y 11.0 mm, then at x 60.0, y 51.0 mm)" in warning


def test_a_line_that_begins_at_its_prime_goes_with_the_piece(tmp_path: Path) -> None:
    """What is laid in beads belongs to the piece, and the push at its start to the bead."""
    program = BUCKET.replace("G1 E-2\n", "G1 Z2\nG1 X60 E5\n") + LOWER + UPPER
    output, summary = placed(tmp_path, program)
    assert stood(output)[0] == [(55, 46, 30)]
    assert not [note for note in summary.notes if "left where" in note]


def test_a_piece_on_the_files_own_bucket_is_warned_of(tmp_path: Path) -> None:
    """Its clay would lie under the wall."""
    _, summary = placed(tmp_path, BUCKET + LOWER + UPPER, "[{place: {x_mm: 25, y_mm: 25}}]")
    assert [warning for warning in summary.warnings if "would stand where the file has its own push" in warning]


def test_later_steps_see_one_shift_where_the_file_has_parks(tmp_path: Path) -> None:
    """The stretches between parks are moved by the same amount once, not once for each."""
    _, summary = placed(
        tmp_path,
        BUCKET + LOWER + PARKED + UPPER + PARKED + UPPER,
        "[{place: {x_mm: 150, y_mm: 140}}, {slab: {thickness_mm: 3, diameter_mm: 120}}]",
    )
    assert [note for note in summary.notes if "its middle at x 150.0, y 140.0 mm" in note]
