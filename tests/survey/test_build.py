"""The survey as a whole: totals, times, marks, clock, and the file's own layer comments."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from gpost.config.model import Clay, Config, CubicMillimetres, Layers, Machine
from gpost.errors import SourceError
from gpost.read.source import Source
from gpost.spot import Spot
from gpost.survey.build import survey_source
from gpost.survey.model import Survey
from tests.reference.outputs import HEADER

SurveyOf = Callable[..., Survey]
RINGS = "".join(
    f"; ring {i}\nG0 X0 Y0 Z{2 * i}\nG1 X50 E600\nG1 Y50 E600\nG1 X0 E600\nG1 Y0 E600\n" for i in range(1, 5)
)
POT = "G21\nG90\nM83\nG0 F1800\nG1 E1000\n" + RINGS + "G0 Z40\nM84\n"


def config_of(acceleration: float = 500.0, **layers: str) -> Config:
    """E in mm^3, and an acceleration."""
    return Config(
        machine=Machine(acceleration_mm_s2=acceleration),
        clay=Clay(metering=CubicMillimetres(unit="mm3"), bead_width_mm=6.0),
        layers=Layers(**layers),
    )


def test_totals(survey_of: SurveyOf) -> None:
    """Lines, clay, paths and bounds of the whole file."""
    survey = survey_of(POT)
    assert survey.lines == POT.count("\n")
    assert survey.size_bytes == len(POT)
    assert survey.clay_ml == pytest.approx(1 + 4 * 2.4)
    assert survey.lead_in_ml == pytest.approx(1.0)
    assert survey.laid_path_mm == pytest.approx(800)
    # up to the first ring, from ring to ring, and away
    assert survey.travel_path_mm == pytest.approx(2 + 3 * 2 + 32)
    assert survey.bounds_mm == ((0, 50), (0, 50), (2, 8))
    assert survey.height_mm == 8
    assert survey.layers["laid_ml"] == pytest.approx([2.4] * 4)
    assert survey.end_state.position_mm == (0, 0, 40)
    assert survey.newline == b"\n"
    assert not survey.numbered
    assert survey.name == "pot.gcode"


def test_layers_add_up(survey_of: SurveyOf) -> None:
    """Lead-in and layers are all of the file's clay and time."""
    survey = survey_of(POT)
    assert survey.lead_in_ml + survey.layers["clay_ml"].sum() == pytest.approx(survey.clay_ml)
    assert survey.lead_in_s + survey.layers["time_s"].sum() == pytest.approx(survey.time_s)
    assert (survey.layers["laying_s"] >= survey.layers["cruise_s"] - 1e-9).all()


@pytest.mark.parametrize(
    ("length_mm", "speed_mm_s", "acceleration", "time_s"),
    [
        (100, 50, 500, 2.1),
        (10, 50, 500, 0.3),
        (2.5, 50, 1000, 0.1),
        (1, 50, 1000, 0.0632455532),
        (200, 30, 300, 6.7666666667),
    ],
)
def test_one_move_from_rest_to_rest(
    survey_of: SurveyOf, length_mm: float, speed_mm_s: float, acceleration: float, time_s: float
) -> None:
    """T = L/v + v/a, or 2 sqrt(L/a) where the speed is not reached (elementary; computed)."""
    program = f"G1 X{length_mm} E5 F{speed_mm_s * 60}\n"
    survey = survey_of(program, config=config_of(acceleration))
    assert survey.time_s == pytest.approx(time_s, abs=1e-9)


def test_an_inch_at_an_inch_a_second(survey_of: SurveyOf) -> None:
    """`G20 G1 X1 F60` takes 1 s but for the acceleration (NIST RS274/NGC report, 3.5.7 and 3.5.19)."""
    survey = survey_of("G20\nG1 X1 E1 F60\n", config=config_of(1e9))
    assert survey.time_s == pytest.approx(1.0, rel=1e-6)
    assert survey.layers["cruise_s"][0] == pytest.approx(1.0)


