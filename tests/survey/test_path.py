"""Laying moves as the layer finder sees them: joined or apart, level or sloped; by hand."""

from __future__ import annotations

import numpy as np
import pytest

from gpost.survey.path import LEVEL, TURN, Laying, Path, Starts

NOWHERE = np.full(3, np.nan)
Place = tuple[float, float, float]


def path_of(*moves: tuple[Place, Place], before: np.ndarray = NOWHERE) -> Path:
    """Straight moves from place to place."""
    start, end = np.array(moves, np.float64).transpose(1, 2, 0)
    return Path.of(Laying(start, end, np.sqrt(((end - start) ** 2).sum(axis=0))), before)


def test_moves_that_go_on_and_moves_that_begin_elsewhere() -> None:
    """By a thousandth of a millimetre along X or Y; the first has no move before it."""
    path = path_of(
        ((0, 0, 2), (9, 0, 2)),
        ((9, 0.0005, 2), (9, 9, 2)),
        ((9.1, 9, 2), (0, 9, 2)),
        ((0, 9.1, 2), (0, 0, 2)),
    )
    assert path.joined.tolist() == [False, True, False, False]
    assert path.apart.tolist() == [True, False, True, True]
    assert path.travels().tolist() == [2, 3]
    assert path_of(((0, 0, 2), (9, 0, 2)), before=np.array([0.0, 0.0, 2.0])).joined.tolist() == [True]


@pytest.mark.parametrize(
    ("step_mm", "starts_mm", "apart"), [(0.1, 2.0, False), (0.19, 2.0, False), (0.3, 2.3, False), (0.5, 2.5, False),
                                        (0.7, 2.7, True), (2.0, 4.0, True)]
)  # fmt: skip
def test_a_step_of_height_alone(step_mm: float, starts_mm: float, apart: bool) -> None:
    """A small one belongs to the move after it; a clear one is a layer's; a lift is like a travel."""
    path = path_of(((0, 0, 2), (9, 0, 2)), ((9, 0, 2 + step_mm), (9, 9, 2 + step_mm)))
    assert path.start[2].tolist() == pytest.approx([2, starts_mm])
    assert path.sloped.tolist() == [False, step_mm < 0.2]
    assert path.apart.tolist() == [True, apart]
    assert path.joined[1]


def test_a_step_beside_a_travel_is_no_slope() -> None:
    """The move begins where it begins, however little higher."""
    path = path_of(((0, 0, 2), (9, 0, 2)), ((9, 5, 2.1), (9, 9, 2.1)))
    assert (path.start[2].tolist(), path.sloped.tolist()) == ([2, 2.1], [False, False])


def test_what_rises_or_falls_is_sloped() -> None:
    """By more than rounding."""
    path = path_of(((0, 0, 2), (9, 0, 2.01)), ((9, 0, 2.01), (9, 9, 2)), ((9, 9, 2), (0, 9, 2 + 1e-9)))
    assert path.sloped.tolist() == [True, True, False]


def test_points_of_one_stroke() -> None:
    """Its start, and where each move ends."""
    points, z, ends = path_of(((0, 0, 1), (9, 0, 2)), ((9, 0, 2), (9, 9, 3))).points()
    assert points.T.tolist() == [[0, 0], [9, 0], [9, 9]]
    assert (z.tolist(), ends.tolist()) == ([1, 2, 3], [1, 2])


def test_points_with_travels_between() -> None:
    """Each stroke's own start stands before its moves."""
    path = path_of(
        ((0, 0, 1), (9, 0, 1)), ((0, 5, 1), (9, 5, 1)), ((9, 5, 1), (9, 9, 1)), ((1, 1, 4), (2, 2, 4))
    )
    points, z, ends = path.points()
    assert points.T.tolist() == [[0, 0], [9, 0], [0, 5], [9, 5], [9, 9], [1, 1], [2, 2]]
    assert (z.tolist(), ends.tolist()) == ([1, 1, 1, 1, 1, 4, 4], [1, 3, 4, 6])


def test_parts_are_cut_and_joined() -> None:
    """What is cut apart comes together again; empty parts don't count."""
    path = path_of(*(((x, 0, 2), (x + 1, 0, 2)) for x in range(5)))
    joined = Path.join([path.cut(0, 2), path.cut(2, 2), path.cut(2)])
    assert joined.start.tolist() == path.start.tolist()
    assert (joined.joined.tolist(), len(joined)) == (path.joined.tolist(), 5)
    assert Path.join([path.cut(0, 0), path]) is path
    assert len(Path.join([Path.none(), Path.none()])) == 0
    moves = Laying(path.start, path.end, path.length_mm)
    assert Laying.join([moves, Laying(path.start[:, :0], path.end[:, :0], path.length_mm[:0])]) is moves
    assert Laying.join([moves, moves]).end[0].tolist() == [1, 2, 3, 4, 5] * 2


def test_answers_are_joined() -> None:
    """None at all are none."""
    found = Starts.join([Starts.of(np.array([True, False]), TURN), Starts.of(np.array([True]), LEVEL)])
    assert (found.starts.tolist(), found.kind.tolist()) == ([True, False, True], [TURN, TURN, LEVEL])
    assert len(Starts.join([]).starts) == 0
