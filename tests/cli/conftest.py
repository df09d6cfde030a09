"""The command line in-process, a small sliced file, and steps of our own."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeAlias

import pytest
from click.testing import CliRunner, Result

from gpost.cli import cli
from gpost.demo.gcode import Piece, SliceStyle
from tests.sliced import write_piece

Gpost: TypeAlias = Callable[..., Result]

STEPS = '''
"""Steps for tests of the command line."""

from gpost.api import NotNegative, Pause, PlanError, Settings, Spot, Step, hookimpl

class LookSettings(Settings):
    at_layer: int = 3
    """The layer before which the machine stops."""
    fail: str = ""

class Look(Step[LookSettings]):
    """Stops so that you can look."""

    name = "look"
    Settings = LookSettings

    def plan(self, survey, plan):
        if self.settings.fail == "plan":
            raise PlanError("the piece is too \\x1b[31mgood to stop")
        if self.settings.fail == "crash":
            raise ZeroDivisionError("one over nothing")
        line = int(survey.layers["first_line"][self.settings.at_layer - 1])
        yield Pause(Spot(line), "look", "to look at the base", "Look")

@hookimpl
def gpost_steps():
    return [Look]
'''


@pytest.fixture
def gpost(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Gpost:
    """Run the command line in an empty folder; standard output and error are kept apart."""
    monkeypatch.chdir(tmp_path)

    def run(*args: object, stdin: bytes = b"") -> Result:
        return CliRunner().invoke(cli, [str(arg) for arg in args], input=stdin)

    return run


@pytest.fixture
def sliced(tmp_path: Path) -> Path:
    """A small cylinder of six layers in the test's folder: `vase.gcode`."""
    piece = Piece(height_mm=12, radius_mm=30, segments=24, base_layers=1)
    write_piece(tmp_path / "vase.gcode", piece, SliceStyle(heaters=True))
    return tmp_path / "vase.gcode"


@pytest.fixture
def steps(tmp_path: Path) -> Path:
    """A folder with the step `look`."""
    folder = tmp_path / "steps"
    folder.mkdir()
    (folder / "looking.py").write_text(STEPS)
    return folder


@pytest.fixture
def config(tmp_path: Path) -> Path:
    """A config for the small cylinder that uses the step `look`: `studio.yaml`."""
    path = tmp_path / "studio.yaml"
    path.write_text(
        "machine: {bed: {x_max_mm: 300, y_max_mm: 300}}\n"
        "clay: {metering: {unit: filament, diameter_mm: 1.75}}\n"
        "steps: [look]\n"
    )
    return path


@pytest.fixture
def run_vase(gpost: Gpost, sliced: Path, config: Path, steps: Path) -> Gpost:
    """`gpost run vase.gcode` with that config and step; more arguments may follow."""

    def run(*args: object) -> Result:
        return gpost("run", sliced, "-c", config, "--steps-from", steps, *args)

    return run
