"""Walls as people's own scripts write them, each with its truth: named cases, drawn ones, and those of a seed.

A layer of a rising wall is one turn, from seam to seam; a level layer is all that lies at one height. The truth is
known from the making: the script that lays a stroke knows whose it is, and counts it as it was written, to the digit.
Nothing here measures a wall. Kinds whose truth may be debated say so in their docstrings.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeAlias

from hypothesis import strategies as st

from tests.reference.scripted import level, rising
from tests.reference.scripted.choices import Choices, Drawn, Given, Seeded
from tests.reference.scripted.pen import draw_style
from tests.reference.scripted.pot import Pot, draw_pot, lead_in, lead_out
from tests.reference.scripted.script import Script
from tests.reference.scripted.truth import Layer, Stroke, Wall

__all__ = ["CASES", "KINDS", "WRITINGS", "Layer", "Stroke", "Wall", "build", "named", "seeded", "walls"]

Builder: TypeAlias = Callable[[Script, Choices, Pot], None]
KINDS: dict[str, Builder] = {
    "stairs": rising.stairs,
    "waved": level.waved,
    "changing": rising.changing,
    "open": level.open_walls,
    "crescent": rising.crescents,
    "nested": rising.nested,
    "beside": level.beside,
    "strands": rising.strands,
    "corners": rising.corners,
    "leaning": rising.leaning,
    "strokes": rising.plain,
    "ceasing": level.ceasing,
    "rings": level.rings,
    "rimmed": rising.rimmed,
    "arcs": rising.arcs,
    "two pots": level.two_pots,
}
"""The kinds that are drawn."""
NAMED_ONLY: dict[str, Builder] = {"skirted": rising.skirted}
FINE = {"stairs", "arcs", "crescent", "corners"}
"""Kinds with steps or arcs that few decimals would spoil."""
LEAD_INS = ["line", "back", "double", "corner", "zigzag", "in steps"]
LEAD_OUTS = ["low", "high", "along", "inwards", "wipe"]


def build(choices: Choices) -> Wall:
    """The wall that these choices make."""
    kind = choices.pick("kind", list(KINDS))
    pot, style = draw_pot(choices, near=kind == "strokes"), draw_style(choices, fine=kind in FINE)
    script = Script(style, pot.bead_mm2)
    seldom = ["none"] if kind == "strokes" else ["none"] * 24
    lead_in(script, choices, pot, [*seldom, *LEAD_INS])
    (KINDS | NAMED_ONLY)[kind](script, choices, pot)
    if kind not in ("ceasing", "two pots"):
        lead_out(script, choices, pot, [*seldom, *LEAD_OUTS])
    return script.wall(kind, pieces=2 if kind == "two pots" else 1)


def named(name: str, writing: str = "usual") -> Wall:
    """A named case in one of the writings. Raises AssertionError where a choice is misspelt."""
    given = Given(**(CASES[name] | WRITINGS[writing]))
    wall = build(given)
    assert not given.unasked() - set(WRITINGS[writing]), f"{name}: nobody asks for {given.unasked()}"
    return wall


def seeded(seed: int) -> Wall:
    """The wall of a seed."""
    return build(Seeded(seed))


def walls() -> st.SearchStrategy[Wall]:
    """Any wall of any kind in any writing."""
    return st.composite(lambda draw: build(Drawn(draw)))()


WRITINGS: dict[str, dict[str, Any]] = {
    "usual": {},
    "increments": {
        "relative": True,
        "relative_e": True,
        "repeat": "changed",
        "head": "long",
        "travel": "hop",
    },
    "careless": {"relative": True, "careless": True, "repeat": "flat", "order": "GFXYZE", "feed": "each"},
    "long": {
        "decimals": 12,
        "metering": "strand",
        "relative_e": False,
        "repeat": "changed",
        "travel_e": True,
    },
    "long increments": {
        "decimals": 12,
        "relative": True,
        "relative_e": False,
        "e_reset": "layer",
        "feed": "once",
    },
    "inch": {"inches": True, "decimals": 4, "relative_e": False, "e_reset": "often", "travel": "toggled"},
    "inch increments": {"inches": True, "decimals": 12, "relative": True, "modal": True, "retract_mm3": 40.0},
    "short": {
        "decimals": 2,
        "relative_e": False,
        "repeat": "flat",
        "lower": True,
        "gap": "",
        "travel": "over",
    },
}
"""Ways to write each named case."""

CASES: dict[str, dict[str, Any]] = {
    # stairs
    "fine stairs": {"kind": "stairs", "points": 120},
    "fine stairs with clay": {"kind": "stairs", "points": 120, "laid_step": True},
    "fine stairs on rings": {"kind": "stairs", "points": 200, "base": "rings"},
    "fine stairs on a spiral": {"kind": "stairs", "points": 120, "base": "spiral", "step": "after"},
    "fine stairs, 400 to a turn": {
        "kind": "stairs",
        "points": 400,
        "bead_mm": 1.6,
        "base": "spiral",
        "turns": 60,
    },
    "helix on a spiral": {"kind": "stairs", "step": "along", "base": "spiral"},
    "helix of 300 turns": {"kind": "stairs", "step": "along", "points": 60, "turns": 300, "bead_mm": 1.0},
    "helix and a third of a turn": {"kind": "stairs", "step": "along", "part": 0.3},
    "helix and seven tenths": {"kind": "stairs", "step": "along", "part": 0.7},
    "two half circles to a turn": {"kind": "stairs", "points": 2},
    "two half circles after steps with clay": {
        "kind": "stairs",
        "points": 2,
        "laid_step": True,
        "step": "after",
    },
    **{f"{n} strokes to a turn": {"kind": "stairs", "points": n} for n in (3, 4, 6, 8, 12)},
    **{
        f"{n} strokes to a turn, steps with clay": {"kind": "stairs", "points": n, "laid_step": True}
        for n in (3, 4, 6, 8, 12)
    },
    **{f"{n} strokes, steps after": {"kind": "stairs", "points": n, "step": "after"} for n in (3, 4, 6)},
    **{f"{n} strokes on rings": {"kind": "stairs", "points": n, "base": "rings"} for n in (4, 6)},
    **{f"{n} strokes that rise": {"kind": "stairs", "points": n, "step": "along"} for n in (3, 4, 6, 12)},
    "six arcs to a turn in steps": {"kind": "stairs", "points": 6, "arcs": True, "base": "rings"},
    # waved
    "waved, aligned": {"kind": "waved"},
    "waved, alternating": {"kind": "waved", "seams": "alternating", "overlap": 0.05},
    "waved, random": {
        "kind": "waved",
        "seams": "random",
        "overlap": 0.1,
        "retract_mm3": 40.0,
        "travel": "hop",
    },
    "waved without a stroke": {"kind": "waved", "short_mm": 0.0, "travel": "toggled"},
    "waved a little": {"kind": "waved", "depth": 0.15, "short_mm": 10.0, "base": "rings"},
    "waved a lot": {"kind": "waved", "depth": 1.5, "waves": 6, "overlap": 0.02, "short_mm": 2.0},
    "tilted": {"kind": "waved", "waves": 1, "depth": 1.5, "seams": "random", "outline": "lobed"},
    # changing
    "thin to thick": {"kind": "changing", "turns": 20},
    "suddenly thick": {"kind": "changing", "mode": "sudden", "turns": 12},
    "suddenly thin": {"kind": "changing", "mode": "sudden", "factor": 0.3, "base": "spiral"},
    "any rise": {"kind": "changing", "mode": "any", "turns": 20},
    **{
        f"ramp after {share:.0%}": {"kind": "changing", "mode": "ramp", "level_share": share}
        for share in (0.1, 0.3, 0.5, 0.7, 0.9)
    },
    "ramp on rings": {"kind": "changing", "mode": "ramp", "level_share": 0.8, "base": "rings"},
    # open walls
    "c by travel": {"kind": "open", "opening": 0.3},
    "c with steps of clay": {"kind": "open", "climb": "laid"},
    "c with bare steps": {"kind": "open", "climb": "bare", "points": 20},
    "c of 3 mm": {"kind": "open", "opening": 0.0, "climb": "bare"},
    "c of 3 mm by travel": {"kind": "open", "opening": 0.0, "points": 8, "travel": "hop"},
    "half round": {"kind": "open", "opening": 1.0, "climb": "laid", "points": 8},
    "c on rings": {"kind": "open", "rings": 8, "climb": "bare"},
    "half round on rings": {"kind": "open", "rings": 3, "opening": 1.0, "climb": "travel"},
    # crescents
    "thin crescent": {"kind": "crescent"},
    "thick crescent": {"kind": "crescent", "shape": "thick", "points": 90, "lean_mm": (1.0, 0.0)},
    "horned crescent": {"kind": "crescent", "shape": "horned", "base": "rings"},
    "crescent with the seam inside": {"kind": "crescent", "seam": 45, "way": "before"},
    "level crescent": {"kind": "crescent", "shape": "thick", "way": "level", "spin_rad": 0.004},
    "crescent in stairs": {"kind": "crescent", "way": "after", "points": 120},
    "closed u": {"kind": "crescent", "shape": "u"},
    "closed u, leaning": {"kind": "crescent", "shape": "u", "lean_mm": (-0.5, 1.0), "turns": 30},
    "spiral arm": {"kind": "crescent", "shape": "arm"},
    "spiral arm in stairs": {"kind": "crescent", "shape": "arm", "way": "before", "rounds": 1.6},
    "twisted crescent": {"kind": "crescent", "shape": "horned", "spin_rad": 0.02, "turns": 20},
    # nested, beside
    "two walls": {"kind": "nested"},
    "three walls on a base": {"kind": "nested", "walls": 3, "base": "rings"},
    "two walls, inner first": {"kind": "nested", "inner_first": True, "travel": "hop"},
    "cup with a handle": {"kind": "beside"},
    "cup with a handle all the way": {"kind": "beside", "handle_from": 0, "handle_to": 10, "in_turns": True},
    "two level pots": {"kind": "two pots"},
    "two rising pots": {"kind": "two pots", "way": "along", "travel": "hop"},
    # strands
    "two strands": {"kind": "strands", "turns": 20},
    "three strands": {"kind": "strands", "strands": 3, "turns": 21},
    "two strands on rings": {"kind": "strands", "base": "rings", "points": 12, "turns": 12},
    # corners
    "square": {"kind": "corners"},
    "triangle": {"kind": "corners", "shape": "triangle"},
    **{f"star of {n}": {"kind": "corners", "shape": "star", "tips": n} for n in (5, 6, 7, 8, 9)},
    **{f"gear of {n}": {"kind": "corners", "shape": "gear", "teeth": n} for n in (8, 12, 24)},
    "square twisted by a quarter": {"kind": "corners", "spin_rad": 0.0393, "turns": 40},
    "triangle twisted by a third": {"kind": "corners", "shape": "triangle", "spin_rad": 0.0349, "turns": 60},
    "star twisted": {"kind": "corners", "shape": "star", "spin_rad": 0.006, "turns": 20, "step": "before"},
    "gear twisted": {"kind": "corners", "shape": "gear", "spin_rad": -0.002, "turns": 30},
    "square on a spiral": {"kind": "corners", "base": "spiral", "rim": True},
    # leaning
    "lean": {"kind": "leaning", "turns": 20},
    "slim column": {"kind": "leaning", "mode": "slim", "turns": 15, "slim_share": 0.3},
    "slim column, steep": {"kind": "leaning", "mode": "slim", "turns": 8, "slim_share": 0.4},
    "flare": {"kind": "leaning", "mode": "flare", "flare_mm": 3, "base": "zigzag"},
    "bowl": {"kind": "leaning", "mode": "bowl", "base": "spiral"},
    "bowl that opens fast": {"kind": "leaning", "mode": "bowl", "open_mm": 7, "turns": 10},
    "lobes that swirl": {"kind": "leaning", "outline": "lobed", "lobes": 5, "swirl_rad": -0.06, "turns": 30},
    # strokes before and after, skirts
    **{f"before: {shape}": {"kind": "strokes", "lead_in": shape} for shape in LEAD_INS},
    "before: a line at another height": {"kind": "strokes", "lead_in": "line", "lead_in_at": 3.4},
    "before level rings": {"kind": "strokes", "lead_in": "line", "way": "level"},
    "before level rings: zigzag": {"kind": "strokes", "lead_in": "zigzag", "way": "level", "gap_mm": 10},
    "before rings: there and back": {"kind": "strokes", "lead_in": "back", "base": "rings"},
    "before a c": {"kind": "open", "lead_in": "line"},
    "before stairs": {"kind": "stairs", "points": 4, "lead_in": "line"},
    **{f"after: {shape}": {"kind": "strokes", "lead_out": shape} for shape in LEAD_OUTS},
    **{
        f"after rings: {shape}": {"kind": "strokes", "way": "level", "lead_out": shape} for shape in LEAD_OUTS
    },
    "after a c: a step": {"kind": "open", "climb": "laid", "lead_out": "step"},
    "skirt around rings": {"kind": "rings", "skirt": True},
    "skirt around a base": {"kind": "stairs", "step": "along", "base": "rings", "skirt": True},
    "skirt around a turn": {"kind": "skirted"},
    # ceasing
    "ceases after 20 turns": {"kind": "ceasing", "turns_before": 20},
    "ceases after 300 turns": {"kind": "ceasing", "turns_before": 300, "bead_mm": 1.0, "sweeps": 40},
    "ceases, wide open": {"kind": "ceasing", "turns_before": 20, "opening": 0.5, "base": "rings"},
    "never goes round": {"kind": "ceasing", "turns_before": 0},
    # level rings, rims
    "rings": {"kind": "rings"},
    "rings with hops": {"kind": "rings", "travel": "hop", "retract_mm3": 40.0},
    "rings with infill": {"kind": "rings", "filled_layers": 2, "parts": [1.0, 0.8]},
    "all filled": {"kind": "rings", "filled_layers": 60, "points": 12},
    "three rings a height": {"kind": "rings", "parts": [0.6, 0.8, 1.0], "vary": 0.4},
    "rings by bare steps": {"kind": "rings", "climb": "bare", "vary": 0.4},
    "rings by steps of clay": {"kind": "rings", "climb": "laid"},
    "rings by a stroke that rises": {"kind": "rings", "climb": "ramp"},
    "level squares": {"kind": "rings", "points": 4, "climb": "laid"},
    "base, rising wall, rim": {"kind": "rimmed"},
    "spiral, stairs, rim": {"kind": "rimmed", "base": "spiral", "way": "before", "points": 4},
    "base, rising wall, rim, strokes": {"kind": "rimmed", "lead_in": "line", "lead_out": "high"},
    # arcs
    "level circles": {"kind": "arcs", "points": 1},
    "level halves": {"kind": "arcs", "points": 2, "way": "level"},
    "rising quarters": {"kind": "arcs", "points": 4, "base": "rings"},
    "rising halves": {"kind": "arcs", "points": 2},
    "rising thirds the other way": {"kind": "arcs", "points": 3, "clockwise": True},
    "quarters in steps": {"kind": "arcs", "way": "before", "laid_step": True},
}
"""Each named case: its kind, and what is not as usual."""
