"""What is true of a wall: its layers in printing order, the strokes outside them, its pieces, where it is odd."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

Point: TypeAlias = tuple[float, float, float]
Range: TypeAlias = tuple[float, float]
LayerKind: TypeAlias = Literal["level", "turn"]
StrokeKind: TypeAlias = Literal["lead-in", "lead-out", "tail"]


@dataclass(frozen=True)
class Layer:
    """One layer. Lines count from 0; E is mm of the E axis."""

    kind: LayerKind
    """Level, or a turn of a wall that rises or waves."""
    height_mm: float
    """Highest height of the nozzle while it lays; of a level layer with a laid step up to it, its level."""
    low_mm: float
    laid_e: float
    """E of the moves that lay along a path."""
    path_mm: float
    """Their length."""
    first_line: int
    """Of the first laying move."""
    last_line: int
    bounds_mm: tuple[Range, Range]
    """X and Y from lowest to highest, while laying."""
    climb_mm: float
    """The largest change of height by one stroke or step: the grain of heights."""
    stride_mm: float
    """The longest stroke, seen from above: the grain of seams."""


@dataclass(frozen=True)
class Stroke:
    """Laying moves before or after the piece that belong to no layer. A tail lies on the rim, the others apart."""

    kind: StrokeKind
    first_line: int
    last_line: int


@dataclass(frozen=True)
class Wall:
    """A program, what one unit of its E is, and what is true of it."""

    kind: str
    program: bytes = field(repr=False)
    metering: dict[str, str | float]
    """As the config says it."""
    mm3_per_e: float
    """Clay for one mm of the E axis."""
    grain_mm: float
    """The smallest difference that the program's numbers can say."""
    layers: tuple[Layer, ...] = field(repr=False)
    strokes: tuple[Stroke, ...]
    pieces: int
    odd: tuple[int, int] | None
    """Lines from which to which (exclusive) no layers can be told; the layers are those before."""
    laying_lines: tuple[int, ...] = field(repr=False)
    """Every laying move, in or out of layers."""
    flat_before_mm: tuple[float, ...] = field(repr=False)
    """Laid before each of these (and at the end), as seen from above: steps straight up don't count."""

    def outside(self, kind: StrokeKind) -> list[Stroke]:
        """The strokes of one kind."""
        return [stroke for stroke in self.strokes if stroke.kind == kind]

    def flat_mm(self, line: int) -> float:
        """How much is laid before a line, as seen from above."""
        return self.flat_before_mm[bisect_left(self.laying_lines, line)]


@dataclass(frozen=True)
class Laid:
    """One laying move as it was written."""

    line: int
    start: Point
    end: Point
    e: float
    path_mm: float
    flat_mm: float
    """Its length seen from above."""
    corners: tuple[tuple[float, float], ...]
    """Points whose box is that of the move."""


@dataclass
class Tally:
    """A layer while it is laid."""

    kind: LayerKind
    moves: list[Laid] = field(default_factory=list)
    step_mm: float = 0.0
    """The largest step up or down without a stroke."""

    def layer(self) -> Layer:
        """What has been laid. A laid step up to a level layer is not part of its lowest height."""
        heights = [z for move in self.moves for z in (move.start[2], move.end[2])]
        flat = [move.end[2] for move in self.moves if move.flat_mm > 0]
        climbs = [abs(move.end[2] - move.start[2]) for move in self.moves]
        across = [(c[0], c[1]) for move in self.moves for c in move.corners]
        return Layer(
            kind=self.kind,
            height_mm=max(flat if self.kind == "level" else heights),
            low_mm=min(flat if self.kind == "level" else heights),
            laid_e=math.fsum(move.e for move in self.moves),
            path_mm=math.fsum(move.path_mm for move in self.moves),
            first_line=self.moves[0].line,
            last_line=self.moves[-1].line,
            bounds_mm=(spread(x for x, _ in across), spread(y for _, y in across)),
            climb_mm=max(self.step_mm, *climbs),
            stride_mm=max(move.flat_mm for move in self.moves),
        )


def spread(values: Iterator[float]) -> Range:
    """Lowest and highest."""
    known = list(values)
    return (min(known), max(known))
