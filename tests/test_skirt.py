"""A file that lays a skirt or a line off the piece: the piece, its slab and its weight are as without it."""

from __future__ import annotations

import itertools
import math
from pathlib import Path

import numpy as np
import pytest

from gpost.errors import PlanError
from gpost.pipeline import run_file
from gpost.report.model import Summary
from gpost.steps.recipe import make_recipe
from tests.config_files import load_files
from tests.reference.interpreter import run

CONFIG = """
machine: {display: null}
clay: {metering: {unit: mm3}, bead_width_mm: 6, wet_density_g_ml: 2, water_percent: 25, shrinkage_percent: 10}
cartridge: {volume_ml: 500, reserve_ml: 20, line_ml: 40}
"""
WALL_MM, SKIRT_MM, LAYERS = 40, 60, 6
"""Radii round x 140, y 140."""
SECTION_MM2 = 12


def ring(radius_mm: float, z_mm: float) -> list[str]:
    """A polygon of 72 sides, which is as long as it should be to 0.1 %."""
    angles = np.radians(np.arange(0, 361, 5))
    e_mm3 = 2 * math.pi * radius_mm / 72 * SECTION_MM2
    places = [f"X{140 + radius_mm * math.cos(a):.3f} Y{140 + radius_mm * math.sin(a):.3f}" for a in angles]
    return [f"G0 {places[0]} Z{z_mm} F3000", *(f"G1 {place} E{e_mm3:.4f} F1500" for place in places[1:])]


SKIRT = ring(SKIRT_MM, 2)
WALL = [ring(WALL_MM, 2 * layer) for layer in range(1, LAYERS + 1)]
FILES = {
    "skirt": [SKIRT, *WALL],
    "afterwards": [WALL[0], SKIRT, *WALL[1:]],
    "none": WALL,
}
WALL_ML, SKIRT_ML = (2 * math.pi * radius * SECTION_MM2 / 1000 for radius in (WALL_MM * LAYERS, SKIRT_MM))


def done(folder: Path, which: str, *steps: str) -> tuple[Summary, bytes]:
    """The summary, and the output."""
    source, output = folder / f"{which}.gcode", folder / f"{which}-out.gcode"
    source.write_text("\n".join(["G28", "G90", "M83", *itertools.chain(*FILES[which]), ""]))
    listed = "".join(f"\n  - {step}" for step in steps)
    recipe = make_recipe(load_files({"pot.yaml": CONFIG + (f"steps:{listed}\n" if steps else "")}))
    return run_file(source, output, recipe.config, recipe.steps, overwrite=True), output.read_bytes()


@pytest.mark.parametrize("which", ["skirt", "afterwards"])
def test_the_piece_is_as_without_it_and_the_cartridge_is_not(tmp_path: Path, which: str) -> None:
    """Sizes and weight are the wall's, 2 g a ml; the clay of both is loaded."""
    with_it, without = done(tmp_path, which)[0], done(tmp_path, "none")[0]
    assert without.piece.wet_g == pytest.approx(2 * WALL_ML, rel=2e-3)
    for part in ("wet_g", "dry_g", "clay_ml", "foot_x_mm", "foot_y_mm"):
        assert getattr(with_it.piece, part) == pytest.approx(getattr(without.piece, part)), part
    assert with_it.piece.outside_wet == without.piece.outside_wet
    assert with_it.cartridges[0].clay_ml == pytest.approx(WALL_ML + SKIRT_ML, rel=2e-3)
    (clay,) = with_it.clays
    assert clay.beside_ml == pytest.approx(SKIRT_ML, rel=2e-3)


@pytest.mark.parametrize("which", ["skirt", "afterwards", "none"])
def test_the_slab_is_as_large_as_the_foot_needs(tmp_path: Path, which: str) -> None:
    """Its radius is the wall's, half a bead and the margin."""
    needed_mm = 2 * (WALL_MM + 3 + 10)
    assert done(tmp_path, which, f"slab: {{margin_mm: 10, diameter_mm: {needed_mm + 0.1}}}")[0].slab
    with pytest.raises(PlanError, match=rf"at least {needed_mm}\.0 mm"):
        done(tmp_path, which, f"slab: {{margin_mm: 10, diameter_mm: {needed_mm - 1}}}")


@pytest.mark.parametrize("which", ["skirt", "afterwards"])
def test_beads_of_steps_keep_off_it(tmp_path: Path, which: str) -> None:
    """A bead round the foot lies between wall and skirt, a purge outside; one without room is refused by its name."""
    _, output = done(tmp_path, which, "foot: {rounds: 1, distance_mm: 2}", "purge: {volume_ml: 20}")
    own = set(itertools.chain(*FILES[which]))
    events = zip(output.decode().splitlines(), run(output), strict=True)
    laid = [
        event for line, event in events if line not in own and event.path_mm > 1 and event.e_metered_mm > 0
    ]
    assert len(laid) > 10
    for event in laid:
        ends = np.array([event.start_mm[:2], event.end_mm[:2]], np.float64).T
        places = ends[:, :1] + (ends[:, 1:] - ends[:, :1]) * np.linspace(0, 1, 50)
        radius = np.hypot(*(places - 140))
        assert radius.min() > WALL_MM + 6
        assert np.abs(radius - SKIRT_MM).min() > 6
    with pytest.raises(PlanError, match="the clay that the file itself lays beside the piece leaves"):
        done(tmp_path, which, "foot: {rounds: 3, distance_mm: 2}")
