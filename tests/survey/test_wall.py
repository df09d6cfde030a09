"""The wall as points: where the clay is, nothing else, and how far off at most."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from gpost.config.model import Config
from gpost.pipeline import survey_file
from gpost.survey.wall import Wall, laid_wall

MANY = 1_000_000


def wall_of(folder: Path, lines: list[str], most: int = MANY) -> Wall:
    path = folder / "wall.gcode"
    path.write_text("\n".join(lines) + "\n")
    return laid_wall(survey_file(path, Config()), most)


def ring(z_mm: float, corners: int, radius_mm: float = 30.0) -> list[str]:
    """A closed ring of straight moves at a height, from a travel on."""
    points = [
        (
            100 + radius_mm * math.cos(2 * math.pi * k / corners),
            100 + radius_mm * math.sin(2 * math.pi * k / corners),
        )
        for k in range(corners + 1)
    ]
    x, y = points[0]
    return [f"G0 X{x:.4f} Y{y:.4f} Z{z_mm}", *(f"G1 X{x:.4f} Y{y:.4f} E0.5" for x, y in points[1:])]


HEAD = ["G21", "G90", "M83", "G28", "G1 F1800"]


def test_every_corner_once_in_the_order_of_printing(tmp_path: Path) -> None:
    """Two rings of 12 sides: 13 points each, a bead that begins at each ring's start, by layer."""
    wall = wall_of(tmp_path, [*HEAD, *ring(2, 12), *ring(4, 12)])
    assert wall.places_mm.shape == (3, 26)
    assert np.flatnonzero(wall.begins).tolist() == [0, 13]
    assert wall.layer.tolist() == [0] * 13 + [1] * 13
    assert wall.stray_mm == 0
    assert wall.places_mm[2].tolist() == [2.0] * 13 + [4.0] * 13
    np.testing.assert_allclose(np.hypot(wall.places_mm[0] - 100, wall.places_mm[1] - 100), 30, atol=1e-4)


def test_arcs_go_round_and_up(tmp_path: Path) -> None:
    """A helix of one arc stays on its circle, and rises in proportion to the angle (G2/G3 of RS274/NGC)."""
    wall = wall_of(tmp_path, [*HEAD, *ring(2, 24), "G3 X130 Y100 Z4 I-30 J0 E12"])
    x, y, z = wall.places_mm[:, 25:]
    np.testing.assert_allclose(np.hypot(x - 100, y - 100), 30, atol=1e-3)
    angle = np.unwrap(np.append(0.0, np.arctan2(y - 100, x - 100)))[1:]
    np.testing.assert_allclose(z, 2 + 2 * angle / (2 * math.pi), atol=1e-3)
    assert len(z) > 100


@pytest.mark.parametrize("most", [40, 100, 300])
def test_points_left_out_are_no_farther_off_than_is_said(tmp_path: Path, most: int) -> None:
    """Fewer points are kept, and each one left out lies no farther from the lines between them than is said."""
    lines = [*HEAD, *ring(2, 500), *ring(4, 500)]
    whole, some = wall_of(tmp_path, lines), wall_of(tmp_path, lines, most)
    assert most * 0.8 <= some.places_mm.shape[1] <= most + 8
    assert np.flatnonzero(some.begins).size == 2
    worst = 0.0
    for layer in (0, 1):
        kept = some.places_mm[:, some.layer == layer]
        for point in whole.places_mm[:, whole.layer == layer].T:
            low, way = kept[:, :-1], np.diff(kept, axis=1)
            share = np.clip(((point[:, None] - low) * way).sum(0) / (way**2).sum(0), 0, 1)
            worst = max(worst, float(np.linalg.norm(point[:, None] - low - share * way, axis=0).min()))
    assert worst <= some.stray_mm + 1e-9
    # the bulge of a chord of a circle, from geometry: r (1 - cos(half the angle))
    chord = 2 * 2 * math.pi * 30 / most
    assert some.stray_mm == pytest.approx(30 * (1 - math.cos(chord / 60)), rel=0.5)
