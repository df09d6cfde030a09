"""`gpost resume --from-height` on layers that are laid to and fro: they end in two places."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.test_resume_checks import CONFIG
from tests.resuming import ran, resume, summary

RISE_MM = 2.0
LEFT, RIGHT = "x 100.0, y 150.0 mm", "x 200.0, y 150.0 mm"
"""Layers of an even number end on the left, the others on the right."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run of a straight wall of eleven layers, each laid back over the one before."""
    found = tmp_path_factory.mktemp("to-and-fro")
    lines = ["G28", "G21", "G90", "M83", "G0 Z10 F900", "G0 X100 Y150 F3000"]
    for layer in range(1, 12):
        lines += [f"G1 Z{RISE_MM * layer:g} F900", f"G1 X{200 if layer % 2 else 100} Y150 E40 F1200"]
    (found / "wall.gcode").write_text("\n".join(lines) + "\n")
    return ran(found, "wall.gcode", CONFIG)


@pytest.mark.parametrize(
    ("height_mm", "goes_on", "meant"),
    [
        (10.9, 6, f"12.00 mm (layer 6, {LEFT})"),
        (11.1, 7, f"10.00 mm (layer 5, {RIGHT})"),
        (12.9, 7, f"14.00 mm (layer 7, {RIGHT})"),
        (13.1, 8, f"12.00 mm (layer 6, {LEFT})"),
    ],
)
def test_the_turn_that_may_be_meant_is_the_next_one(folder: Path, height_mm: float, goes_on: int, meant: str) -> None:
    """By a height alone it is the one above or below, wherever it ends, and not the next that ends there too."""
    result = resume(folder, "--from-height", height_mm, name=f"r{height_mm}")
    assert result.exit_code == 0, result.output
    said = summary(folder, f"r{height_mm}")["resume"]
    assert said["layer"] == goes_on
    assert f"the bead may have ended in the turn at {meant}" in said["joint"]


@pytest.mark.parametrize(
    ("args", "nearest", "meant"),
    [
        ([11], "10.00 mm (layer 5) and 12.00 mm (layer 6)", f"12.00 mm (layer 6, {LEFT}) may be meant as well"),
        ([0.5], "2.00 mm (layer 1) and 4.00 mm (layer 2)", ""),
        ([11, "--at", "150,150"], "10.00 mm (layer 5) and 12.00 mm (layer 6)", "(layer 6, x 150.0"),
        ([11, "--at", "200,150"], "10.00 mm (layer 5) and 14.00 mm (layer 7)", f"(layer 7, {RIGHT}) comes by there too"),
    ],
)
def test_the_nearest_tops_are_those_of_where_it_may_end(folder: Path, args: list[object], nearest: str, meant: str) -> None:
    """Of all turns by a height alone; where the place is said, of those that lay clay up to it."""
    result = resume(folder, "--from-height", *args, name="refused")
    assert result.exit_code == 1
    said = " ".join(result.output.split())
    assert f"the nearest tops are {nearest}" in said
    assert meant in said
