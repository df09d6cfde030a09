"""The way of the nozzle for a demo piece: its moves as columns, and the fixed lines between them."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from gpost.demo.shape import Floats, Piece, axis, circle, inner_radius, ring_radii, spiral, turn
from gpost.demo.style import SliceStyle

PRIME_MM3 = 12_000.0
"""Clay pushed out before the piece."""
RELIEF_MM3 = 120.0
"""Clay drawn back before a travel and given again after it."""
HOP_MM = 4.0
CLEAR_MM = 20.0
"""Height above the piece or the bed on the way to and from it."""
PUSH_FEED_MM_MIN = 6000.0
"""Feed of the E axis when it moves alone."""

MOVE_DTYPE = np.dtype(
    [
        ("code", "u1"),  # 0 travel, 1 straight, 3 arc
        ("to_mm", "f8", 3),
        ("centre_mm", "f8", 2),  # of an arc, from its start
        ("lays", "?"),
        ("push_mm3", "f8"),  # clay of a move that lays none: prime and relief
        ("feed_mm_min", "f8"),
        ("layer", "i4"),  # counted from 0; -1 before and after the piece
    ]
)
"""One row a move."""


@dataclass
class Track:
    """The moves so far, and the fixed lines between them. The nozzle starts at the machine's zero.

    Places in `lines`, `zeroed` and `relative` are numbers of the move they stand before.
    """

    style: SliceStyle
    blocks: list[NDArray[np.void]] = field(default_factory=list)
    count: int = 0
    layer: int = -1
    at_mm: Floats = field(default_factory=lambda: np.zeros(3))
    lines: list[tuple[int, str]] = field(default_factory=list)
    zeroed: list[int] = field(default_factory=list)
    relative: list[int] = field(default_factory=list)
    """From and to: where axis words are increments."""

    @property
    def moves(self) -> NDArray[np.void]:
        """All moves, shape (count,), MOVE_DTYPE."""
        return np.concatenate(self.blocks)

    def say(self, *texts: str) -> None:
        """Add fixed lines."""
        self.lines += [(self.count, text) for text in texts]

    def remark(self, text: str) -> None:
        """Add a comment line, if the style has comments."""
        if self.style.comments:
            self.say(f"; {text}")

    def zero_e(self) -> None:
        """Set the E counter to 0."""
        self.zeroed.append(self.count)
        self.say("G92 E0")

    def axes(self, *, relative: bool) -> None:
        """Set how axis words count; E is said again, since G90 and G91 may switch it too."""
        self.say("G91" if relative else "G90", "M83" if self.style.relative_e else "M82")

    def push(self, volume_mm3: float) -> None:
        """Move clay and nothing else."""
        rows = self._rows(1, self.at_mm, 1, PUSH_FEED_MM_MIN)
        rows["push_mm3"] = volume_mm3

    def go(self, *points_mm: Floats) -> None:
        """Travel straight through points."""
        self._rows(len(points_mm), np.array(points_mm), 0, self.style.travel_feed_mm_min)

    def travel(self, point_mm: Floats) -> None:
        """Travel to a point in the style's manner; nothing if the nozzle is there."""
        if np.allclose(point_mm, self.at_mm, rtol=0, atol=self.style.step_mm / 4):
            return
        if self.style.retract:
            self.push(-RELIEF_MM3)
        if self.style.z_hop:
            top = max(self.at_mm[2], point_mm[2]) + HOP_MM
            self.go(np.append(self.at_mm[:2], top), np.append(point_mm[:2], top))
        self.go(point_mm)
        if self.style.retract:
            self.push(RELIEF_MM3)

    def lay(self, points_mm: Floats) -> None:
        """Travel to the first point, then lay clay through the others; points (n, 3)."""
        self.travel(points_mm[0])
        rows = self._rows(len(points_mm) - 1, points_mm[1:], 1, self._laying_feed)
        rows["lays"] = True

    def lay_arcs(self, centre_mm: Floats, radius_mm: float, z_mm: float) -> None:
        """Lay a whole circle as two half arcs, counter-clockwise."""
        around = circle(centre_mm, radius_mm, z_mm, 2)
        self.travel(around[0])
        rows = self._rows(2, around[1:], 3, self._laying_feed)
        rows["lays"] = True
        rows["centre_mm"] = [[-radius_mm, 0], [radius_mm, 0]]

    @property
    def _laying_feed(self) -> float:
        factor = self.style.slow_first_factor if self.layer == 0 else 1.0
        return self.style.feed_mm_min * factor

    def _rows(self, count: int, to_mm: Floats, code: int, feed_mm_min: float) -> NDArray[np.void]:
        rows = np.zeros(count, MOVE_DTYPE)
        rows["code"], rows["to_mm"], rows["feed_mm_min"] = code, to_mm, feed_mm_min
        rows["layer"] = self.layer
        self.blocks.append(rows)
        self.count += count
        self.at_mm = rows["to_mm"][-1].copy()
        return rows


