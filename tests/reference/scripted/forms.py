"""Sections of walls as closed outlines, and how an outline changes while the wall goes up."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

Spot = tuple[float, float]


def on_circle(radius: float, angle: float) -> Spot:
    """A point at this distance and angle (rad)."""
    return (radius * math.cos(angle), radius * math.sin(angle))


def circle(points: int, radius: float) -> list[Spot]:
    """A round, or a regular polygon with a point at each corner."""
    return [on_circle(radius, math.tau * i / points) for i in range(points)]


def star(tips: int, radius: float, share: float) -> list[Spot]:
    """A star: tips on the radius, the points between them at a share of it."""
    return [on_circle(radius * (share if i % 2 else 1), math.pi * i / tips) for i in range(2 * tips)]


def gear(teeth: int, radius: float, depth: float) -> list[Spot]:
    """A wheel with teeth, four points to each."""
    inner = radius - depth
    places = [(radius, 0.0), (radius, 0.4), (inner, 0.5), (inner, 0.9)]
    return [on_circle(r, math.tau * (i + part) / teeth) for i in range(teeth) for r, part in places]


def crescent(points: int, radius: float, thick: float, span_rad: float, *, horned: bool) -> list[Spot]:
    """The outline of a band along a part of a circle; horned: it thins out to both ends.

    Starts at one end, goes along the outer side, and comes back along the inner one.
    """
    half = points // 2
    outer, inner = [], []
    for i in range(half + 1):
        width = thick / 2 * (math.sin(math.pi * i / half) if horned else 1.0)
        angle = span_rad * (i / half - 0.5)
        outer.append(on_circle(radius + width, angle))
        inner.append(on_circle(radius - width, angle))
    return outer + (inner[-2:0:-1] if horned else inner[::-1])


def band(line: Sequence[Spot], thick: float) -> list[Spot]:
    """The outline of a band of even thickness along a line."""
    left, right = [], []
    for i, (x, y) in enumerate(line):
        before, after = line[max(i - 1, 0)], line[min(i + 1, len(line) - 1)]
        along = math.atan2(after[1] - before[1], after[0] - before[0])
        dx, dy = on_circle(thick / 2, along + math.pi / 2)
        left.append((x + dx, y + dy))
        right.append((x - dx, y - dy))
    return right + left[::-1]


def u_shape(points: int, radius: float, leg: float, thick: float) -> list[Spot]:
    """The outline of a U: two legs and half a circle."""
    bend = max(points // 6, 6)
    side = max(points // 6, 2)
    legs = [leg * i / side for i in range(side)]
    line = [(leg - x, -radius) for x in legs]
    line += [on_circle(radius, -math.pi / 2 - math.pi * i / bend) for i in range(bend + 1)]
    line += [(x + leg / side, radius) for x in legs]
    return band(line, thick)


def spiral_arm(points: int, radius: float, thick: float, rounds: float) -> list[Spot]:
    """The outline of a band along a spiral that runs outwards."""
    half = max(points // 2, 12)
    pitch = 2.2 * thick
    line = [
        on_circle(radius + pitch * rounds * i / half, math.tau * rounds * i / half) for i in range(half + 1)
    ]
    return band(line, thick)


def straight(_turn: float) -> float:
    """A wall as wide at every height."""
    return 1.0


@dataclass(frozen=True)
class Form:
    """An outline that goes up: the seam is its first point, and stroke s ends at point s of the endless wall."""

    outline: tuple[Spot, ...]
    centre: Spot
    scale: Callable[[float], float] = straight
    """Width as a share of the outline's, by turns."""
    lean_mm: Spot = (0.0, 0.0)
    """The way of the centre in one turn."""
    spin_rad: float = 0.0
    """How far the outline is turned round in one turn."""
    lobes: int = 0
    lobe_depth: float = 0.0
    swirl_rad: float = 0.0
    """How far the lobes wander in one turn; the points don't."""
    clockwise: bool = False

    @property
    def points(self) -> int:
        """Strokes to a turn."""
        return len(self.outline)

    def place(self, stroke: int, turn: float | None = None, *, share: float = 1.0) -> Spot:
        """Point of the wall after so many strokes; of a level outline, if a turn is given. `share`: within it."""
        at = stroke / self.points if turn is None else turn
        index = -stroke if self.clockwise else stroke
        x, y = self.outline[index % self.points]
        size = self.scale(at) * share
        if self.lobes:
            size *= 1 + self.lobe_depth * math.cos(self.lobes * (math.atan2(y, x) - self.swirl_rad * at))
        cos, sin = math.cos(self.spin_rad * at), math.sin(self.spin_rad * at)
        return (
            self.centre[0] + self.lean_mm[0] * at + size * (x * cos - y * sin),
            self.centre[1] + self.lean_mm[1] * at + size * (x * sin + y * cos),
        )

    def ring(self, turn: float, *, start: int = 0, share: float = 1.0) -> list[Spot]:
        """The outline at a height, closed: its first point is its last."""
        return [self.place(start + i, turn, share=share) for i in range(self.points + 1)]

    def perimeter_mm(self) -> float:
        """Length of the outline as drawn."""
        return math.fsum(
            math.dist(a, b) for a, b in zip(self.outline, [*self.outline[1:], self.outline[0]], strict=True)
        )
