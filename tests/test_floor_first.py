"""A pot of which the floor is laid first, and then the wall round it from below: one piece for every step."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

import pytest

from gpost.pipeline import run_file
from gpost.steps.recipe import make_recipe
from tests.config_files import load_files
from tests.reference.interpreter import run

CONFIG = """
machine: {nozzle_mm: 4, pause: {commands: [M0], lift_mm: 1, relieve_ml: 0}}
clay: {bead_width_mm: 6, metering: {unit: ml, ml_per_unit: 1}}
cartridge: {volume_ml: %s, reserve_ml: 1}
steps: [{refill: {within_layer: true, prime_ml: 0}}]
"""
FLOOR_MM = 6.0
"""The top of its highest floor, of three layers."""
BEAD_MM2 = 12.0
"""6 mm wide and 2 mm high."""


def laid(places: list[tuple[float, float]], z_mm: float) -> list[str]:
    """A travel over all to the first place, down, and clay through the others."""
    (x_mm, y_mm), over_mm = places[0], max(z_mm, FLOOR_MM + 5)
    lines = [f"G0 Z{over_mm:.1f} F600", f"G0 X{x_mm:.3f} Y{y_mm:.3f} F3000", f"G0 Z{z_mm:.1f}"]
    for one, (x_mm, y_mm) in pairwise(places):
        ml = math.dist(one, (x_mm, y_mm)) * BEAD_MM2 / 1000
        lines.append(f"G1 X{x_mm:.3f} Y{y_mm:.3f} E{ml:.5f} F1500")
    return lines


def around(radius_mm: float, turns: int = 1, in_mm: float = 0.0) -> list[tuple[float, float]]:
    """A ring, or a spiral that goes out to the radius by so much a turn."""
    angles = [2 * math.pi * step / 36 for step in range(36 * turns + 1)]
    out = [radius_mm - in_mm * (turns - angle / (2 * math.pi)) for angle in angles]
    return [(100 + r * math.cos(a), 100 + r * math.sin(a)) for r, a in zip(out, angles, strict=True)]


DISC = {z: laid(around(34, 5, 6.0), z) for z in (2.0, 4.0, 6.0)}
FLOOR = [*DISC[2.0], *DISC[4.0]]
RING = {number: laid(around(40), 2.0 * number) for number in range(1, 16)}
WALL = [line for ring in RING.values() for line in ring]
FOOT = 2 * len(RING[1])
POTS = {
    "floor first": [*FLOOR, *WALL],
    "a floor of three": [*FLOOR, *DISC[6.0], *WALL],
    "the wall's foot first": [*WALL[:FOOT], *FLOOR, *WALL[FOOT:]],
}


@pytest.mark.parametrize("cartridge_ml", [10, 13, 17, 30])
@pytest.mark.parametrize("lines", POTS.values(), ids=POTS)
def test_pauses_go_over_all_that_stands(tmp_path: Path, lines: list[str], cartridge_ml: int) -> None:
    """By the interpreter: the same clay in the same places, and where the machine waits the nozzle is above it all."""
    source, output = tmp_path / "pot.gcode", tmp_path / "out.gcode"
    source.write_text("\n".join(["G28", "G90", "M83", *lines, "M84"]) + "\n")
    recipe = make_recipe(load_files({"pot.yaml": CONFIG % cartridge_ml}))
    summary = run_file(source, output, recipe.config, recipe.steps)
    assert not [text for text in summary.warnings if "first-layer" in text or "odd" in text]
    before, after = run(source.read_bytes()), run(output.read_bytes())
    assert sum(e.e_metered_mm for e in after) == pytest.approx(sum(e.e_metered_mm for e in before))
    ends = [[e.end_mm for e in events if e.lays_clay] for events in (before, after)]
    assert set(ends[0]) <= set(ends[1])  # a pause inside a bead cuts it
    waits, top_mm = 0, 0.0
    for earlier, event in pairwise(after):
        top_mm = max(top_mm, event.end_mm[2]) if event.lays_clay else top_mm
        if event.state.paused > earlier.state.paused:
            waits += 1
            assert event.end_mm[2] >= top_mm + 1 - 1e-6
    assert waits == len(summary.pauses) > 0


@pytest.mark.parametrize(("pot", "top_mm"), [("floor first", 4.0), ("a floor of three", 6.0)])
def test_as_many_layers_as_levels(tmp_path: Path, pot: str, top_mm: float) -> None:
    """A base of so many layers ends where the floor does, and air from the next on blows on nothing below it.

    The first layer holds the floor and the ring beside it that lies on the bed; the wall has a layer a ring
    from there on.
    """
    source, output = tmp_path / "pot.gcode", tmp_path / "out.gcode"
    source.write_text("\n".join(["G28", "G90", "M83", *POTS[pot], "M84"]) + "\n")
    levels = round(top_mm / 2)
    steps = (
        f"steps: [{{base: {{layers: {levels}, flow_percent: 150}}}}, "
        f"{{fan: {{bands: [{{from_layer: {levels + 1}, level_percent: 40}}]}}}}]"
    )
    recipe = make_recipe(load_files({"pot.yaml": CONFIG % 500, "piece.yaml": f"{steps}\n"}))
    summary = run_file(source, output, recipe.config, recipe.steps)
    heights = summary.layer_table.height_mm
    assert len(heights) == 15
    assert heights == pytest.approx([max(top_mm if n == 1 else 2.0 * n, 2.0 * n) for n in range(1, 16)])
    before = [e for e in run(source.read_bytes()) if e.lays_clay]
    after = [e for e in run(output.read_bytes()) if e.lays_clay]
    for own, event in zip(before, after, strict=True):
        low = event.end_mm[2] <= top_mm
        assert event.e_metered_mm == pytest.approx((1.5 if low else 1.0) * own.e_metered_mm, abs=1e-4)
        assert (event.state.fan > 0) == (not low)
