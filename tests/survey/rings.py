"""Level rings as a script of one's own writes them, with a dialect of E that can be got wrong."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

SECTION_MM2 = 11.0
"""About that of a bead 6 mm wide and 2 mm high."""


@dataclass(frozen=True)
class Rings:
    """Rings round (100, 100), of `sides` straight beads each; E counts mm^3 and is absolute."""

    rings: int = 6
    radius_mm: float = 20.0
    sides: int = 24
    head: str = "G21\nG90\nM82\nG28\nG92 E0\nG0 F3000\n"
    before_ring: str = ""
    """Lines before each ring but the first."""
    restart: bool = False
    """Whether E begins at 0 in each ring."""
    sign: int = 1
    letter: str = "E"
    first_e: float = 0.0
    """From which E goes on."""

    @property
    def path_mm(self) -> float:
        """Path of each ring."""
        return self.sides * self.side_mm

    @property
    def side_mm(self) -> float:
        """Path of each bead."""
        return 2 * self.radius_mm * math.sin(math.pi / self.sides)

    @property
    def bead_ml(self) -> float:
        """Clay of each bead."""
        return self.side_mm * SECTION_MM2 / 1000

    @property
    def ring_ml(self) -> float:
        """Clay of each ring."""
        return self.bead_ml * self.sides

    def lines(self) -> Iterator[str]:
        """The program, line by line."""
        yield from self.head.splitlines()
        e = self.first_e
        for ring in range(self.rings):
            if ring:
                yield from self.before_ring.splitlines()
            e = 0.0 if self.restart else e
            yield f"G0 X{100 + self.radius_mm:.4f} Y100 Z{2 * ring + 2}"
            for side in range(1, self.sides + 1):
                angle = 2 * math.pi * side / self.sides
                x, y = 100 + self.radius_mm * math.cos(angle), 100 + self.radius_mm * math.sin(angle)
                e += self.sign * self.side_mm * SECTION_MM2
                yield f"G1 X{x:.4f} Y{y:.4f} {self.letter}{e:.4f} F1500"

    @property
    def text(self) -> str:
        """The program; its last line lays clay, and is ended."""
        return "\n".join(self.lines()) + "\n"

    def line_of(self, ring: int, side: int = 1) -> int:
        """The line, from 1, of a bead of a ring, both counted from 1."""
        heads = len(self.head.splitlines()) + (ring - 1) * len(self.before_ring.splitlines())
        return heads + (ring - 1) * (self.sides + 1) + 1 + side
