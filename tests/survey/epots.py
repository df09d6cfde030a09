"""Pots of which the mode of E is right or wrong, as some program writes them."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

from gpost.errors import SourceError
from gpost.survey.model import Survey

SurveyOf = Callable[..., Survey]
SECTION_MM2 = 11.0
"""About that of a bead 6 mm wide and 2 mm high: the config's."""


def ring(shape: str, layer: int, sides: int) -> Iterator[tuple[float, float, float]]:
    """Points of one layer, its first again at the end."""
    rough = random.Random(layer)
    turns = [at / sides for at in range(sides)]
    if shape == "rough":
        turns = sorted(rough.random() for _ in range(sides))
    for at, turn in enumerate([*turns, turns[0] + 1]):
        radius, across, z = 20.0, 1.0, 2.0 * layer + 2
        if shape == "star":
            radius = 20.0 if at % 2 else 14.0
        elif shape == "saw":  # flanks of two lengths
            turn += 0.6 / sides * (at % 2)
            radius = 20.0 if at % 2 else 14.0
        elif shape == "cone":
            radius += 2 * (layer + turn)
        elif shape == "oval":
            across = 0.5
        elif shape in ("helix", "closing"):
            z += 2 * (at / sides) - 2
            if shape == "closing":  # each bead a little shorter than the last, with no seam: a dome's way in
                radius = 60.0 - 5 * (layer + at / sides)
        angle = 2 * math.pi * turn
        yield 100 + radius * math.cos(angle), 100 + across * radius * math.sin(angle), z


@dataclass(frozen=True)
class Pot:
    """A pot as some program writes it; E counts mm^3."""

    shape: str = "cylinder"
    layers: int = 8
    sides: int = 24
    relative: bool = False
    """Whether its E words add."""
    head: str = ""
    """What its head says of E; what is right, if it is empty."""
    relief_mm3: float = 0.0
    """Drawn back before each layer, and given again."""
    resets: bool = False
    """A G92 E0 before each layer."""
    flows: tuple[float, ...] = (1.0,)
    """Of the layers, in turn."""
    by_g1: bool = False
    """Whether it flies by G1, with the E that holds."""
    first_e: float = 0.0
    dash: int = 0
    """Every so many-th side is flown over."""
    wipe_mm3: float = 0.0
    """Drawn back along the last side of each layer, backwards, and given again before the next."""
    thick: float = 0.0
    """By what part its flow rises and falls, five times in a layer."""
    lift: tuple[str, ...] = ()
    """Lines between two layers."""
    prime: tuple[str, ...] = ()
    """Lines before the first layer."""
    says: tuple[tuple[int, str], ...] = ()
    """Layers, and a line before each."""

    def lines(self) -> Iterator[str]:
        """The program."""
        mode = self.head or ("M83" if self.relative else "M82")
        yield from ("G21", "G90", mode, "G28", f"G92 E{self.first_e:.4f}", "G0 F3000")
        e = self.first_e
        yield from self.prime
        for layer in range(self.layers):
            yield from self.lift if layer else ()
            yield from (line for at, line in self.says if at == layer)
            if self.resets:
                yield "G92 E0"
                e = 0.0
            points = list(ring(self.shape, layer, self.sides))
            if self.wipe_mm3 and layer:
                e += self.wipe_mm3
                yield self.flight(points[0], e - self.wipe_mm3)
                yield f"G1 E{self.wipe_mm3 if self.relative else e:.4f} F600"
            for push in (-self.relief_mm3, self.relief_mm3) if self.relief_mm3 and layer else ():
                e += push
                yield f"G1 E{push if self.relative else e:.4f} F600"
                if push < 0:
                    yield self.flight(points[0], e)
            yield self.flight(points[0], e)
            for at, (start, end) in enumerate(pairwise(points), 1):
                if self.dash and at % self.dash == 0:
                    yield self.flight(end, e)
                    continue
                push = self.flows[layer % len(self.flows)] * SECTION_MM2 * math.dist(start, end)
                push *= 1 + self.thick * math.sin(10 * math.pi * at / self.sides)
                e += push
                yield f"G1 {words(end)} E{push if self.relative else e:.4f} F1500"
            if self.wipe_mm3:
                e -= self.wipe_mm3
                yield f"G1 {words(points[-2])} E{-self.wipe_mm3 if self.relative else e:.4f} F1500"
        yield "G0 Z60"

    def flight(self, to: tuple[float, float, float], e: float) -> str:
        """A travel."""
        if self.by_g1:
            return f"G1 {words(to)} E{0 if self.relative else e:.4f}"
        return f"G0 {words(to)}"

    @property
    def text(self) -> str:
        """The program, with its last line ended."""
        return "\n".join(self.lines()) + "\n"

    def with_(self, **how: object) -> Pot:
        """The same with something else."""
        return replace(self, **how)

    @property
    def first_e_line(self) -> int:
        """The line, from 1, of the first move with an E."""
        return next(at for at, line in enumerate(self.lines(), 1) if line.startswith("G1") and "E" in line)


def words(to: tuple[float, float, float]) -> str:
    """X, Y and Z."""
    x, y, z = to
    return f"X{x:.4f} Y{y:.4f} Z{z:.4f}"


def told(survey_of: SurveyOf, program: str, **how: object) -> tuple[str, ...]:
    """What the survey says, or why it refuses the file."""
    try:
        return survey_of(program, **how).warnings
    except SourceError as error:
        return (str(error),)