def lay_out(piece: Piece, style: SliceStyle) -> Track:
    """The whole way of the nozzle: opening, base, wall and end."""
    track = Track(style)
    _open(track, piece)
    for level, (start, end) in enumerate(_wall_heights(piece, style)):
        _begin_layer(track)
        if level < piece.base_layers:
            _base(track, piece, level)
        _wall_turn(track, piece, start, end)
    _close(track)
    return track


def _wall_heights(piece: Piece, style: SliceStyle) -> list[tuple[float, float]]:
    """Nozzle height in mm at the start and the end of each turn of the wall."""
    levels = piece.layers if style.wall == "flat" else max(piece.base_layers, int(style.level_first))
    tops = [(level + 1) * piece.layer_mm for level in range(piece.layers)]
    heights = [(top, top) for top in tops[:levels]]
    if style.wall == "rise":
        rising = tops[max(levels, 1) - 1 :]
        heights += pairwise(rising)
        heights += [(tops[-1], tops[-1])] * style.level_last
    return heights


def _open(track: Track, piece: Piece) -> None:
    style = track.style
    track.remark(f"{piece.name}, {piece.layers} layers of {piece.layer_mm:g} mm")
    track.say("G20" if style.inches else "G21")
    track.axes(relative=False)
    if style.heaters:
        track.say("M140 S60", "M104 S205", "M190 S60", "M109 S205", "M107")
    track.say("G28")
    track.zero_e()
    track.go(np.array([0.0, 0.0, CLEAR_MM]))
    if style.prime_in_place:
        track.push(PRIME_MM3)
        track.zero_e()
    if style.relative_axes:
        track.axes(relative=True)
        track.relative.append(track.count)


def _begin_layer(track: Track) -> None:
    track.layer += 1
    track.remark("next ring")
    if track.style.heaters and 1 <= track.layer <= 3:
        track.say(f"M106 S{85 * track.layer}")
    if track.style.g92_every_layer:
        track.zero_e()


def _base(track: Track, piece: Piece, level: int) -> None:
    """Fill the disc inside the wall, from the middle outwards."""
    track.remark("base")
    centre = axis(piece, np.array([(level + 0.5) * piece.layer_mm]))[0]
    z = (level + 1) * piece.layer_mm
    radii = ring_radii(piece, level)
    if track.style.base == "spiral":
        reach = inner_radius(piece, level) - piece.bead_width_mm / 2
        turns = round(reach / piece.bead_width_mm)
        if turns > 0:
            track.lay(spiral(centre, reach, turns, z, piece.segments))
        radii = np.array([reach] if reach > 0 else [])
    for radius_mm in radii:
        _circle(track, piece, centre, float(radius_mm), z)


def _circle(track: Track, piece: Piece, centre_mm: Floats, radius_mm: float, z_mm: float) -> None:
    """Lay a circle; that of arcs has a centre the file can say, so that both ends are as far from it."""
    if track.style.arcs:
        step = track.style.step_mm
        track.lay_arcs(np.rint(centre_mm / step) * step, radius_mm, z_mm)
    else:
        track.lay(circle(centre_mm, radius_mm, z_mm, piece.segments))


def _wall_turn(track: Track, piece: Piece, start_mm: float, end_mm: float) -> None:
    track.remark("wall")
    points = turn(piece, start_mm, end_mm)
    track.travel(points[0])
    track.lay(points)


def _close(track: Track) -> None:
    if track.style.relative_axes:
        track.axes(relative=False)
        track.relative.append(track.count)
    track.layer = -1
    track.remark("end")
    track.go(track.at_mm + np.array([0.0, 0.0, CLEAR_MM]))
    if track.style.heaters:
        track.say("M107", "M104 S0", "M140 S0")
    track.say("M84")
