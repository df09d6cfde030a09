"""Clay before a spot and the spot of an amount of clay: one is the inverse of the other."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from gpost.config.model import Clay, Config, CubicMillimetres, Machine
from gpost.errors import SourceError
from gpost.motion.follow import Follower
from gpost.spot import Spot
from gpost.survey.inside import first_bead
from gpost.survey.layerrows import LAYER_DTYPE
from gpost.survey.lookup import FileLookup
from gpost.survey.model import Survey
from tests.reference.interpreter import Dialect, Event, run
from tests.reference.programs import programs

SurveyOf = Callable[..., Survey]
PROGRAM = "M83\nG1 X10 E100 F600\nG0 X0\nG1 X10 E100\nG1 E-50\nG0 X0\nG1 E50\nG1 X10 E100\nM84\n"
"""0, 0.1, 0.1, 0.2, 0.15, 0.15, 0.2, 0.3 ml after lines 0 to 7."""
LOOSE = Config(machine=Machine(arc_tolerance_mm=0.02), clay=Clay(metering=CubicMillimetres(unit="mm3")))


def total_after(events: list[Event]) -> list[float]:
    """Net clay in ml after each line, by the reference interpreter."""
    total, found = 0.0, []
    for event in events:
        total += event.e_metered_mm / 1000
        found.append(total)
    return found


def surveyed(survey_of: SurveyOf, program: bytes, chunk_bytes: int) -> Survey:
    """The survey; programs that lay no clay don't count."""
    try:
        return survey_of(program, config=LOOSE, chunk_bytes=chunk_bytes)
    except SourceError:
        assume(False)
        raise


def test_clay_before_lines(survey_of: SurveyOf) -> None:
    """Before a line all that the lines above have metered, less what was drawn back."""
    survey = survey_of(PROGRAM)
    before = [survey.clay_before(Spot(line)) for line in range(10)]
    assert before == pytest.approx([0, 0, 0.1, 0.1, 0.2, 0.15, 0.15, 0.2, 0.3, 0.3])


def test_clay_inside_a_move(survey_of: SurveyOf) -> None:
    """Inside a move its part by path length; on a line that doesn't move a fraction means nothing."""
    survey = survey_of(PROGRAM)
    assert survey.clay_before(Spot(1, 0.25)) == pytest.approx(0.025)
    assert survey.clay_before(Spot(4, 0.5)) == pytest.approx(0.175)
    assert survey.clay_before(Spot(2, 0.5)) == pytest.approx(0.1)
    assert survey.clay_before(Spot(8, 0.5)) == pytest.approx(0.3)


