"""What is printed fits the terminal: every command at several widths, none of its words lost; files and pipes as ever."""

from __future__ import annotations

import os
import pty
import re
import shutil
import struct
import subprocess
import sys
from collections import Counter
from fcntl import ioctl
from pathlib import Path
from termios import TIOCSWINSZ

import pytest
from click.testing import CliRunner

from gpost.cli import cli
from gpost.demo.folder import make_demo
from gpost.guide.pages import PAGES

WIDTHS = (40, 60, 80, 120, 200)
PROGRAM = Path(sys.executable).with_name("gpost")
CONFIG = ("-c", "shown/studio.yaml")
VASE = ("shown/twisted-bottle.gcode", *CONFIG, "-c", "shown/two-colours.yaml")
NAME = f"a-bottle-{'with-a-long-name-' * 5}that-goes-on"
PRINTS: dict[str, tuple[str, ...]] = {
    "survey": ("survey", "shown/twisted-bottle.gcode", *CONFIG),
    "survey-all": ("survey", "shown/twisted-bottle.gcode", "--all", *CONFIG),
    "check": ("check", "demo/twisted-bottle.gcode", *CONFIG),
    "check-fine": ("check", *VASE),
    "run": ("run", *VASE, "-o", "out.gcode", "--overwrite"),
    "run-long": ("run", *VASE, "-o", "out.gcode", "--overwrite", "--long"),
    "run-summary": ("run", *VASE, "-o", "out.gcode", "--overwrite", "--summary", "-"),
    "run-demo": ("run", "demo/twisted-bottle.gcode", "-c", "demo/recipe.yaml", "-o", "out.gcode", "--overwrite", "--long"),
    "rehearsal": ("run", *VASE, "-o", "rehearsal.gcode", "--overwrite", "--rehearse", "40"),
    "demo": ("demo", "again", "--overwrite"),
    "batch": ("batch", "in", *CONFIG, "-o", "batched", "-j", "1"),
    "day": ("day", "in", *CONFIG),
    "day-class": ("day", "class", "-c", "class-folder/studio.yaml", "-c", "class-folder/class-folder.yaml", "--start", "9:00"),
    "load": ("load", *VASE),
    "load-bands": ("load", "shown/twisted-bottle.gcode", *CONFIG, "--bands", "bands.yaml"),
    "stain": ("stain", "--wet-g", "1000", "--water-percent", "25", "--add", "cobalt=1.5"),
    "ladder": ("stain", "--wet-g", "300", "--water-percent", "25", "--add", "cobalt=1.5", "--add", "rutile=2", "--ladder", "5"),
    "weighings": ("calibrate", *CONFIG, "--weighing", "1000=4.4", "--weighing", "2000=8.9", "--weighing", "3000=13.3", "--weighing", "4000=17.9"),
    "morning": ("calibrate", *CONFIG, "--morning", "4000=18.9", "--morning", "3000=14.2"),
    "measure": ("calibrate", "--measure", "50=93", "--measure", "50=92.6", "--measure", "50=93.1"),
    "strip": ("calibrate", *CONFIG, "--strip", "strip.gcode", "--overwrite"),
    "colour": ("calibrate", *CONFIG, "--colour", "70=150", "--colour", "72=155", "--colour", "71=152"),
    "tube": ("calibrate", *CONFIG, "--tube", "tube.gcode", "--overwrite"),
    "folded": ("calibrate", *CONFIG, "--tube-folded", "140@14:00@foot", "--tube-folded", "150@45:00@foot", "--tube-folded", "141@14:20@foot"),
    "slump": ("calibrate", *CONFIG, "--slump", "100=20", "--slump", "100=21"),
    "cone": ("calibrate", "--cone", "8", "--cone", "8.2"),
    "dried": ("calibrate", "--dried", "100=76", "--dried", "100=76.2", "--dried", "100=75.9", "--dry-density", "2.6"),
    "slip": ("calibrate", "--density", "1.75", "--dry-density", "2.6"),
    "shrank": ("calibrate", "--shrank", "100=94=87", "--shrank", "100=94.1=87.1", "--shrank", "100=93.9=87"),
    "log-add": ("log", "add", "shown/summary.json", *CONFIG, "--grams", "500", "--log", "other.sqlite"),
    "log-show": ("log", "show"),
    "log-fit": ("log", "fit", *CONFIG),
    "log-drop": ("log", "drop", "1", "--log", "dropping.sqlite"),
    "steps": ("steps",),
    "explain": ("explain",),
    "explain-step": ("explain", "swap"),
    "explain-several": ("explain", "spread_percent"),
    "explain-key": ("explain", "machine"),
    "explain-steps": ("explain", "steps"),
    "guide": ("guide",),
    **{f"guide-{page}": ("guide", page) for page in PAGES},
    "resume": ("resume", "job.json", "-o", "rest.gcode", "--from-layer", "20", "--overwrite", "--long"),
    "init": ("init", "own.yaml", "--bed", "280 280", "--pause", "M0", "--display", "M117", "--overwrite"),
}  # fmt: skip
"""Every command that prints, by what the case is called."""


@pytest.fixture(scope="module")
def studio(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with demo pieces and their configs, folders of pieces, bands, a job that can be resumed, a log."""
    folder = tmp_path_factory.mktemp("studio")
    make_demo(folder / "demo")
    make_demo(folder / "shown", recipe="two-colours")
    make_demo(folder / "class-folder", recipe="class-folder")
    for name in ("in", "class"):
        (folder / name).mkdir()
    shutil.copy(folder / "shown/twisted-bottle.gcode", folder / "in/vase.gcode")
    shutil.copy(folder / "shown/twisted-bottle.gcode", folder / f"in/{NAME}.gcode")
    (folder / "in/broken.gcode").write_text("G1 X1..2\n")
    for name in ("bowl", f"{NAME} of two words"):
        shutil.copy(folder / "class-folder/small-bowl-1.gcode", folder / f"class/{name}.gcode")
    (folder / "bands.yaml").write_text(
        "bands:\n- {clay: white, to_mm: 40}\n- {clay: blue, to_mm: 90}\n- {clay: red}\n"
    )
    at(folder, "run", *VASE, "-o", "job.gcode", "--json", "job.json")
    for log in ("gpost-log.sqlite", "dropping.sqlite"):
        for grams, note in ((500, ""), (505, "slow-drying, and cracked at its foot " * 6), (498, "softer")):
            at(folder, "log", "add", "job.json", *CONFIG, "--grams", str(grams), "--minutes", str(grams // 5), "--note", note, "--log", log)
    return folder


def at(folder: Path, *args: str, columns: int | None = None) -> str:
    """What a command prints in that folder; to a terminal of so many columns, or to a pipe."""
    env = {"COLUMNS": None if columns is None else str(columns)}
    before = Path.cwd()
    os.chdir(folder)
    try:
        result = CliRunner().invoke(cli, args, env=env)
    finally:
        os.chdir(before)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.output
    return result.output
