"""A hypothesis strategy for round walls that bob up and down within a turn, as rings or without an end.

A wave is as high as is drawn, from a tenth of what a turn rises by to more than twice as much, grows from the foot
on, and may turn with height; each bead lies above the one below it everywhere. The first turn lies level on the bed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from hypothesis import strategies as st

from tests.reference.pieces import Piece
from tests.reference.state import Dialect

MIDDLE_MM = 100.0
LEAST_GAP = 0.3
"""Of the rise: so far a bead lies above that below it at the least."""
SECTION_MM2 = 6.0


@dataclass(frozen=True)
class WavyWall:
    """The form of a wall, and how its program is written."""

    rise_mm: float
    depth: float
    """From trough to crest, in rises."""
    waves: int
    """In a turn."""
    grown: int
    """Turns until the wave has its depth; 1: from the second turn on."""
    level: int
    """Turns below the wave."""
    twist: float
    """How far the wave turns from turn to turn, of the most that keeps each bead above that below."""
    phase: float
    """Where in the wave the seam lies, of a whole wave."""
    spiral: bool
    """Without an end; else rings."""
    arcs: bool
    """Each stroke an arc that climbs or falls evenly; else straight."""
    strokes: int
    """In half a wave."""
    layers: int
    radius_mm: float = 30.0
    relative: bool = False
    inch: bool = False

    def height_mm(self, layer: int, turn: float) -> float:
        """Of the bead of a layer, counted from 0, after a share of its turn."""
        along = layer - 1 + turn if self.spiral and layer else float(layer)
        rise_mm = self.rise_mm * (along + 1)
        grown = min(max(along - self.level, 0.0) / self.grown, 1.0)
        most = (1 - LEAST_GAP) / (math.pi * self.depth)  # of a wave, from turn to turn
        wave = self.waves * turn + self.phase + self.twist * most * along
        return rise_mm + self.rise_mm * self.depth * grown * (1 - math.cos(2 * math.pi * wave)) / 2

    def points(self, layer: int) -> Iterator[tuple[float, float, float]]:
        """The places at the ends of a layer's strokes, and where it begins."""
        count = 2 * self.waves * self.strokes
        for step in range(count + 1):
            angle = 2 * math.pi * step / count
            x, y = (MIDDLE_MM + self.radius_mm * part for part in (math.cos(angle), math.sin(angle)))
            yield x, y, self.height_mm(layer, step / count)

    def piece(self) -> Piece:
        """Its program."""
        lines = ["G20" if self.inch else "G21", "G90", "M83", "G28"]
        unit, first = 25.4 if self.inch else 1.0, []
        lines.append(f"G0 Z{20 / unit:.4f} F{3000 / unit:.1f}")
        lines += ["G91"] * self.relative
        e_mode = ["M83"] * self.relative
        lines += e_mode
        at = (0.0, 0.0, round(20 / unit, 5))

        def go(code: str, goal: tuple[float, float, float], more: str = "") -> None:
            nonlocal at
            there = tuple(round(mm / unit, 5) for mm in goal)
            said = [to - here for to, here in zip(there, at, strict=True)] if self.relative else there
            lines.append(f"{code} X{said[0]:.5f} Y{said[1]:.5f} Z{said[2]:.5f}{more}")
            at = there

        for layer in range(self.layers):
            start, *rest = self.points(layer)
            if not layer or not self.spiral:
                go("G0", (at[0] * unit, at[1] * unit, max(at[2] * unit, start[2] + 3)))
                go("G0", (start[0], start[1], at[2] * unit))
            if not layer or not self.spiral or math.dist(tuple(mm * unit for mm in at), start) > 1e-3:
                go("G0", start)
            first.append(len(lines))
            for x, y, z in rest:
                path_mm = math.dist((at[0] * unit, at[1] * unit, at[2] * unit), (x, y, z))
                more = f" E{path_mm * SECTION_MM2 / unit:.4f} F{1200 / unit:.1f}"
                centre = (MIDDLE_MM - at[0] * unit, MIDDLE_MM - at[1] * unit)
                how = f" I{centre[0] / unit:.5f} J{centre[1] / unit:.5f}" if self.arcs else ""
                go("G3" if self.arcs else "G1", (x, y, z), how + more)
        heights = tuple(max(z for _, _, z in self.points(layer)) for layer in range(self.layers))
        return Piece(
            ("\n".join(lines) + "\n").encode(), Dialect(), "continuous" if self.spiral else "flat", heights, (), (),
            tuple(first), 0.0, 0.0, relative=self.relative, e_relative=True, inch=self.inch,
        )  # fmt: skip


@st.composite
def wavy_walls(draw: st.DrawFn, *, least: float = 0.1, most: float = 2.6) -> WavyWall:
    """A wall whose wave is so many rises high, or less while it grows."""
    depth = draw(st.sampled_from([0.1, 0.25, 0.5, 0.9, 1.0, 1.7, 2.0, 2.6]).filter(lambda at: least <= at <= most))
    grown = draw(st.integers(math.ceil(depth / 0.6), 6)) if depth > LEAST_GAP else draw(st.integers(1, 4))
    level = draw(st.sampled_from([0, 0, 4]))
    return WavyWall(
        rise_mm=draw(st.sampled_from([1.2, 2.0, 3.0])),
        depth=depth,
        waves=draw(st.integers(1, 6)),
        grown=grown,
        level=level,
        twist=draw(st.sampled_from([0.0, 0.0, 0.5, -0.5, 1.0, -1.0])),
        phase=draw(st.sampled_from([0.0, 0.25, 0.5, 0.8])),
        spiral=draw(st.booleans()),
        arcs=draw(st.booleans()),
        strokes=draw(st.integers(4, 9)),
        layers=level + draw(st.integers(grown + 5, grown + 9)),
        relative=draw(st.booleans()),
        inch=draw(st.booleans()),
    )
