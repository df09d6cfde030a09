"""A stranger's step, found in a folder, on a wall whose lean is known from its own formula."""

from __future__ import annotations

import json
import re
import shutil
from collections import defaultdict
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from numpy.typing import NDArray

from gpost.cli import cli

STEP = Path(__file__).with_name("lean") / "gpost_lean.py"
RISE_MM, LAYERS, CORNERS = 2.0, 30, 180
HEIGHTS_MM, RADII_MM = [0, 20, 40, 50, 60], [40, 40, 48, 48, 44]
"""Straight, outwards by 0.4, straight, inwards by 0.4."""
LEAST, MORE = 0.25, 0.5
"""The step's own defaults."""
WORDS = re.compile(rb"([XYZE])(-?[\d.]+)")
Floats = NDArray[np.float64]


def radius_mm(height_mm: Floats) -> Floats:
    """The wall's profile."""
    return np.interp(height_mm, HEIGHTS_MM, RADII_MM)


def vase(rising: bool) -> bytes:
    """The wall as layers that lie level, or as one that rises all the way; relative E."""
    lines = ["G21", "G90", "M83"]
    for layer in range(LAYERS):
        turn = np.linspace(0, 1, CORNERS + 1)
        z_mm = RISE_MM * (layer + 1 + (turn if rising else 0 * turn))
        x_mm = 140 + radius_mm(z_mm) * np.cos(2 * np.pi * turn)
        y_mm = 140 + radius_mm(z_mm) * np.sin(2 * np.pi * turn)
        if layer == 0 or not rising:
            lines.append(f"G0 X{x_mm[0]:.4f} Y{y_mm[0]:.4f} Z{z_mm[0]:.4f} F3000")
        for x, y, z in zip(x_mm[1:], y_mm[1:], z_mm[1:], strict=True):
            lines.append(f"G1 X{x:.4f} Y{y:.4f} Z{z:.4f} E4.00000 F1200")
    return ("\n".join([*lines, "G0 Z120 F3000"]) + "\n").encode()


def lean_of_layers(rising: bool) -> Floats:
    """Closed form: the radius less that of the layer below, at each place of the layer, over the rise; the mean."""
    turn = (np.arange(1000) + 0.5) / 1000 if rising else np.zeros(1)
    z_mm = RISE_MM * (np.arange(LAYERS)[:, None] + 1 + turn)
    lean = (radius_mm(z_mm) - radius_mm(z_mm - RISE_MM)).mean(axis=1) / RISE_MM
    lean[0] = 0.0  # there is none below
    return np.asarray(lean)


def clay_of_layers(data: bytes, rising: bool) -> Floats:
    """The sum of relative E in each layer, by the height that each line says itself."""
    found: dict[int, float] = defaultdict(float)
    for line in data.splitlines():
        words = dict(WORDS.findall(line.split(b";")[0]))
        if line.startswith(b"G1") and b"E" in words and b"Z" in words:
            upto = float(words[b"Z"]) / RISE_MM - 1
            found[int(np.ceil(upto - 1e-6)) - 1 if rising else round(upto)] += float(words[b"E"])
    return np.array([found[layer] for layer in range(LAYERS)])


@pytest.mark.parametrize("rising", [False, True], ids=["level", "rising"])
def test_more_clay_stands_where_the_wall_leans_out(tmp_path: Path, rising: bool) -> None:
    """In each such layer, and no other, as much more as its lean by the closed form asks for."""
    (tmp_path / "steps").mkdir()
    shutil.copy(STEP, tmp_path / "steps")
    (tmp_path / "vase.gcode").write_bytes(vase(rising))
    (tmp_path / "recipe.yaml").write_text(
        "clay: {metering: {unit: ml, ml_per_unit: 0.005}}\ncartridge: {volume_ml: 4000}\nsteps: [lean]\n"
    )
    result = CliRunner().invoke(
        cli,
        [
            *("run", str(tmp_path / "vase.gcode"), "-c", str(tmp_path / "recipe.yaml")),
            *("-o", str(tmp_path / "out.gcode"), "--json", str(tmp_path / "out.json")),
            *("--steps-from", str(tmp_path / "steps")),
        ],
    )
    assert result.exit_code == 0, result.output
    lean = lean_of_layers(rising)
    leaning = lean >= LEAST
    assert 8 <= leaning.sum() <= 10
    factors = clay_of_layers((tmp_path / "out.gcode").read_bytes(), rising)
    factors /= clay_of_layers(vase(rising), rising)
    assert factors == pytest.approx(np.where(leaning, 1 + lean * MORE, 1.0), abs=2e-3)
    (change,) = json.loads((tmp_path / "out.json").read_text())["changes"]
    first, last = int(np.flatnonzero(leaning)[0]) + 1, int(np.flatnonzero(leaning)[-1]) + 1
    assert (change["step"], change["what"]) == ("lean", "clay taken to 120 %")
    assert [(place["layer"], place["last_layer"]) for place in change["where"]] == [(first, last)]


def test_it_uses_gpost_api_alone() -> None:
    """What it imports of gpost is one module."""
    modules = re.findall(r"^\s*(?:from|import) (gpost[\w.]*)", STEP.read_text("utf-8"), re.MULTILINE)
    assert modules == ["gpost.api"]
