"""Pieces of the demo, sliced, with what is true of each file by its making."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from gpost.demo import gcode
from gpost.demo.gcode import Piece, SlicedMoves, SliceStyle

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Truth:
    """What is true of a sliced piece. Lines count from 0; arrays have one value a layer, in order.

    Heights, paths and bounds follow from the numbers as written; volumes are path times section, which
    the E words say to half a unit of their last decimal at the end of every layer.
    """

    first_line: Ints
    """The first line that lays clay in the layer."""
    seam_line: Ints
    """The first line of the layer's turn of the wall."""
    kind: NDArray[np.uint8]
    """0: the turn is level; 1: it rises or waves."""
    height_mm: Floats
    """Highest nozzle height while laying."""
    low_mm: Floats
    """Lowest nozzle height while laying."""
    path_mm: Floats
    """Path of the moves that lay clay."""
    laid_mm3: Floats
    lead_in_ml: float
    """Clay pushed out before the piece."""
    total_ml: float
    """All clay of the file: lead-in and layers."""
    bounds_mm: tuple[tuple[float, float], tuple[float, float], tuple[float, float]]
    """(low, high) on X, Y and Z of the laid clay's centre line."""
    lines: int

    @property
    def laid_ml(self) -> Floats:
        """Clay laid in each layer, in ml."""
        return self.laid_mm3 / 1000


@dataclass(frozen=True)
class SlicedPiece:
    """A sliced file and the truth about it."""

    text: bytes
    truth: Truth


def slice_piece(piece: Piece, style: SliceStyle | None = None) -> SlicedPiece:
    """Slice a piece as the demo does. Raises ConfigError as it does."""
    style = style or SliceStyle()
    text = gcode.slice_piece(piece, style)
    # with comments the moves are the same, and one of them stands before each turn of the wall
    told = SlicedMoves(piece, replace(style, comments=True)).fixed
    walls = [place for place, said in told if said == "; wall"]
    return SlicedPiece(text, _truth(SlicedMoves(piece, style), walls))


def write_piece(path: Path, piece: Piece, style: SliceStyle | None = None) -> Truth:
    """Write a sliced piece to a file; returns the truth about it."""
    sliced = slice_piece(piece, style)
    path.write_bytes(sliced.text)
    return sliced.truth


def _lines_of(moves: SlicedMoves) -> Ints:
    """The line on which each move stands."""
    places = [place for place, _ in moves.fixed]
    number = np.arange(len(moves.rows))
    return number + np.searchsorted(places, number, side="right")


def _truth(moves: SlicedMoves, walls: list[int]) -> Truth:
    """`walls`: the move before which each turn of the wall begins."""
    lays = moves.rows["lays"]
    layer = moves.rows["layer"][lays]
    to_mm = moves.at[lays] * moves.style.step_mm
    from_mm = to_mm - moves.by[lays] * moves.style.step_mm
    ends = np.concatenate([from_mm, to_mm])
    low, high = ends.min(axis=0).tolist(), ends.max(axis=0).tolist()
    first = np.searchsorted(layer, np.arange(layer.max() + 1))
    laying = np.flatnonzero(lays)
    line, clay = _lines_of(moves), moves.clay_mm3
    prime = moves.rows["push_mm3"][: np.argmax(lays)].sum()
    height_mm = np.maximum.reduceat(np.maximum(from_mm, to_mm)[:, 2], first)
    low_mm = np.minimum.reduceat(np.minimum(from_mm, to_mm)[:, 2], first)
    return Truth(
        first_line=line[lays][first],
        seam_line=line[laying[np.searchsorted(laying, walls)]],
        kind=(height_mm > low_mm).astype(np.uint8),
        height_mm=height_mm,
        low_mm=low_mm,
        path_mm=np.add.reduceat(moves.path_mm[lays], first),
        laid_mm3=np.add.reduceat(clay[lays], first),
        lead_in_ml=float(prime) / 1000,
        total_ml=float(clay.sum()) / 1000,
        bounds_mm=((low[0], high[0]), (low[1], high[1]), (low[2], high[2])),
        lines=len(moves.rows) + len(moves.fixed),
    )
