"""The survey: what the first pass learned about the file, frozen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.read.source import Chunk, Source
from gpost.spot import START, Spot

LAYER_DTYPE = np.dtype(
    [
        ("first_line", "i8"),  # 0-based source line from which on the layer counts
        ("kind", "u1"),  # 0 level, 1 one turn of a wall that rises or waves
        ("height_mm", "f8"),  # highest nozzle height while laying clay in this layer
        ("low_mm", "f8"),  # lowest nozzle height while laying clay in this layer
        ("clay_ml", "f8"),  # net clay metered from first_line to the next layer's first_line
        ("laid_ml", "f8"),  # of that, clay metered by moves that lay clay
        ("path_mm", "f8"),  # path of the moves that lay clay
        ("time_s", "f8"),  # all time from first_line to the next layer's first_line
        ("cruise_s", "f8"),  # of the laying moves: path / feed, as if acceleration were unlimited
        ("laying_s", "f8"),  # of the laying moves: with acceleration
        ("x_min_mm", "f8"),
        ("x_max_mm", "f8"),
        ("y_min_mm", "f8"),
        ("y_max_mm", "f8"),
        ("start_x_mm", "f8"),  # where the first clay of the layer is laid
        ("start_y_mm", "f8"),
        ("feed_mm_min", "f8"),  # mean feed of the laying moves, by path; 0 where the file has said none
    ]
)
"""One row a layer. Heights and positions are machine coordinates of the nozzle."""


@dataclass(frozen=True, slots=True)
class BlockMark:
    """Where a block of the source starts, and the state there: pass 2 can begin at any of them."""

    offset: int
    first_line: int
    lines: int
    size: int
    state: MachineState
    clay_ml: float
    """Net clay metered before the block."""
    feeds: NDArray[np.void] | None = None
    """By which its feeds can be changed without reading it again: see gpost/survey/feedmarks.py."""

    def read(self, source: Source) -> Chunk:
        """The block's bytes again. Raises SourceError if the file has changed."""
        return Chunk(source.read_range(self.offset, self.size), self.offset, self.first_line)


class Pushes(NamedTuple):
    """Moves that push clay, or draw it back, in one place; four arrays of shape (k,)."""

    line: NDArray[np.int64]
    """0-based source line."""
    clay_ml: NDArray[np.float64]
    """Clay pushed; below 0 where it is drawn back."""
    time_s: NDArray[np.float64]
    """At full feed; 0 where the file has said none."""
    alone: NDArray[np.bool_]
    """Whether the line does nothing else, so that it can be silenced: see SilencePush."""

    def some(self, which: NDArray[np.bool_]) -> Pushes:
        """Those of them."""
        return Pushes(self.line[which], self.clay_ml[which], self.time_s[which], self.alone[which])


NO_PUSHES = Pushes(np.zeros(0, np.int64), np.zeros(0), np.zeros(0), np.zeros(0, np.bool_))


class FindClay(Protocol):
    """Where an amount of clay is reached."""

    def __call__(self, clay_ml: float, since: Spot = ..., until: Spot | None = ...) -> Spot:
        """The first spot from `since` (the start) on where net clay reaches clay_ml; `until` (the file's end)
        if it doesn't before that.
        """


@dataclass(frozen=True)
class Survey:
    """The frozen result of pass 1. Lines are 0-based; bounds are of the laid clay, in machine mm."""

    name: str
    size_bytes: int
    lines: int
    layers: NDArray[np.void]
    """shape (n,), LAYER_DTYPE, in printing order."""
    marks: tuple[BlockMark, ...]
    commands: NDArray[np.void]
    """shape (k,), fields letter ('S1'), code_x10 (i4: M104 is 1040, G38.2 is 382), line (i8): every
    command that is no plain move, in order."""
    bounds_mm: tuple[tuple[float, float], tuple[float, float], tuple[float, float]]
    """(x low, x high), (y low, y high), (z low, z high) of the laid clay."""
    clay_ml: float
    """Net clay metered by the whole file."""
    time_s: float
    lead_in_s: float
    """Time before layer 1's first line."""
    lead_in_ml: float
    """Net clay metered before layer 1's first line (the source's own prime)."""
    laid_path_mm: float
    travel_path_mm: float
    pieces: int
    """Pieces printed one after the other; steps that go by height need 1."""
    end_state: MachineState
    laid_until: int
    """The line after the last one that lays clay."""
    newline: bytes
    numbered: bool
    """Whether lines carry N numbers or checksums."""
    warnings: tuple[str, ...] = ()
    find_clay: FindClay = field(repr=False, compare=False, default=lambda _ml, since=START, until=None: since)
    """Cumulative net clay in ml -> the spot (exact, inside a move) where it is reached."""
    clay_before: Callable[[Spot], float] = field(repr=False, compare=False, default=lambda _spot: 0.0)
    """Spot -> cumulative net clay in ml metered by the source before it."""
    most_clay: Callable[[Spot, Spot], float] = field(
        repr=False, compare=False, default=lambda _start, _end: 0.0
    )
    """(start, end) -> the highest that cumulative net clay gets, in ml, at any spot between them."""
    stands_at: Callable[[Spot], Spot] = field(repr=False, compare=False, default=lambda spot: spot)
    """Spot -> where something inserted there stands: before the line, if its move can't be split."""
    clock_before: Callable[[int], float] = field(repr=False, compare=False, default=lambda _line: 0.0)
    """Line -> seconds from the start of the file (linear within a layer)."""

    laid_points: Callable[[int, int], NDArray[np.float64]] = field(
        repr=False, compare=False, default=lambda _first_line, _end_line: np.zeros((2, 0))
    )
    """(first line, end line) -> points that the clay laid on these lines leads through: x and y, (2, k)."""
    laid_path: Callable[[int, int], tuple[NDArray[np.int64], NDArray[np.float64]]] = field(
        repr=False, compare=False, default=lambda _first_line, _end_line: (np.zeros(0, np.int64), np.zeros(0))
    )
    """(first line, end line) -> (lines among them that lay clay, the path laid on each in mm), both (k,)."""
    pushes: Callable[[int, int], Pushes] = field(
        repr=False, compare=False, default=lambda _first_line, _end_line: NO_PUSHES
    )
    """(first line, end line) -> the moves on these lines that push clay in one place."""
    lifted_from: Callable[[int, float], int] = field(
        repr=False, compare=False, default=lambda line, _height_mm: line
    )
    """(line, height in mm) -> the line, from there on, before which the nozzle has gone above that height."""
    follow: Callable[[int], Follower] | None = field(repr=False, compare=False, default=None)
    """Index of a mark -> the machine's way through its block, read again; None: there is no file."""
    kept: tuple[Follower, ...] = field(repr=False, compare=False, default=())
    """The ways through all blocks, if the file is short enough to keep them."""

    @property
    def height_mm(self) -> float:
        """Nozzle height of the highest laid clay, above machine zero."""
        return self.bounds_mm[2][1]
