"""Where the first bead of a piece is, and which pushes are meant."""

from __future__ import annotations

import numpy as np

from gpost.survey.inside import Pushes, first_bead
from gpost.testing import make_survey
from tests.lookups import answering

POT = make_survey(layers=3, lines_per_layer=10, lead_in_lines=10)


def test_the_first_bead_is_looked_for_in_the_first_layer() -> None:
    """It is the first line that lays anything there, wherever that is; a piece of one layer ends with the file."""
    asked: list[tuple[int, int]] = []
    laid = 13

    def path(first_line: int, end_line: int) -> tuple[np.ndarray, np.ndarray]:
        asked.append((first_line, end_line))
        found = np.array([laid, laid + 2])
        return found[(found >= first_line) & (found < end_line)], np.ones(2)

    survey = answering(POT, laid_path=path)
    assert first_bead(survey.layers, survey.lines, survey.lookup) == 13
    assert asked == [(10, 20)]
    laid = 38
    assert first_bead(survey.layers[:1], survey.lines, survey.lookup) == 38
    long = survey.layers[:1].copy()
    laid = 50_000
    assert first_bead(long, 60_000, survey.lookup) == 50_000
    assert first_bead(long, 50_001, survey.lookup) == 50_000
    assert first_bead(long, 50_000, survey.lookup) == 10


def test_no_more_is_read_for_it_than_must_be() -> None:
    """Most often it is among the first lines of a layer, which may have many thousands."""
    asked: list[int] = []

    def path(_first_line: int, end_line: int) -> tuple[np.ndarray, np.ndarray]:
        asked.append(end_line)
        return np.array([13]), np.ones(1)

    survey = answering(POT, laid_path=path)
    assert first_bead(survey.layers[:1], 60_000, survey.lookup) == 13
    assert max(asked) < 100


def test_without_a_bead_the_layer_s_first_line_stands_for_it() -> None:
    """Without layers, the end of the file."""
    survey = answering(POT, laid_path=lambda *_: (np.zeros(0, np.int64), np.zeros(0)))
    assert first_bead(survey.layers, survey.lines, survey.lookup) == 10
    assert first_bead(survey.layers[:0], 77, survey.lookup) == 77


def test_some_of_the_pushes() -> None:
    """All that is known of each goes with it."""
    pushes = Pushes(np.array([3, 5]), np.array([0.1, -0.2]), np.array([1.0, 2.0]), np.array([True, False]))
    some = pushes.some(np.array([False, True]))
    assert [column.tolist() for column in some] == [[5], [-0.2], [2.0], [False]]
