"""Writes a demo piece as a sliced file in a chosen dialect, and says what is true of that file."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from gpost.demo.lettering import Column, joined, numbered
from gpost.demo.path import Track, lay_out
from gpost.demo.pieces import class_pieces
from gpost.demo.shape import Floats, Piece
from gpost.demo.style import SliceStyle
from gpost.errors import ConfigError

__all__ = ["Piece", "SliceStyle", "SlicedPiece", "Truth", "class_pieces", "slice_piece", "write_piece"]

Ints = NDArray[np.int64]
FEED_DECIMALS = 3
CHUNK = 100_000
"""Moves turned into text at a time."""


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
    """Slice a piece and write it in a style (None: the defaults).

    Raises ConfigError if the decimals are so few that a layer has no moves left.
    """
    style = style or SliceStyle()
    moves = _Moves(lay_out(piece, style), style, piece.section_mm2)
    lines = _interleave(_move_lines(moves, style), moves)
    if style.lowercase:
        lines = [line.lower() for line in lines]
    if style.numbered:
        lines = numbered(lines, "n" if style.lowercase else "N")
    text = style.newline.join([*lines, ""]).encode()
    return SlicedPiece(text, _truth(moves, len(lines)))


def write_piece(path: Path, piece: Piece, style: SliceStyle | None = None) -> Truth:
    """Write a sliced piece to a file and return the truth about it. Raises OSError as open does."""
    sliced = slice_piece(piece, style)
    path.write_bytes(sliced.text)
    return sliced.truth


class _Moves:
    """The moves as written: in whole steps of the file's decimals, those that do nothing left out."""

    def __init__(self, track: Track, style: SliceStyle, section_mm2: float) -> None:
        self.style = style
        moves = track.moves
        steps = _steps(moves["to_mm"], style.step_mm)
        changed = np.diff(steps, axis=0, prepend=np.zeros((1, 3), np.int64)).any(axis=1)
        kept = changed | (moves["push_mm3"] != 0)
        self._place = np.concatenate([[0], np.cumsum(kept)])
        self.rows, self.at = moves[kept], steps[kept]
        self.by = np.diff(self.at, axis=0, prepend=np.zeros((1, 3), np.int64))
        self.fixed = [(int(self._place[place]), text) for place, text in track.lines]
        self.turns = self._moved(track.turns)
        self.zeroed = self._moved(track.zeroed)
        self.relative = self._moved(track.relative or [0, 0])
        if len(np.unique(self.rows["layer"][self.rows["lays"]])) < len(track.turns):
            raise ConfigError("the decimals are too few: a layer has no moves left; write more of them.")
        self.waved = np.array(track.waved)
        self.clay_mm3 = np.where(self.rows["lays"], self.path_mm * section_mm2, self.rows["push_mm3"])

    def _moved(self, places: list[int]) -> Ints:
        return np.asarray(self._place[places], dtype=np.int64)

    @cached_property
    def path_mm(self) -> Floats:
        """Path of each move: its chord, or half a circle."""
        chord = np.sqrt(np.sum((self.by * self.style.step_mm) ** 2, axis=1))
        return np.asarray(np.where(self.rows["code"] == 3, chord * (math.pi / 2), chord))

    @cached_property
    def e_steps(self) -> Ints:
        """The E word of each move in its smallest steps.

        The running total is rounded, and differences taken of that, so that errors never add up.
        """
        total = _steps(np.cumsum(self.clay_mm3), self.style.e_step_mm3)
        before = np.concatenate([[0], total])
        if self.style.relative_e:
            return np.diff(before)
        zeroed = np.concatenate([[0], self.zeroed])
        last = np.searchsorted(zeroed, np.arange(len(total)), side="right") - 1
        return np.asarray(total - before[zeroed[last]])

    @cached_property
    def line(self) -> Ints:
        """The line on which each move stands."""
        places = [place for place, _ in self.fixed]
        number = np.arange(len(self.rows))
        return number + np.searchsorted(places, number, side="right")


def _steps(values: Floats, step: float) -> Ints:
    return np.rint(values / step).astype(np.int64)


def _move_lines(moves: _Moves, style: SliceStyle) -> list[str]:
    """Every move as a line."""
    number = np.arange(len(moves.rows))
    columns = _columns(moves, style, number)
    lines: list[str] = []
    for start in range(0, len(number), CHUNK):
        lines += joined([column.part(slice(start, start + CHUNK)) for column in columns])
    return lines


def _columns(moves: _Moves, style: SliceStyle, number: Ints) -> list[Column]:
    """The words of the moves, in the order in which they stand on a line."""
    rows, by, decimals = moves.rows, moves.by, style.decimals
    code = rows["code"].astype(np.int64)
    increments = (number >= moves.relative[0]) & (number < moves.relative[-1])
    x, y, z = np.where(increments[:, None], by, moves.at).T
    goes = rows["lays"] | by[:, :2].any(axis=1)
    says_code = (np.diff(code, prepend=-1) != 0) | (not style.modal_g)
    i, j = _steps(rows["centre_mm"], style.step_mm).T
    feed = _steps(rows["feed_mm_min"] / style.unit_mm, 10.0**-FEED_DECIMALS)
    return [
        Column("G", code, says_code, 0),
        Column("X", x, goes, decimals, style.trim_zeros),
        Column("Y", y, goes, decimals, style.trim_zeros),
        Column("Z", z, by[:, 2] != 0, decimals, style.trim_zeros),
        Column("I", i, code == 3, decimals, style.trim_zeros),
        Column("J", j, code == 3, decimals, style.trim_zeros),
        Column("E", moves.e_steps, moves.clay_mm3 != 0, style.e_decimals, style.trim_zeros),
        Column("F", feed, np.diff(feed, prepend=0) != 0, FEED_DECIMALS, trim_zeros=True),
    ]


def _interleave(lines: list[str], moves: _Moves) -> list[str]:
    """Put the fixed lines between those of the moves."""
    result: list[str] = []
    done = 0
    for place, text in moves.fixed:
        result += lines[done:place]
        result.append(text)
        done = place
    return result + lines[done:]


def _truth(moves: _Moves, lines: int) -> Truth:
    lays = moves.rows["lays"]
    layer = moves.rows["layer"][lays]
    to_mm = moves.at[lays] * moves.style.step_mm
    from_mm = to_mm - moves.by[lays] * moves.style.step_mm
    ends = np.concatenate([from_mm, to_mm])
    low, high = ends.min(axis=0).tolist(), ends.max(axis=0).tolist()
    first = np.searchsorted(layer, np.arange(len(moves.turns)))
    line, clay = moves.line, moves.clay_mm3
    prime = moves.rows["push_mm3"][: np.argmax(lays)].sum()
    return Truth(
        first_line=line[lays][first],
        seam_line=line[moves.turns],
        kind=moves.waved.astype(np.uint8),
        height_mm=np.maximum.reduceat(np.maximum(from_mm, to_mm)[:, 2], first),
        low_mm=np.minimum.reduceat(np.minimum(from_mm, to_mm)[:, 2], first),
        path_mm=np.add.reduceat(moves.path_mm[lays], first),
        laid_mm3=np.add.reduceat(clay[lays], first),
        lead_in_ml=float(prime) / 1000,
        total_ml=float(clay.sum()) / 1000,
        bounds_mm=((low[0], high[0]), (low[1], high[1]), (low[2], high[2])),
        lines=lines,
    )