def test_the_published_helix_takes_so_long(survey_of: SurveyOf) -> None:
    """`G17 G2 x10 y16 i3 j4 z9` from (7, 7, 0) at F600: 1.5395178926 s (computed from the published case)."""
    survey = survey_of("G0 X7 Y7\nG17 G2 x10 y16 i3 j4 z9 E5 F600\n", config=config_of(1e9))
    assert survey.layers["cruise_s"][0] == pytest.approx(1.5395178926, abs=1e-9)


@pytest.mark.parametrize("chunk_bytes", [1, 1 << 18])
def test_dwells_count(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """A dwell adds its time to the layer it stands in, wherever it stands in its block."""
    plain = survey_of(POT, chunk_bytes=chunk_bytes)
    place = POT.index("; ring 3")
    waiting = POT[:place] + "G4 S30\nG4 P500\n" + POT[place:] + "G4 S7\n"
    survey = survey_of(waiting, chunk_bytes=chunk_bytes)
    # the machine stops for it, which takes a little time too
    assert survey.time_s == pytest.approx(plain.time_s + 37.5, abs=0.1)
    assert survey.layers["time_s"] - plain.layers["time_s"] == pytest.approx([0, 0, 30.5, 7], abs=0.1)


def test_the_clock(survey_of: SurveyOf) -> None:
    """The clock is exact where a layer begins, rises line by line, and ends at the file's end."""
    survey = survey_of(POT)
    ends = survey.lead_in_s + np.append(0, np.cumsum(survey.layers["time_s"]))
    starts = [survey.clock_before(int(line)) for line in survey.layers["first_line"]]
    assert starts == pytest.approx(ends[:-1])
    assert survey.clock_before(0) == 0
    assert survey.clock_before(survey.lines) == pytest.approx(survey.time_s)
    clock = [survey.clock_before(line) for line in range(survey.lines + 1)]
    assert clock == sorted(clock)


@pytest.mark.parametrize("chunk_bytes", [1, 64, 1 << 18])
def test_marks_lie_side_by_side(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """Marks tell where each block begins, and the state and clay there."""
    survey = survey_of(POT, chunk_bytes=chunk_bytes)
    assert sum(mark.size for mark in survey.marks) == len(POT)
    assert sum(mark.lines for mark in survey.marks) == survey.lines
    for mark in survey.marks:
        before = POT[: mark.offset]
        assert mark.first_line == before.count("\n")
        assert mark.clay_ml == pytest.approx(survey.clay_before(Spot(mark.first_line)))
    assert survey.marks[0].clay_ml == 0


def test_commands_of_the_whole_file(survey_of: SurveyOf) -> None:
    """Commands of all blocks are gathered in order."""
    survey = survey_of(POT, chunk_bytes=30)
    assert survey.commands["code_x10"].tolist() == [210, 900, 830, 840]
    assert survey.commands["line"].tolist() == [0, 1, 2, survey.lines - 1]


@pytest.mark.parametrize("chunk_bytes", [1, 50, 1 << 18])
def test_the_file_s_own_layer_comments(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """Where the config names them, layers begin with the first clay after each matching line."""
    program = POT.replace("; ring 3\n", "")
    survey = survey_of(program, config=config_of(comment_pattern=r"^; ring \d"), chunk_bytes=chunk_bytes)
    assert survey.layers["height_mm"].tolist() == [2, 6, 8]
    assert survey.layers["laid_ml"] == pytest.approx([2.4, 4.8, 2.4])


def test_clay_before_the_first_own_comment_is_lead_in(survey_of: SurveyOf) -> None:
    """What is laid before the first matching line belongs to no layer."""
    program = POT.replace("; ring 1\n", "")
    survey = survey_of(program, config=config_of(comment_pattern="^; ring"))
    assert survey.layers["height_mm"].tolist() == [4, 6, 8]
    assert survey.lead_in_ml == pytest.approx(1 + 2.4)


@pytest.mark.parametrize("before", ["", "\ufeff", "%\n", "\ufeff%\r\n"])
@pytest.mark.parametrize("chunk_bytes", [1, 1 << 18])
def test_its_own_output_is_refused(survey_of: SurveyOf, before: str, chunk_bytes: int) -> None:
    """A file that gpost wrote is not taken for a sliced file."""
    with pytest.raises(SourceError, match="already written by gpost"):
        survey_of(f"{before}{HEADER.decode()} from pot.gcode\n{POT}", chunk_bytes=chunk_bytes)


def test_progress_is_told(tmp_path_factory: pytest.TempPathFactory) -> None:
    """After each block the bytes done and the file's size are told; the last time they are equal."""
    path = tmp_path_factory.mktemp("progress") / "pot.gcode"
    path.write_text(POT)
    told: list[tuple[int, int]] = []
    survey_source(Source(path, chunk_bytes=100), config_of(), lambda done, size: told.append((done, size)))
    assert told == sorted(told)
    assert len(told) > 3
    assert told[-1] == (len(POT), len(POT))


def test_observers_see_every_block(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Whoever goes along sees each block's moves and their clay, in order."""
    path = tmp_path_factory.mktemp("observers") / "pot.gcode"
    path.write_text(POT)
    seen: list[float] = []
    survey = survey_source(
        Source(path, chunk_bytes=100),
        config_of(),
        observers=[lambda _follower, clay: seen.append(clay.sum())],
    )
    assert sum(seen) == pytest.approx(survey.clay_ml)
    assert len(seen) == len(survey.marks)


@pytest.mark.parametrize(
    ("program", "line"),
    [("G1 X5 E5 F600\nG1 X#1\n", 2), ("G1 X5 E5 F600\nN1 G1 X6*99\n", 2), ("G1 X5 E5 F9\n\nM98 P5\n", 3)],
)
@pytest.mark.parametrize("chunk_bytes", [1, 1 << 18])
def test_what_can_not_be_known_is_refused(
    survey_of: SurveyOf, program: str, line: int, chunk_bytes: int
) -> None:
    """Expressions, wrong checksums, subprograms: the file is refused with the line."""
    with pytest.raises(SourceError, match=f"line {line}: "):
        survey_of(program, chunk_bytes=chunk_bytes)


@pytest.mark.parametrize("chunk_bytes", [30, 1 << 18])
def test_bounds_hold_arcs_in_full(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """A ring of two half circles is as deep as it is wide, though both ends of each lie on one line."""
    ring = "G2 X180 Y140 I40 J0 E900\nG2 X100 Y140 I-40 J0 E900\n"
    program = "G28\nM83\nG1 X100 Y140 Z2 F900\n" + "".join(f"G1 Z{z}\n{ring}" for z in (2, 4, 6))
    survey = survey_of(program, chunk_bytes=chunk_bytes)
    assert survey.bounds_mm == ((100, 180), (100, 180), (2, 6))
    assert survey.layers["y_min_mm"].tolist() == [100, 100, 100]


@pytest.mark.parametrize("chunk_bytes", [1, 30, 1 << 18])
@pytest.mark.parametrize(
    ("between", "stands"),
    [
        ("", False),
        ("M400\n", True),
        ("M105\n", False),
        ("G4 P0\n", True),
        ("M106 S9\n", False),
        ("M109 S0\nG0 X50\n", True),
    ],
)
def test_what_stops_the_machine_between_two_moves(
    survey_of: SurveyOf, between: str, stands: bool, chunk_bytes: int
) -> None:
    """From rest to rest v/a + L/v (exact kinematics): once over 100 mm, or twice over 50, at 50 mm/s and 500 mm/s^2."""
    program = f"G28\nM83\nG1 X50 E600 F3000\n{between}G1 X100 E600\n"
    survey = survey_of(program, config=config_of(), chunk_bytes=chunk_bytes)
    assert survey.time_s == pytest.approx(2 * (0.1 + 1) if stands else 0.1 + 2)
