"""What all kinds of wall share: sizes, strokes before and after, a base, a rim, rings and rising turns."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal, TypeAlias

from tests.reference.scripted.choices import Choices
from tests.reference.scripted.forms import Form, Spot, circle
from tests.reference.scripted.script import Script

Step: TypeAlias = Literal["along", "before", "after"]
"""When a stroke rises: all along it, by Z alone before it, or by Z alone after it."""
MOST_STROKES = 2400
"""A drawn wall has about so many at most, so that thousands can be drawn."""
FAR_MM = 220.0
"""Beyond every wall, however it leans and opens."""

LOBE_DEPTH = 0.15
LOOP_WIDTHS = 3
"""How many beads a loop around the piece lies from it."""


@dataclass(frozen=True)
class Pot:
    """Sizes that every kind of wall has."""

    bead_mm: float
    """Height of a bead: what a layer rises by."""
    width_mm: float
    first_mm: float
    """Height of the nozzle at the start."""
    radius_mm: float
    centre: Spot
    aside_mm: float
    """How far from the centre the strokes before and after lie."""

    @property
    def bead_mm2(self) -> float:
        """Section of the bead."""
        return self.bead_mm * self.width_mm


def draw_pot(choices: Choices, *, near: bool) -> Pot:
    """Any sizes; near: the strokes before and after are close by."""
    bead = choices.pick("bead_mm", [2.0, 1.0, 0.8, 1.5, 3.0, 4.0])
    radius, width = choices.real("radius_mm", 15, 70, 40), choices.pick("width_mm", [6.0, 4.0, 8.0])
    widest = (1 + LOBE_DEPTH) * radius + LOOP_WIDTHS * width
    return Pot(
        bead_mm=bead,
        width_mm=width,
        first_mm=bead * choices.pick("first", [1.0, 0.6, 0.5, 0.0]),
        radius_mm=radius,
        centre=choices.pick("centre", [(100.0, 100.0), (0.0, 0.0), (150.0, 120.0)]),
        aside_mm=widest + choices.real("gap_mm", 10, 90, 40) if near else FAR_MM,
    )


def how_many(choices: Choices, points: int, most: int = 60) -> int:
    """Turns or layers of so many points."""
    return choices.whole("turns", 5, max(5, min(most, MOST_STROKES // points)), 10)


# --- strokes outside ---


def lead_in(script: Script, choices: Choices, pot: Pot, shapes: Sequence[str]) -> None:
    """A priming stroke along the bed's edge before the piece."""
    shape = choices.pick("lead_in", shapes)
    if shape == "none":
        return
    z = choices.pick("lead_in_at", [pot.first_mm, pot.first_mm + 0.7 * pot.bead_mm, 0.4 * pot.bead_mm])
    x, y = pot.centre[0] - pot.aside_mm, pot.centre[1]
    long = choices.real("lead_in_mm", 10, 120, 80)
    ways: dict[str, list[Spot]] = {
        "line": [(x, y + long)],
        "double": [(x, y + long), (x - 4, y + long), (x - 4, y)],
        "back": [(x, y + long), (x, y)],
        "corner": [(x, y + long), (x - long / 2, y + long)],
        "zigzag": [(x - 5 * (i % 2), y + 4.0 * i) for i in range(1, 9)],
        "in steps": [(x, y + long * i / 10) for i in range(1, 11)],
    }
    script.travel(x, y, z)
    script.leave("lead-in")
    script.lay_path(ways[shape], z)


def lead_out(script: Script, choices: Choices, pot: Pot, shapes: Sequence[str]) -> None:
    """A stroke after the end: beside the piece, on its rim, inwards from it, or without clay."""
    shape = choices.pick("lead_out", shapes)
    x, y, z = script.pen.meant
    last = script.laid[-1]
    along = math.atan2(last.end[1] - last.start[1], last.end[0] - last.start[0])
    inwards = math.atan2(pot.centre[1] - y, pot.centre[0] - x)
    if shape in ("low", "high"):
        z = pot.first_mm + 0.3 * pot.bead_mm if shape == "low" else script.top_mm + 6
        script.travel(pot.centre[0] - pot.aside_mm - 10, pot.centre[1], z)
        script.leave("lead-out")
        script.lay_path([(pot.centre[0] - pot.aside_mm - 10, pot.centre[1] + 25)], z)
    elif shape in ("along", "inwards"):
        angle, long = (along, 4.0) if shape == "along" else (inwards, 6.0)
        script.leave("tail")
        script.lay(x + long * math.cos(angle), y + long * math.sin(angle), z)
    elif shape == "step":
        script.leave("tail")
        script.rise(z + pot.bead_mm, laid=True)
    elif shape == "wipe":
        script.go(x + 15 * math.cos(along), y + 15 * math.sin(along), z)


def skirt(script: Script, form: Form, pot: Pot, z: float) -> None:
    """A loop around the piece, apart from it: it holds nothing up, and is no part of any layer."""
    # of the first turns: a wall that leans or opens comes near it else
    widest = max(math.dist(spot, form.centre) for turn in (0.0, 1.0, 2.0) for spot in form.ring(turn))
    loop = Form(tuple(circle(48, widest + LOOP_WIDTHS * pot.width_mm)), form.centre).ring(0.0)
    script.travel(*loop[0], z)
    script.leave("lead-in")
    script.lay_path(loop[1:], z)


# --- level parts ---


def lay_ring(script: Script, ring: Sequence[Spot], z: float) -> None:
    """Travel to a ring and lay it at one height."""
    script.travel(*ring[0], z)
    script.lay_path(ring[1:], z)


