"""Prints that are run and gone on with as they are typed, in a folder: `print.json`, `rest.json`."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from click.testing import CliRunner, Result

from gpost.cli import cli
from gpost.demo.gcode import Piece, SliceStyle
from tests.sliced import write_piece


def typed(*args: object) -> Result:
    """`gpost` with these arguments."""
    return CliRunner().invoke(cli, [str(arg) for arg in args])


def ran(folder: Path, source: str, config: str) -> Path:
    """The folder, with a sliced file in it run by a config to `print.gcode` and `print.json`."""
    (folder / "studio.yaml").write_text(config)
    result = typed(
        "run", folder / source, "-c", folder / "studio.yaml", "-o", folder / "print.gcode",
        "--json", folder / "print.json",
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    return folder


def vase_ran(folder: Path, config: str, style: SliceStyle | None = None) -> Path:
    """The same of a vase of 25 layers of 2 mm."""
    piece = Piece(height_mm=50, radius_mm=25, segments=36, base_layers=1)
    write_piece(folder / "vase.gcode", piece, style or SliceStyle(heaters=True))
    return ran(folder, "vase.gcode", config)


def resume(folder: Path, *args: object, of: str = "print", name: str = "rest") -> Result:
    """`gpost resume` of a run in the folder, to `rest.gcode` and `rest.json`."""
    out = folder / f"{name}.gcode"
    return typed("resume", folder / f"{of}.json", *args, "-o", out, "--json", folder / f"{name}.json")


def summary(folder: Path, name: str = "rest") -> dict[str, Any]:
    """A summary in the folder."""
    found: dict[str, Any] = json.loads((folder / f"{name}.json").read_text())
    return found


def tail(path: Path) -> list[str]:
    """The lines behind the opening."""
    lines = path.read_text().splitlines()
    return lines[lines.index("; gpost: resume ends") + 1 :]
