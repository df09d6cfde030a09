"""Writes a demo piece as a sliced file in a chosen dialect."""

from __future__ import annotations

import math
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from gpost.demo.lettering import LetterColumn, joined, numbered
from gpost.demo.path import lay_out
from gpost.demo.pieces import class_pieces
from gpost.demo.shape import Floats, Piece
from gpost.demo.style import SliceStyle
from gpost.errors import ConfigError

__all__ = ["Piece", "SliceStyle", "SlicedMoves", "class_pieces", "slice_piece"]

Ints = NDArray[np.int64]
FEED_DECIMALS = 3
CHUNK = 100_000
"""Moves turned into text at a time."""


def slice_piece(piece: Piece, style: SliceStyle | None = None) -> bytes:
    """Slice a piece and write it in a style (None: the defaults).

    Raises ConfigError if the decimals are so few that a layer has no moves left.
    """
    style = style or SliceStyle()
    moves = SlicedMoves(piece, style)
    lines = _interleave(_move_lines(moves, style), moves)
    if style.lowercase:
        lines = [line.lower() for line in lines]
    if style.numbered:
        lines = numbered(lines, "n" if style.lowercase else "N")
    return style.newline.join([*lines, ""]).encode()


class SlicedMoves:
    """The moves as written: in whole steps of the file's decimals, those that do nothing left out."""

    def __init__(self, piece: Piece, style: SliceStyle) -> None:
        self.style = style
        track = lay_out(piece, style)
        moves = track.moves
        steps = _steps(moves["to_mm"], style.step_mm)
        changed = np.diff(steps, axis=0, prepend=np.zeros((1, 3), np.int64)).any(axis=1)
        kept = changed | (moves["push_mm3"] != 0)
        self._place = np.concatenate([[0], np.cumsum(kept)])
        self.rows, self.at = moves[kept], steps[kept]
        self.by = np.diff(self.at, axis=0, prepend=np.zeros((1, 3), np.int64))
        self.fixed = [(int(self._place[place]), text) for place, text in track.lines]
        self.zeroed = self._moved(track.zeroed)
        self.relative = self._moved(track.relative or [0, 0])
        if len(np.unique(self.rows["layer"][self.rows["lays"]])) <= moves["layer"].max():
            raise ConfigError("the decimals are too few: a layer has no moves left; write more of them.")
        self.clay_mm3 = np.where(self.rows["lays"], self.path_mm * piece.section_mm2, self.rows["push_mm3"])

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


def _steps(values: Floats, step: float) -> Ints:
    return np.rint(values / step).astype(np.int64)


def _move_lines(moves: SlicedMoves, style: SliceStyle) -> list[str]:
    """Every move as a line."""
    number = np.arange(len(moves.rows))
    columns = _columns(moves, style, number)
    lines: list[str] = []
    for start in range(0, len(number), CHUNK):
        lines += joined([column.part(slice(start, start + CHUNK)) for column in columns])
    return lines


def _columns(moves: SlicedMoves, style: SliceStyle, number: Ints) -> list[LetterColumn]:
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
        LetterColumn("G", code, says_code, 0),
        LetterColumn("X", x, goes, decimals, style.trim_zeros),
        LetterColumn("Y", y, goes, decimals, style.trim_zeros),
        LetterColumn("Z", z, by[:, 2] != 0, decimals, style.trim_zeros),
        LetterColumn("I", i, code == 3, decimals, style.trim_zeros),
        LetterColumn("J", j, code == 3, decimals, style.trim_zeros),
        LetterColumn("E", moves.e_steps, moves.clay_mm3 != 0, style.e_decimals, style.trim_zeros),
        LetterColumn("F", feed, np.diff(feed, prepend=0) != 0, FEED_DECIMALS, trim_zeros=True),
    ]


def _interleave(lines: list[str], moves: SlicedMoves) -> list[str]:
    """Put the fixed lines between those of the moves."""
    result: list[str] = []
    done = 0
    for place, text in moves.fixed:
        result += lines[done:place]
        result.append(text)
        done = place
    return result + lines[done:]