@pytest.mark.parametrize("chunk_bytes", [1, 20, 1 << 18])
def test_the_first_place_counts(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """Clay that is drawn back and given again reaches an amount twice: the first time is meant."""
    find_clay = survey_of(PROGRAM, chunk_bytes=chunk_bytes).find_clay
    found = find_clay(0.18)
    assert (found.line, found.fraction) == (3, pytest.approx(0.8))
    assert find_clay(0.25) == Spot(7, pytest.approx(0.5))  # type: ignore[arg-type]


@pytest.mark.parametrize("chunk_bytes", [1, 40, 1 << 18])
@pytest.mark.parametrize(
    ("line", "splits"),
    [
        (2, True),  # G1
        (3, True),  # without a G, after a G1
        (4, False),  # an arc
        (5, False),  # without a G, after an arc
        (6, False),  # a move and more
        (7, False),  # no move at all
        (99, False),  # beyond the file's end
    ],
)
def test_where_an_insertion_stands(survey_of: SurveyOf, line: int, splits: bool, chunk_bytes: int) -> None:
    """Inside a straight move at the spot itself; else before the line. Before a line is where it is."""
    program = "G28\nM83\nG1 X10 Y0 E1 F600\nX20 E1\nG3 X20 Y20 J10 E5\nX20 Y0 J-10 E5\nG1 X1 E1 S1\nM400\n"
    survey = survey_of(program, chunk_bytes=chunk_bytes)
    assert survey.stands_at(Spot(line, 0.5)) == Spot(line, 0.5 if splits else 0.0)
    assert survey.stands_at(Spot(line)) == Spot(line)


def test_the_ends(survey_of: SurveyOf) -> None:
    """No clay is there before the first line; more than there is is reached at the file's end."""
    survey = survey_of(PROGRAM)
    assert survey.find_clay(0.0) == survey.find_clay(-1.0) == Spot(0)
    assert survey.find_clay(0.31) == Spot(9)
    assert survey.clay_before(Spot(0)) == survey.clay_before(Spot(-1)) == 0.0
    assert survey.clay_before(Spot(99)) == survey.clay_ml


def test_a_whole_move_is_not_split(survey_of: SurveyOf) -> None:
    """An amount at the end of a move is reached before the next line."""
    assert survey_of(PROGRAM).find_clay(0.1) == Spot(2)


@given(programs(max_lines=30), st.integers(1, 300))
def test_clay_before_every_line_is_the_reference_s(
    survey_of: SurveyOf, program: bytes, chunk_bytes: int
) -> None:
    """Before each line stands the sum of what the reference interpreter metered on the lines above."""
    survey = surveyed(survey_of, program, chunk_bytes)
    expected = [0.0, *total_after(run(program, Dialect()))]
    found = [survey.clay_before(Spot(line)) for line in range(len(expected))]
    assert found == pytest.approx(expected, rel=1e-9, abs=1e-9)


@given(
    programs(laying_only=True, max_lines=20), st.integers(1, 300), st.integers(0, 19), st.floats(0.01, 0.99)
)
def test_a_spot_is_found_again(
    survey_of: SurveyOf, program: bytes, chunk_bytes: int, line: int, fraction: float
) -> None:
    """Where every move lays clay `find_clay(clay_before(spot))` is the spot."""
    survey = surveyed(survey_of, program, chunk_bytes)
    moves = [event.line for event in run(program, Dialect()) if event.kind == "move"]
    spot = Spot(moves[line % len(moves)], fraction)
    found = survey.find_clay(survey.clay_before(spot))
    assert found.line == spot.line
    assert found.fraction == pytest.approx(fraction, abs=1e-6)


@given(programs(max_lines=30), st.integers(1, 300), st.lists(st.floats(0, 1), min_size=2, max_size=8))
def test_more_clay_lies_further_on(
    survey_of: SurveyOf, program: bytes, chunk_bytes: int, shares: list[float]
) -> None:
    """Spots of rising amounts rise, each has its amount before it, and none came earlier."""
    survey = surveyed(survey_of, program, chunk_bytes)
    after = total_after(run(program, Dialect()))
    peak = max(after)
    assume(peak > 0.001)
    amounts = [peak * share for share in sorted(shares)]
    spots = [survey.find_clay(amount) for amount in amounts]
    assert all(first <= second for first, second in pairwise(spots))
    for amount, spot in zip(amounts, spots, strict=True):
        if amount > 0:
            assert survey.clay_before(spot) == pytest.approx(amount, rel=1e-6, abs=1e-9)
            assert all(clay < amount + 1e-9 for clay in after[: spot.line])


@pytest.mark.parametrize("chunk_bytes", [1, 20, 1 << 18])
@pytest.mark.parametrize(
    ("start", "end", "most_ml"),
    [
        (Spot(0), Spot(9), 0.3),
        (Spot(0), Spot(5), 0.2),  # though it ends at 0.15
        (Spot(5), Spot(6), 0.15),
        (Spot(3, 0.5), Spot(5), 0.2),
        (Spot(4, 0.5), Spot(6), 0.175),
        (Spot(5), Spot(7, 0.5), 0.25),
        (Spot(7, 0.2), Spot(7, 0.5), 0.25),
        (Spot(5), Spot(5), 0.15),
        (Spot(9), Spot(99), 0.3),
    ],
)
def test_the_highest_between_two_spots(
    survey_of: SurveyOf, start: Spot, end: Spot, most_ml: float, chunk_bytes: int
) -> None:
    """What was reached on the way counts, though it is drawn back by the end; both spots count too."""
    assert survey_of(PROGRAM, chunk_bytes=chunk_bytes).most_clay(start, end) == pytest.approx(most_ml)


@given(programs(max_lines=30), st.integers(1, 300), st.integers(0, 40), st.integers(0, 40))
def test_the_highest_is_the_reference_s(
    survey_of: SurveyOf, program: bytes, chunk_bytes: int, first: int, second: int
) -> None:
    """It is the largest of the sums that the reference interpreter has before the lines from one to the other."""
    survey = surveyed(survey_of, program, chunk_bytes)
    before = [0.0, *total_after(run(program, Dialect()))]
    start, end = sorted((min(first, len(before) - 1), min(second, len(before) - 1)))
    found = survey.most_clay(Spot(start), Spot(end))
    assert found == pytest.approx(max(before[start : end + 1]), rel=1e-9, abs=1e-9)


@given(
    programs(max_lines=30), st.integers(1, 300), st.integers(0, 40), st.integers(0, 40), st.floats(-0.1, 1.1)
)
def test_an_amount_is_looked_for_between_two_spots(
    survey_of: SurveyOf, program: bytes, chunk_bytes: int, first: int, second: int, share: float
) -> None:
    """From one line on, up to another: the first line after which the reference interpreter has that much.

    The later of the two where it has not.
    """
    survey = surveyed(survey_of, program, chunk_bytes)
    before = [0.0, *total_after(run(program, Dialect()))]
    since, until = sorted((min(first, len(before) - 1), min(second, len(before) - 1)))
    amount = share * max(before)
    assume(all(abs(clay - amount) > 1e-7 for clay in before))
    reached = next((line for line in range(since, until + 1) if before[line] >= amount), None)
    found = survey.find_clay(amount, Spot(since), Spot(until))
    if reached is None or reached == since:
        assert found == Spot(until if reached is None else since)
    else:
        assert Spot(reached - 1) < found <= Spot(reached)
        assert survey.clay_before(found) == pytest.approx(amount, rel=1e-6, abs=1e-9)


def test_a_file_that_changed_is_noticed(survey_of: SurveyOf) -> None:
    """A look-up reads the file again: if it is shorter now the answer would be worth nothing."""
    survey = survey_of(PROGRAM, chunk_bytes=30)
    survey_of("M83\nG1 X1 E1 F9\n")
    with pytest.raises(SourceError, match="changed"):
        survey.clay_before(Spot(7, 0.5))


RING = "G28\nM83\nG1 X100 Y140 Z2 F900\nG2 X180 Y140 I40 J0 E10\nG2 X100 Y140 I-40 J0 E10\nG0 X0\nG1 Y10 E5\n"


@pytest.mark.parametrize("chunk_bytes", [20, 1 << 18])
def test_points_that_are_laid(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """Both ends of straight moves, and arcs all along, on the lines asked for; travel is not laid."""
    survey = survey_of(RING, chunk_bytes=chunk_bytes)
    points = survey.laid_points(3, 5)
    assert np.hypot(*(points.T - (140, 140)).T) == pytest.approx(np.full(points.shape[1], 40.0))
    angle = np.sort(np.degrees(np.arctan2(points[1] - 140, points[0] - 140)))
    assert np.diff(angle).max() <= 2.5 + 1e-6
    assert sorted(survey.laid_points(5, 99).T.tolist()) == [[0, 10], [0, 140]]
    assert survey.laid_points(0, 3).shape == (2, 0)


@pytest.mark.parametrize("chunk_bytes", [20, 1 << 18])
def test_path_that_is_laid(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """Line by line, arcs by their length."""
    survey = survey_of(RING, chunk_bytes=chunk_bytes)
    line, path_mm = survey.laid_path(0, 99)
    assert line.tolist() == [3, 4, 6]
    assert path_mm == pytest.approx([40 * np.pi, 40 * np.pi, 130])
    assert survey.laid_path(4, 6)[0].tolist() == [4]


@pytest.mark.parametrize("chunk_bytes", [20, 1 << 18])
def test_a_block_is_followed_again(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """Each mark's block gives the moves that the survey saw."""
    survey = survey_of(RING, chunk_bytes=chunk_bytes)
    found = [survey.follow(index) for index in range(len(survey.marks))]
    lines = [
        line + follower.block.chunk.first_line for follower in found for line in follower.moves.line.tolist()
    ]
    assert lines == [2, 3, 4, 5, 6]


@pytest.mark.parametrize(
    ("tail", "line"),
    [
        ("G1 X5 Y5\nG0 Z20\nG0 X0\n", 8),
        ("G1 X5 Z9\nG0 Z9.05\nG0 Z10 X3\nG0 X0\n", 9),
        ("G1 X5 Y5\nG28\nG0 Z20\n", 7),
        ("G1 X5 Y5\nM84\n", 8),
    ],
)
@pytest.mark.parametrize("chunk_bytes", [1, 1 << 18])
def test_where_the_nozzle_has_left_the_piece(
    survey_of: SurveyOf, tail: str, line: int, chunk_bytes: int
) -> None:
    """After the first move that ends clear above it, at homing, or at the end of the file."""
    program = "M83\nG28\nG1 Z9\nG1 X10 E100 F600\nG1 Y10 E100\nG1 X0 E100\n" + tail
    survey = survey_of(program, chunk_bytes=chunk_bytes)
    assert survey.laid_until == 6
    assert survey.lifted_from(6, 9.0) == line


@pytest.mark.parametrize("chunk_bytes", [1, 20, 1 << 18])
def test_an_amount_that_is_just_reached_is_reached(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """The highest sum of the file is reached where it is; from there on, the spot that is asked from is the answer."""
    survey = survey_of(PROGRAM, chunk_bytes=chunk_bytes)
    assert survey.find_clay(survey.clay_ml) == Spot(8)
    assert survey.find_clay(survey.clay_ml, Spot(8)) == Spot(8)
    drawn_back = survey_of("M83\nG1 X10 E100 F600\nG0 X0\nG1 E-50\nM84\n", chunk_bytes=chunk_bytes)
    assert drawn_back.find_clay(drawn_back.most_clay(Spot(0), Spot(5))) == Spot(2)
    assert drawn_back.find_clay(drawn_back.clay_before(Spot(3)), Spot(3)) == Spot(3)


@pytest.mark.parametrize("chunk_bytes", [1, 40, 1 << 18])
def test_where_a_wall_rises_to_a_height(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """Inside the move that passes it, at its start if that is there already, after it if that ends there."""
    rows = [
        "G28",
        "M83",
        "G1 X10 Z2 F600",
        "G1 X20 Z2 E9",
        "G1 X30 Z4 E9",
        "G0 Z9",
        "G0 Z4",
        "G1 X0 Z4 E9",
        "M84",
    ]
    survey = survey_of("\n".join(rows) + "\n", chunk_bytes=chunk_bytes)
    found = [survey.rises_to(0, 9, height_mm) for height_mm in (1.0, 2.0, 2.5, 4.0, 4.1)]
    assert found[:2] == [Spot(3), Spot(3)]
    assert found[2] == Spot(4, pytest.approx(0.25))  # type: ignore[arg-type]
    assert found[3:] == [Spot(5), None]
    assert [survey.rises_to(*lines, 4.0) for lines in ((0, 4), (4, 5), (5, 7), (5, 8))] == [
        None,
        Spot(5),
        None,
        Spot(7),
    ]


@pytest.mark.parametrize("chunk_bytes", [1, 1 << 18])
def test_a_rise_on_an_arc_begins_before_it(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """What is to stand inside an arc stands before it."""
    rows = ["G28", "M83", "G1 X10 Z2 F600", "G1 X20 Z2 E9", "G3 X20 Y20 Z4 J10 E5"]
    assert survey_of("\n".join(rows) + "\n", chunk_bytes=chunk_bytes).rises_to(0, 5, 3.0) == Spot(4)


@pytest.mark.parametrize("chunk_bytes", [1, 40, 1 << 18])
@pytest.mark.parametrize(
    ("line", "height_mm", "lifted"),
    [
        (0, 9.0, 0),
        (1, 9.0, 7),
        (2, 9.0, 7),
        (2, 19.95, 9),
        (2, 19.85, 7),
        (7, 9.0, 7),
        (8, 9.0, 9),
        (2, 8.0, 3),
    ],
)
def test_from_where_on_the_nozzle_has_left_a_height(
    survey_of: SurveyOf, line: int, height_mm: float, lifted: int, chunk_bytes: int
) -> None:
    """Lines 0 homes, 2 is at 9 mm, 6 at 20 mm, 8 homes: the line after the move, or the homing's own."""
    program = "G28\nM83\nG1 Z9 F600\nG1 X10 E100\nG1 Y10 E100\nG1 X0 E100\nG0 Z20\nG0 Z9\nM107\nG28\n"
    survey = survey_of(program, chunk_bytes=chunk_bytes)
    assert survey.lifted_from(line, height_mm) == lifted


@pytest.mark.parametrize("chunk_bytes", [1, 1 << 18])
def test_the_height_at_a_spot(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """That of the clay which is laid there, or next; inside the move in proportion; none after the last."""
    rows = ["G28", "M83", "G1 X10 Z2 F600", "G1 X20 Z4 E9", "G0 Z20", "G0 Z7", "G1 X0 Z9 E9", "G0 X5", "M84"]
    survey = survey_of("\n".join(rows) + "\n", chunk_bytes=chunk_bytes)
    spots = [
        Spot(0),
        Spot(3),
        Spot(3, 0.25),
        Spot(4),
        Spot(4, 0.5),
        Spot(6),
        Spot(6, 0.5),
        Spot(7),
        Spot(9),
        Spot(99),
    ]
    assert [survey.laid_z(spot) for spot in spots] == [2, 2, 2.5, 7, 7, 7, 8, None, None, None]
    assert [survey.laid_at(Spot(3, part)) for part in (0.0, 0.25)] == [(10, 0, 2), (12.5, 0, 2.5)]
    assert survey.laid_at(Spot(4)) == (20, 0, 7)
    assert survey.laid_at(Spot(8)) is None


@pytest.mark.parametrize("chunk_bytes", [1, 30, 1 << 18])
def test_clay_pushed_in_place(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """Line, amount, time at its feed, and whether the line does that alone, its F aside; moves that lay are none."""
    rows = ["G28", "M83", "G1 E100 F600", "G1 X9 E50", "G1 E-50", "G1 E30 S1", "M84"]
    survey = survey_of("\n".join(rows) + "\n", chunk_bytes=chunk_bytes)
    line, clay_ml, time_s, alone = survey.pushes(0, 99)
    assert line.tolist() == [2, 4, 5]
    assert clay_ml.tolist() == pytest.approx([0.1, -0.05, 0.03])
    assert time_s.tolist() == pytest.approx([100 / 10, 50 / 10, 30 / 10])  # 600 mm a minute are 10 a second
    assert alone.tolist() == [True, True, False]
    assert survey.pushes(3, 5).line.tolist() == [4]
    assert len(survey.pushes(3, 4).line) == 0


@pytest.mark.parametrize("chunk_bytes", [1, 1 << 18])
def test_the_first_bead_is_that_of_the_first_layer(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """The line that lays it, though the layer begins with a travel."""
    assert survey_of(RING, chunk_bytes=chunk_bytes).first_bead == 3
    assert first_bead(np.zeros(0, LAYER_DTYPE), 12, survey_of(RING).lookup) == 12


LONG = "M83\n" + "".join(f"G1 X{x % 7} Y{x} E10 F600\n" for x in range(400))


def followed(survey: Survey) -> list[tuple[int, int | None]]:
    """(block, lines of it) of all that is read from now on."""
    lookup, asked = survey.lookup, list[tuple[int, int | None]]()
    assert isinstance(lookup, FileLookup)
    follow = lookup.follow

    def told(index: int, lines: int | None = None) -> Follower:
        asked.append((index, lines))
        return follow(index, lines)

    lookup.follow = told  # type: ignore[assignment]
    return asked


def test_what_was_read_of_the_last_blocks_is_kept(survey_of: SurveyOf) -> None:
    """Questions go to and fro between few places: those of eight blocks read nothing twice; the oldest are dropped."""
    survey = survey_of(LONG, chunk_bytes=600)
    middles = [Spot(mark.first_line + mark.lines // 2) for mark in survey.marks]
    assert len(middles) > 9
    asked = followed(survey)
    for spot in (*middles[:8], *middles[:8]):
        survey.clay_before(spot)
    assert [index for index, _ in asked] == list(range(8))
    survey.clay_before(middles[8])
    survey.clay_before(middles[1])
    assert len(asked) == 9
    survey.clay_before(middles[0])
    assert len(asked) == 10


def test_a_place_and_its_clay_are_read_once(survey_of: SurveyOf) -> None:
    """Where clay lies is asked for right after how much comes before it, of two places in turn."""
    survey = survey_of(LONG, chunk_bytes=600)
    first, second, third = (survey.marks[index] for index in (2, 5, 7))
    asked = followed(survey)
    for mark in (first, second):
        survey.clay_before(Spot(mark.first_line + mark.lines - 1))
    for line in range(4):
        for mark in (first, second):
            assert survey.laid_at(Spot(mark.first_line + line)) is not None
    assert [index for index, _ in asked] == [2, 5]
    survey.clay_before(Spot(third.first_line + third.lines - 1))
    survey.laid_at(Spot(first.first_line + 5))
    assert [index for index, _ in asked] == [2, 5, 7, 2]


def test_an_amount_is_looked_for_where_it_is_to_be_expected(survey_of: SurveyOf) -> None:
    """Where clay flows evenly a block is read a twentieth beyond the amount's place, and once."""
    survey = survey_of(LONG, chunk_bytes=600)
    asked = followed(survey)
    for mark in survey.marks:
        asked.clear()
        line = mark.first_line + mark.lines // 2
        found = survey.find_clay(0.01 * (line - 1) - 0.005)
        assert (found.line, found.fraction) == (line - 1, pytest.approx(0.5))
        ((_, lines),) = asked
        assert lines is not None
        assert mark.lines / 2 - 1 <= lines <= mark.lines * 0.6
