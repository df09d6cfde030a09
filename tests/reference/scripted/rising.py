"""Kinds of wall that rise: stairs, changing rises, crescents, nested walls, strands, corners, leaning, arcs."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from itertools import pairwise
from typing import Literal

from tests.reference.scripted.choices import Choices, Fixed
from tests.reference.scripted.forms import Form, Spot, circle, crescent, gear, spiral_arm, star, u_shape
from tests.reference.scripted.pot import (
    Manner,
    Pot,
    Step,
    drawn_form,
    even_rise,
    foundation,
    how_many,
    lay_ring,
    lay_stroke,
    lay_turns,
    rim,
    seams,
    skirt,
    wall_start,
)
from tests.reference.scripted.script import Script

STEPS: list[Step] = ["before", "after", "along"]
WAYS: list[Step | Literal["level"]] = ["along", "before", "after", "level"]
"""How the strokes of a rising wall rise, or level layers instead."""
RIMMED_WAYS: list[Step] = ["along", "before"]
PLAIN_WAYS: list[Step | Literal["level"]] = ["along", "along", "before", "level"]
SAME_SEAM_SHARE = 0.02
"""By how much of its length an outline may be turned round from the first turn to the last, so that the seam that
goes with the outline and the one that stays where it was are the same to all who look."""
MOST_SPUN_TURNS = 40


def lay_wall(
    script: Script,
    choices: Choices,
    pot: Pot,
    form: Form,
    manner: Manner,
    *,
    hollow: bool = False,
    most: int = 60,
) -> None:
    """A base or none, turns that rise by a bead each, a rim or none."""
    base_form = replace(form, outline=tuple(circle(48, pot.radius_mm))) if manner.arcs else form
    floor = foundation(script, choices, pot, base_form, hollow=hollow)
    start = wall_start(choices, pot, floor, level=manner.step == "after")
    bounds = seams(choices, form.points, how_many(choices, form.points, most))
    lay_turns(script, form, even_rise(start, pot.bead_mm, form.points), bounds, manner)
    if not manner.arcs and bounds[-1] % form.points == 0:
        turns = bounds[-1] // form.points
        top = start + turns * pot.bead_mm
        rim(script, choices, form, turns, top if manner.step == "along" else top + pot.bead_mm)


def stairs(script: Script, choices: Choices, pot: Pot) -> None:
    """Level strokes with steps by Z alone between them (or a rise in the strokes), few or many to a turn.

    Two to a turn are half circles; three to twelve are straight or arcs.
    """
    points = choices.pick("points", [120, 4, 2, 3, 6, 8, 12, 24, 60, 200])
    arcs = points == 2 or (points <= 12 and choices.pick("arcs", [False, False, True]))
    if arcs:
        form = Form(
            tuple(circle(points, pot.radius_mm)),
            pot.centre,
            clockwise=choices.pick("clockwise", [False, True]),
        )
    else:
        form = drawn_form(choices, pot, points)
    manner = Manner(choices.pick("step", STEPS), choices.pick("laid_step", [False, True]), arcs)
    lay_wall(script, choices, pot, form, manner)


def changing(script: Script, choices: Choices, pot: Pot) -> None:
    """Turns that rise by different amounts, or each level for a part and rising for the rest.

    Whether a ring that is level for nine tenths is a level layer or a turn may be debated. The nozzle never leaves
    the wall and the wall has no step anywhere: to a potter it is one that rises.
    """
    points = choices.pick("points", [60, 24, 36, 120, 12])
    form, turns = drawn_form(choices, pot, points), how_many(choices, points)
    mode = choices.pick("mode", ["thicker", "sudden", "any", "ramp"])
    level = choices.real("level_share", 0.1, 0.9, 0.5) if mode == "ramp" else 0.0
    chance = random.Random(choices.whole("scatter", 0, 10**6, 1))
    change, factor = choices.real("change_at", 0.2, 0.8, 0.5), choices.pick("factor", [3.0, 0.3])
    tops = [wall_start(choices, pot, foundation(script, choices, pot, form), level=level > 0)]
    for turn in range(turns + 1):
        rise = {
            "thicker": 0.5 + 1.5 * turn / turns,
            "sudden": 1.0 if turn < change * turns else factor,
            "any": chance.uniform(0.4, 2.0),
            "ramp": 1.0,
        }[mode]
        tops.append(tops[-1] + rise * pot.bead_mm)

    def height(stroke: int) -> float:
        turn, part = divmod(stroke, points)
        ramp = max(part / points - level, 0.0) / (1 - level)
        return tops[turn] + (tops[turn + 1] - tops[turn]) * ramp

    bounds = [turn * points for turn in range(turns + 1)]
    lay_turns(script, form, height, bounds, Manner())
    rim(script, choices, form, turns, tops[turns])


def hollow_outline(choices: Choices, pot: Pot, points: int) -> list[Spot]:
    """The outline of a crescent, a U or a spiral arm: its centroid lies outside of it."""
    shape = choices.pick("shape", ["thin", "thick", "horned", "u", "arm"])
    span = math.radians(choices.real("span_deg", 220, 300, 250))
    if shape == "thick":
        return crescent(points, 50, 40, span, horned=False)
    if shape == "u":
        return u_shape(points, 25, choices.real("leg_mm", 40, 80, 60), 10)
    if shape == "arm":
        return spiral_arm(points, 22, 7, choices.real("rounds", 1.1, 1.6, 1.4))
    if shape == "horned":
        return crescent(points, max(pot.radius_mm, 40), 16, span, horned=True)
    return crescent(points, max(pot.radius_mm, 25), 6, span, horned=False)


def crescents(script: Script, choices: Choices, pot: Pot) -> None:
    """Sections whose centroid lies outside of them; they may lean, and twist a little.

    A drawn one twists so little that a seam that goes with the horn and one that stays where it was are the same.
    """
    points = choices.pick("points", [60, 40, 90, 120])
    outline = hollow_outline(choices, pot, points)
    seam = choices.pick("seam", [0, points // 4, points // 2])
    lean = choices.pick("lean_mm", [(0.0, 0.0), (1.0, 0.0), (-0.5, 1.0)])
    form = Form(
        tuple(outline[seam:] + outline[:seam]),
        pot.centre,
        lean_mm=lean,
        clockwise=choices.pick("clockwise", [False, True]),
    )
    reach = max(math.hypot(x, y) for x, y in outline)
    spin = SAME_SEAM_SHARE * form.perimeter_mm() / reach / MOST_SPUN_TURNS
    form = replace(form, spin_rad=choices.pick("spin_rad", [0.0, spin, -spin]))
    way = choices.pick("way", WAYS)
    if way == "level":
        for layer in range(how_many(choices, form.points, MOST_SPUN_TURNS)):
            script.open_layer("level")
            lay_ring(script, form.ring(layer), pot.first_mm + layer * pot.bead_mm)
    else:
        manner = Manner(way, choices.pick("laid_step", [False, True]))
        lay_wall(script, choices, pot, form, manner, hollow=True, most=MOST_SPUN_TURNS)


def nested(script: Script, choices: Choices, pot: Pot) -> None:
    """Two or three walls, one within the other, a turn of each after the other: together one layer of one piece."""
    points, walls = choices.pick("points", [60, 24, 36, 90]), choices.pick("walls", [2, 3])
    gap = choices.real("between_mm", 8, 20, 12)
    outer = drawn_form(choices, replace(pot, radius_mm=max(pot.radius_mm, gap * walls + 8)), points)
    shares = [1 - wall * gap / max(pot.radius_mm, gap * walls + 8) for wall in range(walls)]
    if choices.pick("inner_first", [False, True]):
        shares.reverse()
    start = wall_start(choices, pot, foundation(script, choices, pot, outer))
    for turn in range(how_many(choices, points * walls, 40)):
        script.open_layer("turn")
        for share in shares:
            script.travel(*outer.place(turn * points, share=share), start + turn * pot.bead_mm)
            for stroke in range(turn * points + 1, (turn + 1) * points + 1):
                z = start + pot.bead_mm * stroke / points
                script.lay(*outer.place(stroke, share=share), z)


def strands(script: Script, choices: Choices, pot: Pot) -> None:
    """Two or three strands that start on opposite sides and climb by as many beads a turn, a turn of each in order.

    Whether the strands' turns over the same heights are two layers or one may be debated: they lie on one another
    in one wall, each holding up the next, so each is a layer (nested walls lie beside one another).
    """
    points, starts = choices.pick("points", [60, 24, 36, 120, 12, 6]), choices.pick("strands", [2, 3])
    form = drawn_form(choices, pot, points)
    start = wall_start(choices, pot, foundation(script, choices, pot, form))
    for turn in range(max(how_many(choices, points, 40) // starts, 2)):
        for strand in range(starts):
            script.open_layer("turn")
            first, low = strand * points // starts, start + turn * starts * pot.bead_mm
            script.travel(*form.place(first + turn * points, turn), low)
            for stroke in range(1, points + 1):
                z = low + starts * pot.bead_mm * stroke / points
                script.lay(*form.place(first + stroke + turn * points, turn), z)


def cornered(choices: Choices, pot: Pot) -> list[Spot]:
    """A section with as few points as it needs."""
    shape = choices.pick("shape", ["square", "triangle", "star", "gear", "many"])
    if shape == "star":
        return star(choices.whole("tips", 5, 9, 5), pot.radius_mm, choices.pick("depth", [0.5, 0.7]))
    if shape == "gear":
        return gear(
            choices.whole("teeth", 8, 24, 12), max(pot.radius_mm, 25), choices.pick("tooth_mm", [5.0, 9.0])
        )
    sides = {"square": 4, "triangle": 3}.get(shape) or choices.whole("sides", 5, 12, 6)
    return circle(sides, pot.radius_mm)


def corners(script: Script, choices: Choices, pot: Pot) -> None:
    """Squares, triangles, stars, gears, straight up or twisted.

    A drawn one is twisted by less than half of the way to the next point (or two points, where they lie close), so
    that a seam that goes with the corner and one that stays where it was are the same. In a named case that is
    twisted further the seam goes with the corner: the potter follows the edge.
    """
    outline = cornered(choices, pot)
    form = Form(tuple(outline), pot.centre, clockwise=choices.pick("clockwise", [False, True]))
    points = form.points
    nearest = min(
        abs(math.remainder(math.atan2(b[1], b[0]) - math.atan2(a[1], a[0]), math.tau))
        for a, b in pairwise(outline)
    )
    most = nearest * (0.4 if points < 40 else 1.5) / 65
    form = replace(form, spin_rad=choices.pick("spin_rad", [0.0, most, -most]))
    manner = Manner(
        choices.pick("step", ["along", "before", "after"]), choices.pick("laid_step", [False, True])
    )
    lay_wall(script, choices, pot, form, manner)


def leaning(script: Script, choices: Choices, pot: Pot) -> None:
    """A centre that walks out of the first turn, slowly or within five turns; a flare; a bowl that opens by a lot.

    The seam goes with the piece: it is where the script's own turn begins, at one angle about the moving centre.
    """
    points, mode = (
        choices.pick("points", [60, 24, 36, 120]),
        choices.pick("mode", ["lean", "slim", "flare", "bowl"]),
    )
    radius = {"slim": choices.real("slim_mm", 8, 14, 10), "bowl": 12.0}.get(mode, pot.radius_mm)
    form = drawn_form(choices, replace(pot, radius_mm=radius), points)
    most = {"slim": 25, "bowl": 14}.get(mode, 60)
    turns = how_many(choices, points, most)
    towards = math.radians(choices.real("lean_deg", 0, 360, 30))
    if mode in ("lean", "slim"):
        share = (
            choices.real("lean_share", 1.1, 2.0, 1.3) / turns
            if mode == "lean"
            else choices.real("slim_share", 0.25, 0.5, 0.3)
        )
        lean = min(radius * share, 100 / turns, 6.0)
        form = replace(form, lean_mm=(lean * math.cos(towards), lean * math.sin(towards)))
    else:
        open_mm = choices.real("open_mm", 3, 7, 5) if mode == "bowl" else choices.real("flare_mm", 0.3, 3, 1)
        growth = min(open_mm, 100 / turns) / radius
        form = replace(form, scale=lambda turn: 1 + growth * turn)
    lay_wall(script, Fixed(choices, turns=turns), pot, form, Manner())


def arcs(script: Script, choices: Choices, pot: Pot) -> None:
    """Rings and rising turns by arcs: full circles, halves, quarters; level, along a helix, or in steps."""
    points = choices.pick("points", [4, 2, 3, 6, 8, 1])
    form = Form(
        tuple(circle(points, pot.radius_mm)), pot.centre, clockwise=choices.pick("clockwise", [False, True])
    )
    way = "level" if points == 1 else choices.pick("way", WAYS)
    if way != "level":
        lay_wall(script, choices, pot, form, Manner(way, choices.pick("laid_step", [False, True]), arcs=True))
        return
    for layer in range(how_many(choices, points)):
        z, manner = pot.first_mm + layer * pot.bead_mm, Manner(arcs=True)
        script.open_layer("level")
        script.travel(*form.place(0), z)
        for stroke in range(1, points + 1):
            lay_stroke(script, form, stroke, z, manner)


def skirted(script: Script, choices: Choices, pot: Pot) -> None:
    """A rising wall without a base, in a level loop that touches nothing and is taken off afterwards."""
    form = drawn_form(choices, pot, 60)
    skirt(script, form, pot, pot.first_mm)
    bounds = seams(choices, 60, how_many(choices, 60))
    lay_turns(script, form, even_rise(pot.first_mm, pot.bead_mm, 60), bounds, Manner())


def plain(script: Script, choices: Choices, pot: Pot) -> None:
    """A round wall, rising or level: what strokes before and after are tried on."""
    points = choices.pick("points", [60, 24, 36, 4, 120])
    form = drawn_form(choices, pot, points)
    way = choices.pick("way", PLAIN_WAYS)
    if way != "level":
        lay_wall(script, choices, pot, form, Manner(way))
        return
    for layer in range(how_many(choices, points)):
        script.open_layer("level")
        lay_ring(script, form.ring(layer), pot.first_mm + layer * pot.bead_mm)


def rimmed(script: Script, choices: Choices, pot: Pot) -> None:
    """A level base, a round wall that rises, and a level rim."""
    base = choices.pick("base", ["rings", "spiral", "zigzag"])
    form = drawn_form(choices, pot, choices.pick("points", [60, 24, 36, 4, 120]))
    manner = Manner(choices.pick("way", RIMMED_WAYS))
    lay_wall(script, Fixed(choices, base=base, rim=True, part=0.0), pot, form, manner)
