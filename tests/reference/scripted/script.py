"""A potter's script at work: it travels, lays, starts layers, and knows the truth of what it writes."""

from __future__ import annotations

import math
from collections.abc import Iterable

from tests.reference.scripted.pen import METERINGS, Pen, Style
from tests.reference.scripted.truth import Laid, LayerKind, Point, Stroke, StrokeKind, Tally, Wall

Spot = tuple[float, float]
LAY_MM_MIN = 1500.0
TRAVEL_MM_MIN = 3000.0
LIFT_MM = 5.0
LINES_BETWEEN_RESETS = 37


class Script:
    """Writes one wall. What is laid belongs to the layer opened last, to a stroke outside, or to an odd stretch."""

    def __init__(self, style: Style, bead_mm2: float) -> None:
        self.pen = Pen(style)
        self.bead_mm2 = bead_mm2
        self.tallies: list[Tally] = []
        self.tally: Tally | None = None
        self.strokes: list[tuple[StrokeKind, list[Laid]]] = []
        self.laid: list[Laid] = []
        self.top_mm = 0.0
        """The highest height so far: lifts go above it."""
        self.odd_from: int | None = None
        self.last_reset = 0
        self.pen.head()

    # --- whose clay it is ---

    def open_layer(self, kind: LayerKind) -> None:
        """What is laid from now on is a new layer."""
        self.tally = Tally(kind)
        self.tallies.append(self.tally)
        style = self.pen.style
        if style.comment:
            self.pen.say(style.comment.format(len(self.tallies)))
        if style.e_reset == "layer":
            self.pen.reset_e()

    def leave(self, kind: StrokeKind) -> None:
        """What is laid from now on is a stroke that belongs to no layer."""
        self.tally = None
        self.strokes.append((kind, []))

    def go_odd(self) -> None:
        """From now on no layers can be told."""
        self.tally = None
        self.odd_from = len(self.laid)

    # --- moves ---

    @property
    def here(self) -> Point:
        """Where the nozzle is."""
        return self.pen.here

    def note(self, move: Laid | None) -> None:
        """Count what a move laid."""
        if move is None:
            return
        self.laid.append(move)
        self.top_mm = max(self.top_mm, move.end[2])
        if self.tally is not None:
            self.tally.moves.append(move)
        elif self.odd_from is None and self.strokes:
            self.strokes[-1][1].append(move)

    def lay(self, x: float, y: float, z: float) -> None:
        """A stroke with clay."""
        if self.pen.style.e_reset == "often" and len(self.pen.lines) > self.last_reset + LINES_BETWEEN_RESETS:
            self.pen.reset_e()
            self.last_reset = len(self.pen.lines)
        clay = math.dist(self.pen.meant, (x, y, z)) * self.bead_mm2
        self.note(self.pen.move("G1", (x, y, z), clay_mm3=clay, feed=LAY_MM_MIN))

    def lay_path(self, path: Iterable[Spot], z: float) -> None:
        """Strokes at one height."""
        for x, y in path:
            self.lay(x, y, z)

    def lay_arc(
        self, x: float, y: float, z: float, centre: Spot, *, clockwise: bool, sweep_rad: float
    ) -> None:
        """An arc with clay; a helix, if z changes."""
        radius = math.dist(self.pen.meant[:2], centre)
        clay = math.hypot(radius * sweep_rad, z - self.pen.meant[2]) * self.bead_mm2
        middle = (centre[0], centre[1], z)
        code = "G2" if clockwise else "G3"
        self.note(self.pen.move(code, (x, y, z), clay_mm3=clay, feed=LAY_MM_MIN, centre=middle))

    def rise(self, z: float, *, laid: bool) -> None:
        """Z alone, with or without clay."""
        x, y, low = self.pen.meant
        if self.tally is not None:
            self.tally.step_mm = max(self.tally.step_mm, abs(z - low))
        clay = abs(z - low) * self.bead_mm2 if laid else 0.0
        self.note(self.pen.move("G1", (x, y, z), clay_mm3=clay, feed=LAY_MM_MIN, only="Z"))

    def travel(self, x: float, y: float, z: float) -> None:
        """Go there without clay, in the script's own way; nothing, if it is there already."""
        if math.dist(self.pen.meant, (x, y, z)) < 1e-9:
            return
        style, pen = self.pen.style, self.pen
        if style.retract_mm3 and self.laid:
            pen.push(-style.retract_mm3)
        here = pen.meant
        high = max(self.top_mm, here[2], z) + LIFT_MM
        if style.travel == "hop":
            self.go(here[0], here[1], high)
        elif style.travel == "toggled":
            pen.lift(high - here[2])
        if style.travel == "over":
            self.go((here[0] + x) / 2, (here[1] + y) / 2, high)
        elif style.travel != "straight":
            self.go(x, y, high)
        self.go(x, y, z)
        if style.retract_mm3 and self.laid:
            pen.push(style.retract_mm3)

    def go(self, x: float, y: float, z: float) -> None:
        """One move without clay."""
        self.pen.move(self.pen.style.travel_code, (x, y, z), feed=TRAVEL_MM_MIN)

    # --- the end ---

    def wall(self, kind: str, pieces: int = 1) -> Wall:
        """The program and its truth."""
        self.pen.foot()
        style = self.pen.style
        flat = [0.0]
        for move in self.laid:
            flat.append(flat[-1] + move.flat_mm)
        odd = None
        if self.odd_from is not None:
            odd = (self.laid[self.odd_from].line, self.laid[-1].line + 1)
        return Wall(
            kind=kind,
            program=self.pen.text(),
            metering=METERINGS[style.metering][0],
            mm3_per_e=self.pen.mm3_per_e,
            grain_mm=style.grain_mm,
            layers=tuple(tally.layer() for tally in self.tallies),
            strokes=tuple(
                Stroke(name, moves[0].line, moves[-1].line) for name, moves in self.strokes if moves
            ),
            pieces=pieces,
            odd=odd,
            laying_lines=tuple(move.line for move in self.laid),
            flat_before_mm=tuple(flat),
        )