def lay_spiral(script: Script, form: Form, z: float, *, inwards: bool) -> None:
    """A level spiral from the middle out, with a full ring at its end, or the same the other way round."""
    points = 3 * form.points
    spots = [form.place(i, 0.0, share=0.1 + 0.9 * i / points) for i in range(points + 1)] + form.ring(0.0)[1:]
    lay_ring(script, spots[::-1] if inwards else spots, z)


def lay_zigzag(script: Script, form: Form, pot: Pot, z: float) -> None:
    """A level zigzag within a ring."""
    half = 0.6 * min(math.dist(spot, form.centre) for spot in form.ring(0.0))
    rows = max(int(2 * half / pot.width_mm), 2)
    spots = []
    for row in range(rows + 1):
        y = form.centre[1] - half + 2 * half * row / rows
        ends = [(form.centre[0] - half, y), (form.centre[0] + half, y)]
        spots += ends[::-1] if row % 2 else ends
    lay_ring(script, spots, z)


def foundation(
    script: Script, choices: Choices, pot: Pot, form: Form, *, hollow: bool = False
) -> float | None:
    """A flat base and its top height; None without one. Hollow: the outline doesn't surround its centre."""
    bases = ["none", "none", "rings"] if hollow else ["none", "none", "rings", "spiral", "zigzag"]
    base = choices.pick("base", bases)
    if base == "none":
        return None
    layers, around = choices.whole("base_layers", 1, 3, 2), choices.pick("skirt", [False, False, True])
    shares = [1.0] if hollow else choices.pick("base_rings", [[1.0, 0.7, 0.4], [0.4, 0.7, 1.0], [1.0]])
    for layer in range(layers):
        z = pot.first_mm + layer * pot.bead_mm
        if around and layer == 0:
            skirt(script, form, pot, z)
        script.open_layer("level")
        if base == "spiral":
            lay_spiral(script, form, z, inwards=(layers - layer) % 2 == 0)
        elif base == "zigzag":
            lay_ring(script, form.ring(0.0), z)
            lay_zigzag(script, form, pot, z)
        else:
            for share in shares:
                lay_ring(script, form.ring(0.0, share=share), z)
    return pot.first_mm + (layers - 1) * pot.bead_mm


def rim(script: Script, choices: Choices, form: Form, turns: float, z: float) -> None:
    """A level ring on a rising wall that ends at its seam; or none."""
    if choices.pick("rim", [False, False, True]):
        script.open_layer("level")
        lay_ring(script, form.ring(turns), z)


# --- rising parts ---


def wall_start(choices: Choices, pot: Pot, floor: float | None, *, level: bool = False) -> float:
    """Where a wall begins to rise. One that begins with a level stroke can't begin on the base's own height."""
    if floor is None:
        return pot.first_mm
    return floor + pot.bead_mm * (1 if level else choices.pick("start", [0, 1]))


def seams(choices: Choices, points: int, turns: int) -> list[int]:
    """After how many strokes each turn begins, and the last ends.

    The last may be a part of a turn: less than 0.4 of one belongs to the turn before, more than 0.6 is one.
    """
    part = round(points * choices.pick("part", [0.0, 0.0, 0.0, 0.15, 0.3, 0.7, 0.9]))
    bounds = [turn * points for turn in range(turns + 1)]
    if 0 < part <= 0.4 * points:
        bounds[-1] += part
    elif 0.6 * points <= part < points:
        bounds.append(bounds[-1] + part)
    return bounds


@dataclass(frozen=True)
class Manner:
    """How the strokes of a rising wall are laid."""

    step: Step = "along"
    laid_step: bool = False
    """Steps by Z alone lay clay."""
    arcs: bool = False


def lay_stroke(script: Script, form: Form, stroke: int, z: float, manner: Manner) -> None:
    """The stroke that ends at point `stroke`, and the step before or after it."""
    x, y = form.place(stroke)
    if manner.step == "before":
        script.rise(z, laid=manner.laid_step)
    at = script.pen.meant[2] if manner.step == "after" else z
    if manner.arcs:
        sweep = math.tau / form.points
        script.lay_arc(x, y, at, form.centre, clockwise=form.clockwise, sweep_rad=sweep)
    else:
        script.lay(x, y, at)
    if manner.step == "after":
        script.rise(z, laid=manner.laid_step)


def lay_turns(
    script: Script, form: Form, height: Callable[[int], float], bounds: Sequence[int], manner: Manner
) -> None:
    """A rising wall: each turn a layer, the heights by strokes."""
    for first, last in pairwise(bounds):
        script.open_layer("turn")
        script.travel(*form.place(first), height(first))
        for stroke in range(first + 1, last + 1):
            lay_stroke(script, form, stroke, height(stroke), manner)


def even_rise(start: float, bead: float, points: int) -> Callable[[int], float]:
    """Heights that rise by a bead a turn."""
    return lambda stroke: start + bead * stroke / points


def drawn_form(choices: Choices, pot: Pot, points: int) -> Form:
    """A round, oval or lobed form; the lobes may swirl while the points don't."""
    outline = circle(points, pot.radius_mm)
    form = Form(tuple(outline), pot.centre, clockwise=choices.pick("clockwise", [False, True]))
    shape = choices.pick("outline", ["round", "oval", "lobed"])
    if shape == "oval":
        return replace(form, outline=tuple((x, 0.6 * y) for x, y in outline))
    if shape == "lobed" and points >= 36:
        swirl = choices.pick("swirl_rad", [0.0, 0.03, -0.06])
        return replace(
            form, lobes=choices.whole("lobes", 2, points // 12, 3), lobe_depth=LOBE_DEPTH, swirl_rad=swirl
        )
    return form
