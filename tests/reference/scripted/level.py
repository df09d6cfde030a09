"""Kinds of wall with level layers, with waved rings, and those that cease to go round."""

from __future__ import annotations

import math
import random
from dataclasses import replace

from tests.reference.scripted.choices import Choices
from tests.reference.scripted.forms import Form, Spot, circle, on_circle
from tests.reference.scripted.pot import (
    Manner,
    Pot,
    drawn_form,
    even_rise,
    foundation,
    how_many,
    lay_ring,
    lay_turns,
    lay_zigzag,
    skirt,
    wall_start,
)
from tests.reference.scripted.script import Script

CLIMBS = ["travel", "laid", "bare"]
"""To the next level layer: by travel, by Z alone with clay, by Z alone without."""
FEW_POINTS = 24
"""From so many strokes a ring on, one that rises makes no rising wall."""


def climb(script: Script, how: str, spot: Spot, z: float) -> None:
    """Up to a layer's height, at its start."""
    if how == "travel" or not script.laid:
        script.travel(*spot, z)
        return
    script.rise(z, laid=how == "laid")
    script.travel(*spot, z)


def waved(script: Script, choices: Choices, pot: Pot) -> None:
    """Rings whose height waves, each begun after a lift and a travel by a short stroke at one height."""
    points = choices.pick("points", [60, 24, 36, 90, 120])
    waves = min(choices.whole("waves", 1, 8, 3), points // 6)
    depth = pot.bead_mm * choices.real("depth", 0.15, 1.5, 0.5)
    phase = choices.real("phase_rad", 0, 6, 0)
    short_mm, overlap = (
        choices.pick("short_mm", [5.0, 2.0, 10.0, 0.0]),
        choices.pick("overlap", [0.0, 0.02, 0.05, 0.1]),
    )
    around = choices.pick("seams", ["aligned", "alternating", "random"])
    chance = random.Random(choices.whole("scatter", 0, 10**6, 1))
    form = drawn_form(choices, pot, points)
    floor = foundation(script, choices, pot, form)
    start = (pot.first_mm if floor is None else floor + pot.bead_mm) + depth

    for layer in range(how_many(choices, points, 40)):
        alternate = layer % 2 * (points // 2)
        seam = {"aligned": 0, "alternating": alternate, "random": chance.randrange(points)}[around]
        heights = [
            start + layer * pot.bead_mm + depth * math.sin(waves * math.tau * (seam + i) / points + phase)
            for i in range(points + round(overlap * points) + 1)
        ]
        spots = [form.place(seam + i, layer) for i in range(len(heights))]
        (x, y), (x_next, y_next) = spots[0], spots[1]
        back = short_mm / math.dist(spots[0], spots[1])
        script.open_layer("turn")
        script.travel(x - (x_next - x) * back, y - (y_next - y) * back, heights[0])
        for spot, z in zip(spots, heights, strict=True):
            script.lay(*spot, z)


def open_walls(script: Script, choices: Choices, pot: Pot) -> None:
    """Level layers of an open C laid to and fro, alone or on rings: each stroke of the C is a layer."""
    segments = choices.pick("points", [60, 8, 20, 100])
    most = math.pi * pot.radius_mm
    opening = choices.real("opening", 0, 1, 0.2) * (most - 3) + 3
    gap = opening / pot.radius_mm
    along = [gap / 2 + (math.tau - gap) * i / segments for i in range(segments + 1)]
    wide = choices.pick("wide", [1.0, 0.6])
    c = [
        (pot.centre[0] + wide * x, pot.centre[1] + y) for x, y in (on_circle(pot.radius_mm, a) for a in along)
    ]
    rings, how = choices.pick("rings", [0, 0, 1, 3, 8]), choices.pick("climb", CLIMBS)
    form = Form(tuple((wide * x, y) for x, y in circle(max(segments, 24), pot.radius_mm)), pot.centre)
    for layer in range(rings):
        if layer == 0 and choices.pick("skirt", [False, False, True]):
            skirt(script, form, pot, pot.first_mm)
        script.open_layer("level")
        lay_ring(script, form.ring(0.0), pot.first_mm + layer * pot.bead_mm)
    for stroke in range(how_many(choices, segments, 40)):
        z = pot.first_mm + (rings + stroke) * pot.bead_mm
        path = c[::-1] if stroke % 2 else c
        script.open_layer("level")
        climb(script, how if stroke else "travel", path[0], z)
        script.lay_path(path[1:], z)


def beside(script: Script, choices: Choices, pot: Pot) -> None:
    """A cup and a column for its handle beside it, at each height one after the other: one layer of one piece."""
    points = choices.pick("points", [48, 24, 90])
    form = drawn_form(choices, pot, points)
    x, y = pot.centre
    column = Form(tuple(circle(12, 6.0)), (x + pot.radius_mm * 1.2 + 14, y))
    layers = how_many(choices, points + 12, 40)
    low, high = sorted((choices.whole("handle_from", 0, layers, 2), choices.whole("handle_to", 0, layers, 8)))
    if (low, high) == (0, 1):  # a ring on which nothing stands is none of the piece
        high = min(2, layers)
    swapped = choices.pick("in_turns", [False, True])
    for layer in range(layers):
        forms = [form, column] if low <= layer < high else [form]
        script.open_layer("level")
        for part in forms[::-1] if swapped and layer % 2 else forms:
            lay_ring(script, part.ring(layer if part is form else 0.0), pot.first_mm + layer * pot.bead_mm)


def rings(script: Script, choices: Choices, pot: Pot) -> None:
    """Level rings, several a height, with a zigzag in some, heights that vary, steps up with or without clay.

    With a ramp each ring's last stroke goes up to the next one's first point, as where a script has only the points
    of a ring and no end. It may be debated whether that is a wall that rises: one stroke of 24 or more is a seam.
    """
    points = choices.pick("points", [60, 4, 12, 24, 120])
    form = drawn_form(choices, pot, points)
    shares = choices.pick("parts", [[1.0], [1.0, 0.8], [0.6, 0.8, 1.0]])
    filled = choices.pick("filled_layers", [0, 0, 2, 60])
    vary = choices.pick("vary", [0.0, 0.0, 0.4])
    climbs = [*CLIMBS, "ramp"] if points >= FEW_POINTS else CLIMBS
    how = choices.pick("climb", climbs) if len(shares) == 1 and not filled else "travel"
    chance = random.Random(choices.whole("scatter", 0, 10**6, 1))
    around, z = choices.pick("skirt", [False, False, True]), pot.first_mm
    for layer in range(how_many(choices, (points + 10) * len(shares))):
        if around and layer == 0:
            skirt(script, form, pot, z)
        script.open_layer("level")
        for share in shares:
            ring = form.ring(layer, share=share)
            if how == "ramp" and layer:
                script.lay_path(ring[:-1], z)
                continue
            climb(script, how if layer else "travel", ring[0], z)
            script.lay_path(ring[1 : -1 if how == "ramp" else None], z)
        if layer < filled:
            lay_zigzag(script, form, pot, z)
        z += pot.bead_mm * (1 + chance.uniform(-vary, vary))


def ceasing(script: Script, choices: Choices, pot: Pot) -> None:
    """A wall that goes round, and then to and fro round an open C while it rises on as before.

    From where it ceases to go round there is no turn and no level: no layers can be told.
    """
    points = choices.pick("points", [60, 24, 36, 90])
    form = drawn_form(choices, pot, points)
    turns = choices.pick("turns_before", [8, 20, 5, 0])
    start, slope = pot.first_mm, pot.bead_mm / points
    if turns:
        start = wall_start(choices, pot, foundation(script, choices, pot, form))
        bounds = [turn * points for turn in range(turns + 1)]
        lay_turns(script, form, even_rise(start, pot.bead_mm, points), bounds, Manner())
    length = round(points * (1 - choices.real("opening", 0.1, 0.5, 0.25)))
    z, at = start + turns * pot.bead_mm, turns * points
    script.travel(*form.place(at), z)
    script.go_odd()
    for sweep in range(choices.whole("sweeps", 5, 20, 12)):
        for step in range(1, length + 1):
            z += slope
            script.lay(*form.place(at + (length - step if sweep % 2 else step), turns), z)


def two_pots(script: Script, choices: Choices, pot: Pot) -> None:
    """One pot after the other on the same slab: two pieces, the layers of the first and then of the second."""
    points, way = choices.pick("points", [36, 60]), choices.pick("way", ["level", "along"])
    turns = how_many(choices, 2 * points, 30)
    for side in (-1, 1):
        centre = (pot.centre[0] + side * (1.2 * pot.radius_mm + 10), pot.centre[1])
        form = drawn_form(choices, replace(pot, centre=centre), points)
        if way == "along":
            bounds = [turn * points for turn in range(turns + 1)]
            lay_turns(script, form, even_rise(pot.first_mm, pot.bead_mm, points), bounds, Manner())
            continue
        for layer in range(turns):
            script.open_layer("level")
            lay_ring(script, form.ring(layer), pot.first_mm + layer * pot.bead_mm)
