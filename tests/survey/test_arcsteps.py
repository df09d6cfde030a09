"""Walls drawn in arcs have the layers of the same walls drawn in straight moves, however long the arcs are."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest

from gpost.config.model import Clay, Config, CubicMillimetres
from gpost.motion.arcbox import PlaneArcs, arcs_of
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.read.source import Source
from gpost.read.words import read_block
from gpost.survey.arcsteps import ArcSteps
from gpost.survey.model import Survey
from gpost.survey.path import Laying, Starts

SurveyOf = Callable[..., Survey]
HEAD = "G21\nG90\nG28\nM83\nG1 Z5 F3000\nG0 X120 Y100\nG1 Z2 F1200\n"
HEAD_LINES = 7
CHUNKS = [64, 200, 1 << 20]


def wall(sweeps: Sequence[float | int], *, sense: int = 1, turns: int = 6, level: bool = True) -> str:
    """A helix of 20 mm round (100, 100) that rises 2 mm a turn from Z 2 at its east, on a level ring.

    sweeps: the parts of each turn in degrees; an int of so many degrees is drawn in straight moves of 15.
    """
    parts = [(360.0, 0.0)] if level else []
    parts += [(sweep, 2.0) for _ in range(turns) for sweep in sweeps]
    rows, angle, z = [], 0.0, 2.0
    for sweep, rise in parts:
        steps = 1 if isinstance(sweep, float) else sweep // 15
        for _ in range(steps):
            x, y = 100 + 20 * math.cos(angle), 100 + sense * 20 * math.sin(angle)
            angle += math.radians(sweep / steps)
            z += rise * sweep / steps / 360
            end = f"X{100 + 20 * math.cos(angle):.3f} Y{100 + sense * 20 * math.sin(angle):.3f} Z{z:.3f}"
            centre = f" I{100 - x:.3f} J{100 - y:.3f}"
            code = "G1" if steps > 1 else "G3" if sense > 0 else "G2"
            rows.append(f"{code} {end}{'' if steps > 1 else centre} E{sweep / 7.2:.3f}")
    return HEAD + "\n".join(rows) + "\n"


@pytest.mark.parametrize("sense", [1, -1])
@pytest.mark.parametrize("chunk_bytes", CHUNKS)
@pytest.mark.parametrize(
    "sweeps",
    [
        (360.0,),
        (180.0, 180.0),
        (270.0, 90.0),
        (90.0, 270.0),
        (200.0, 160.0),
        (120.0, 120.0, 120.0),
        (90.0,) * 4,
        (180.0, 180),
        (180, 180.0),
        (90, 270.0),
    ],
)
def test_turns_drawn_in_arcs(
    survey_of: SurveyOf, sweeps: Sequence[float | int], sense: int, chunk_bytes: int
) -> None:
    """A level ring and six turns are seven layers, each from its seam on, 2 mm above the one before."""
    survey = survey_of(wall(sweeps, sense=sense), chunk_bytes=chunk_bytes)
    moves = sum(1 if isinstance(sweep, float) else sweep // 15 for sweep in sweeps)
    assert survey.layers["height_mm"] == pytest.approx([2, 4, 6, 8, 10, 12, 14])
    assert survey.layers["kind"].tolist() == [0] + [1] * 6
    first = [HEAD_LINES, *(HEAD_LINES + 1 + moves * turn for turn in range(6))]
    assert survey.layers["first_line"].tolist() == first
    assert not [text for text in survey.warnings if "going round" in text]


@pytest.mark.parametrize("sense", [1, -1])
def test_turns_of_circles_and_polygons_by_turns(survey_of: SurveyOf, sense: int) -> None:
    """A turn in one arc, the next in straight moves, and so on."""
    survey = survey_of(wall((360.0, 360), sense=sense, turns=3))
    assert survey.layers["height_mm"] == pytest.approx([2, 4, 6, 8, 10, 12, 14])
    assert survey.layers["first_line"].tolist() == [7, 8, 9, 33, 34, 58, 59]


@pytest.mark.parametrize("sense", [1, -1])
def test_arcs_that_do_not_end_at_the_seam(survey_of: SurveyOf, sense: int) -> None:
    """Three turns in four arcs of 270 degrees: an arc belongs to the turn in which its middle lies.

    The middles lie at 135, 405, 675 and 945 degrees: in turns 1, 2, 2 and 3.
    """
    survey = survey_of(wall((270.0,) * 4, sense=sense, turns=1, level=False))
    assert survey.layers["first_line"].tolist() == [HEAD_LINES, HEAD_LINES + 1, HEAD_LINES + 3]


def test_level_rings_in_arcs(survey_of: SurveyOf) -> None:
    """Rings at heights of their own are level layers, in one arc or in two."""
    whole = "G1 Z{z}\nG3 X120 Y100 I-20 J0 E50\n"
    halves = "G1 Z{z}\nG2 X80 Y100 I-20 J0 E25\nG2 X120 Y100 I20 J0 E25\n"
    survey = survey_of(HEAD + "".join(ring.format(z=z) for z in (2, 6) for ring in (whole,)))
    assert survey.layers["kind"].tolist() == [0, 0]
    survey = survey_of(HEAD + "".join((whole if z % 4 else halves).format(z=z) for z in (2, 4, 6, 8)))
    assert survey.layers["height_mm"].tolist() == [2, 4, 6, 8]
    assert survey.layers["kind"].tolist() == [0] * 4


def laying(count: int) -> Laying:
    """Straight moves of 1 mm along X."""
    start, end = np.zeros((3, count)), np.zeros((3, count))
    start[0], end[0] = np.arange(count), np.arange(1, count + 1)
    return Laying(start, end, np.ones(count))


def follower_of(path: Path, program: str) -> Follower:
    """The way through a short program."""
    path.write_text(program)
    config = Config(clay=Clay(metering=CubicMillimetres(unit="mm3")))
    (chunk,) = Source(path).chunks()
    state = MachineState(relative=False)
    return Follower(read_block(chunk), state, config.machine, config.clay.metering)


def test_without_arcs_nothing_is_copied(tmp_path: Path) -> None:
    """The very same moves and answers come out."""
    steps = ArcSteps()
    follower = follower_of(tmp_path / "a.gcode", "G28\nM83\nG1 X1 E1 F900\nG1 X2 E1\n")
    steps.note(follower.moves.laying, arcs_of(follower))
    moves = laying(2)
    (same,) = steps.spread([moves], 2)
    assert same is moves
    answers = Starts(np.array([True, False]), np.zeros(2, np.uint8))
    assert steps.gather(answers) is answers


@pytest.mark.parametrize(
    ("plane", "arc", "count"),
    [
        ("G17", "G3 X-20 Y0 I-10 J0", 1 + 6 + 1),
        ("G17", "G2 X0 Y0 I-10 J0", 1 + 12 + 1),
        ("G17", "G3 X-0.937 Y4.226 I-10 J0", 1 + 1 + 1),
        ("G18", "G3 X-20 Z0 I-10 K0", 1 + 1 + 1),
    ],
)
def test_steps_of_an_arc(tmp_path: Path, plane: str, arc: str, count: int) -> None:
    """At most 30 degrees each, an even number, on the circle, end to end; upright and short arcs stay."""
    program = f"G28\nG90\nM83\n{plane}\nG1 X0 Y0 E1 F900\nG1 X-1 E1\nG0 X0\n{arc} E9\nG1 X9 E1\n"
    follower = follower_of(tmp_path / "a.gcode", program)
    moves, which = follower.moves, follower.moves.laying
    steps = ArcSteps()
    steps.note(follower.moves.laying, arcs_of(follower))
    laid = Laying(moves.start[:, which], moves.end[:, which], moves.length_mm[which])
    (out,) = steps.spread([laid], len(laid))
    assert len(out) == count
    assert out.length_mm.sum() == pytest.approx(moves.length_mm[which].sum())
    assert (out.start[:, 2:-1] == out.end[:, 1:-2]).all()
    assert out.end[:, -2].tolist() == moves.end[:, which][:, 1].tolist()
    if plane == "G17":
        assert np.hypot(out.end[0, 1:-1] + 10, out.end[1, 1:-1]) == pytest.approx(10.0, abs=1e-3)


def one_arc(steps: ArcSteps, at: int, count: int) -> None:
    """Note `count` laying moves, of which one is half a turn of 1 mm round the origin."""
    which = np.array([at])
    one = np.ones(1)
    arc = PlaneArcs(which, 17, np.zeros((2, 1)), one, np.zeros(1), one, np.pi * one)
    steps.note(np.ones(count, np.bool_), [arc])


def test_once_there_were_arcs_every_move_waits_for_its_answer() -> None:
    """Straight moves before, between and after arcs, in spreads of their own; half a turn is six steps."""
    steps = ArcSteps()
    steps.note(np.ones(2, np.bool_), [])
    assert len(steps.spread([laying(2)], 2)[0]) == 2
    one_arc(steps, 1, 2)
    assert len(steps.spread([laying(2)], 2)[0]) == 1 + 6
    steps.note(np.ones(3, np.bool_), [])
    assert len(steps.spread([laying(3)], 3)[0]) == 3
    one_arc(steps, 0, 1)
    assert len(steps.spread([laying(1)], 1)[0]) == 6
    starts = np.zeros(2 + 7 + 3 + 6, np.bool_)
    starts[[0, 6, 11, 16]] = True
    found = steps.gather(Starts(starts, np.arange(18).astype(np.uint8)))
    # the arc of steps 3 to 8 has its middle before step 6, that of steps 12 to 17 before step 15
    assert found.starts.tolist() == [True, False, False, True, False, False, True, False]
    assert found.kind.tolist() == [0, 1, 2, 6, 9, 10, 11, 15]


@pytest.mark.parametrize("cut", range(1, 9))
def test_answers_may_come_in_parts(cut: int) -> None:
    """A move is answered once all its steps are; a layer that begins behind its middle is the next one's."""
    steps = ArcSteps()
    one_arc(steps, 1, 3)
    steps.spread([laying(3)], 3)
    starts = np.array([True, False, False, False, False, True, False, False])
    kind = np.zeros(8, np.uint8)
    first = steps.gather(Starts(starts[:cut], kind[:cut]))
    second = steps.gather(Starts(starts[cut:], kind[cut:]))
    assert len(first.starts) == (1 if cut < 7 else 2 if cut == 7 else 3)
    assert [*first.starts.tolist(), *second.starts.tolist()] == [True, False, True]


def test_where_many_wait_no_arc_is_looked_at_in_full() -> None:
    """Moves held as one stand for several of the file, and its arcs among them are forgotten."""
    steps = ArcSteps()
    one_arc(steps, 1, 8)
    moves = laying(2)
    (same,) = steps.spread([moves], 8)
    assert same is moves
    one_arc(steps, 0, 1)
    assert len(steps.spread([laying(1)], 1)[0]) == 6
