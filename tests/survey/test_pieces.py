"""Pieces one after the other: the nozzle comes down again beside what is laid."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.survey.pieces import PieceCounter

Move = tuple[tuple[float, float, float], tuple[float, float, float]]


def ring(x: float, z: float, *, rise: float = 0.0) -> list[Move]:
    """Four moves round a square of 40 mm, from a height up."""
    corners = [(x, 0.0), (x + 40, 0.0), (x + 40, 40.0), (x, 40.0), (x, 0.0)]
    heights = [z + rise * i / 4 for i in range(5)]
    points = [(*corner, height) for corner, height in zip(corners, heights, strict=True)]
    return list(pairwise(points))


def counted(moves: list[Move], cuts: list[int]) -> tuple[int, list[int]]:
    """Number of pieces, and the moves at which the later ones begin; the moves come in parts."""
    counter = PieceCounter()
    begins: list[int] = []
    for first, last in zip([0, *cuts], [*cuts, len(moves)], strict=True):
        if last > first:
            start = np.array([move[0] for move in moves[first:last]]).T
            end = np.array([move[1] for move in moves[first:last]]).T
            begins += [first + place for place in counter.add(start, end)]
    return counter.count, begins


def test_one_piece() -> None:
    """Rings on each other, or rising without end, are one piece."""
    assert counted([m for z in range(1, 9) for m in ring(0, z)], []) == (1, [])
    assert counted([m for z in range(1, 9) for m in ring(0, z, rise=1)], []) == (1, [])


def test_pieces_laid_layer_by_layer_together() -> None:
    """Two rings on every height are one piece: nothing is laid below what is there."""
    assert counted([m for z in range(1, 9) for x in (0, 100) for m in ring(x, z)], []) == (1, [])


@pytest.mark.parametrize("rise", [0.0, 1.0])
@pytest.mark.parametrize("layers", [2, 8])
def test_two_pieces(rise: float, layers: int) -> None:
    """The second begins where the nozzle has come down again."""
    one, other = ([m for z in range(1, layers + 1) for m in ring(x, z, rise=rise)] for x in (0, 100))
    assert counted(one + other, []) == (2, [4 * layers])
    assert counted(one + other + one, []) == (3, [4 * layers, 8 * layers])


def test_a_piece_beside_that_starts_higher() -> None:
    """A start well beside the piece, under its top, is another piece, even if it isn't as low."""
    assert counted([m for z in range(1, 9) for m in ring(0, z)] + ring(100, 3), []) == (2, [32])


def test_a_wave_is_no_new_piece() -> None:
    """A ring that starts far below the crest of the one before, on the same place, is the same piece."""
    moves = [m for z in range(1, 9) for m in ring(0, z, rise=10)]
    assert counted(moves, []) == (1, [])


def test_going_down_while_laying_is_no_new_piece() -> None:
    """Only where the nozzle comes by travel can another piece begin."""
    down = [((0.0, 0.0, 8.0), (100.0, 0.0, 1.0)), ((100.0, 0.0, 1.0), (140.0, 0.0, 1.0))]
    assert counted([m for z in range(1, 9) for m in ring(0, z)] + down, []) == (1, [])


@given(st.lists(st.integers(0, 80), max_size=8))
def test_cuts_make_no_difference(cuts: list[int]) -> None:
    """How the moves are cut into parts changes nothing."""
    moves = [m for x in (0, 100, 50) for z in range(1, 7) for m in ring(x, z, rise=0.5)]
    parts = sorted(min(cut, len(moves)) for cut in cuts)
    assert counted(moves, parts) == counted(moves, []) == (3, [24, 48])
