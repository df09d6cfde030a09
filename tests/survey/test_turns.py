"""Turns round a wall: numbered alike however the moves are cut, whatever the section's form."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from gpost.survey.turns import TurnFinder

Floats = NDArray[np.float64]
Outline = Callable[[Floats], Floats]
"""Angle to distance from the centre."""


def path_round(
    turns: float, *, sides: int = 60, outline: Outline = np.ones_like, lean: float = 0.0
) -> Floats:
    """Points (2, n + 1) of a wall of 40 mm round (100, 100) whose middle moves by `lean` mm a turn."""
    angle = 2 * np.pi * np.arange(round(turns * sides) + 1) / sides
    reach = 40 * outline(angle)
    x = 100 + reach * np.cos(angle) + lean * angle / (2 * np.pi)
    return np.stack([x, 100 + reach * np.sin(angle)])


def numbered(path: Floats, cuts: list[int]) -> tuple[list[int], TurnFinder]:
    """The turn of each move of the path, given in parts."""
    finder = TurnFinder()
    found: list[int] = []
    for first, last in zip([0, *cuts], [*cuts, path.shape[1] - 1], strict=True):
        if last > first:
            found += finder.add(path[:, first], path[:, first + 1 : last + 1]).tolist()
    return found + finder.finish().tolist(), finder


def expected(moves: int, sides: int) -> list[int]:
    """Turn by turn."""
    return [move // sides for move in range(moves)]


@pytest.mark.parametrize("sides", [3, 4, 5, 60, 361])
@pytest.mark.parametrize("turns", [1, 2, 5, 30])
def test_a_polygon(sides: int, turns: int) -> None:
    """Every so many sides a turn is done."""
    path = path_round(turns, sides=sides)
    assert numbered(path, [])[0] == expected(turns * sides, sides)


def test_either_way_round() -> None:
    """A wall laid clockwise has the same turns."""
    path = path_round(12)[:, ::-1]
    assert numbered(path, [])[0] == expected(720, 60)


@pytest.mark.parametrize("lobes", range(3, 13))
@pytest.mark.parametrize("twist", [0.0, 0.3, -0.7])
def test_twisted_lobes(lobes: int, twist: float) -> None:
    """Lobes that wander round with the height don't disturb the count, by more than a segment at the seam."""
    path = path_round(
        20, sides=90, outline=lambda angle: 1 + 0.2 * np.cos(lobes * (angle + twist * angle / 6))
    )
    found = np.array(numbered(path, [])[0])
    assert len(found) == 1800
    assert np.abs(np.flatnonzero(np.diff(found)) + 1 - 90 * np.arange(1, 20)).max() <= 2


@pytest.mark.parametrize("lean", [0.5, 2.0, -3.0])
def test_a_leaning_wall(lean: float) -> None:
    """The centre goes along with a wall that leans by much more than its own width in all."""
    path = path_round(60, lean=lean)
    found = np.array(numbered(path, [])[0])
    assert found[-1] == 59
    assert np.abs(np.flatnonzero(np.diff(found)) + 1 - 60 * np.arange(1, 60)).max() <= 2


def test_rounded_points() -> None:
    """Points rounded to a tenth of a millimetre make the same turns."""
    assert numbered(path_round(20).round(1), [])[0] == expected(1200, 60)


def test_less_than_a_turn() -> None:
    """A section without one full turn is turn 0."""
    found, finder = numbered(path_round(0.9), [])
    assert found == [0] * 54
    assert not finder.lost


@pytest.mark.parametrize("strokes", [10, 500])
def test_to_and_fro(strokes: int) -> None:
    """A wall laid to and fro never goes round: all is turn 0, and that is known."""
    x = [50.0 + 4 * (i % 50 if i % 50 <= 25 else 50 - i % 50) for i in range(25 * strokes)]
    found, finder = numbered(np.stack([np.array(x), np.full(len(x), 50.0)]), [])
    assert set(found) == {0}
    assert finder.lost


def test_three_quarters_to_and_fro() -> None:
    """An open ring laid to and fro turns by more than a full turn in all, and still never goes round."""
    along = [(i % 80 if i % 80 <= 40 else 80 - i % 80) / 40 for i in range(2000)]
    angle = 1.5 * math.pi * np.array(along)
    found, finder = numbered(np.stack([100 + 50 * np.cos(angle), 100 + 50 * np.sin(angle)]), [])
    assert set(found) == {0}
    assert finder.lost


def test_nothing() -> None:
    """Without moves there are no turns."""
    assert TurnFinder().finish().tolist() == []


@given(
    st.sampled_from([0.4, 1.0, 2.5, 9.0, 20.0]),
    st.sampled_from([3, 7, 40]),
    st.sampled_from([0.0, 1.0]),
    st.lists(st.integers(0, 800), max_size=12),
)
def test_cuts_make_no_difference(turns: float, sides: int, lean: float, cuts: list[int]) -> None:
    """How the moves are cut into parts changes no number, and not whether the wall goes round."""
    path = path_round(turns, sides=sides, lean=lean, outline=lambda angle: 1 + 0.1 * np.cos(4 * angle))
    moves = path.shape[1] - 1
    whole, finder = numbered(path, [])
    in_parts, other = numbered(path, sorted(min(cut, moves) for cut in cuts))
    assert in_parts == whole
    assert other.lost == finder.lost
    assert len(whole) == moves
