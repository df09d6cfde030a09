"""An output of gpost's whose comments are all stripped is told by its blocks; no other file is taken for one."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given

from gpost.demo.folder import stock_recipe
from gpost.demo.gcode import class_pieces
from gpost.pipeline import check_file, run_file
from gpost.plan.plan import Plan
from gpost.preflight.checks import Preflight
from gpost.preflight.model import Finding
from gpost.read.source import Source
from gpost.steps.recipe import make_recipe
from gpost.survey.build import survey_source
from tests.config_files import load_files
from tests.reference.pieces import Piece, piece_programs
from tests.reference.walls import CASES, named
from tests.sliced import write_piece
from tests.survey.wallcheck import config_of

NAME = "second-run"
PAUSES = "steps: [remind: {at_heights_mm: [30, 60], text: Look, how: pause}]"
PRIMED = "steps: [swap: {at_height_mm: 50, colour: blue, clear: purge, onto: park}]"
PURGED = "steps: [purge: {volume_ml: 15}]"
JOBS = {"the demo": stock_recipe(), "pauses": PAUSES, "a swap": PRIMED, "a purge": PURGED}


def stripped(data: bytes) -> bytes:
    """Without comments, and without the lines that they leave empty."""
    bare = re.sub(rb"[ \t]*(?:;[^\n]*|\([^\n)]*\))", b"", data)
    return b"".join(line for line in bare.splitlines(keepends=True) if line.strip())


def second_run(path: Path, recipe: str, chunk_bytes: int = 1 << 18) -> list[Finding]:
    """What is found of a file under a recipe's config, of that name."""
    config = make_recipe(load_files([("recipe.yaml", recipe)])).config
    preflight = Preflight(config)
    survey = survey_source(Source(path, chunk_bytes=chunk_bytes), config, None, (preflight.observe,))
    return [found for found in preflight.findings(Plan(survey, config)) if found.name == NAME]


@pytest.fixture(scope="module")
def bottle(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A sliced bottle."""
    path = tmp_path_factory.mktemp("bottle") / "bottle.gcode"
    write_piece(path, *class_pieces()["twisted-bottle"])
    return path


@pytest.mark.parametrize("chunk_bytes", [700, 1 << 18])
@pytest.mark.parametrize("name", JOBS)
def test_stripped_outputs_are_known(bottle: Path, tmp_path: Path, name: str, chunk_bytes: int) -> None:
    """By a pause or a purge, at its first line, wherever the file is cut into blocks."""
    recipe = make_recipe(load_files([("recipe.yaml", JOBS[name])]))
    run_file(bottle, tmp_path / "out.gcode", recipe.config, recipe.steps)
    path = tmp_path / "bare.gcode"
    path.write_bytes(stripped((tmp_path / "out.gcode").read_bytes()))
    (found,) = second_run(path, JOBS[name], chunk_bytes)
    assert found.severity == "error"
    first = path.read_bytes().split(b"\n")[found.line or 0]
    assert first.startswith((b"M84 S0", b"G1 E", b"G0 Z"))
    assert "Run it on the sliced file" in found.text


@pytest.mark.parametrize("name", class_pieces())
def test_stripped_sliced_files_are_not(tmp_path: Path, name: str) -> None:
    """They prime and travel too, but gpost's blocks are not in them."""
    write_piece(tmp_path / "pot.gcode", *class_pieces()[name])
    path = tmp_path / "bare.gcode"
    path.write_bytes(stripped((tmp_path / "pot.gcode").read_bytes()))
    assert second_run(path, PAUSES) == []


@pytest.mark.parametrize("name", CASES)
def test_walls_of_scripts_are_not(tmp_path: Path, name: str) -> None:
    """As people's own scripts write them, without a comment."""
    wall = named(name)
    path = tmp_path / "wall.gcode"
    path.write_bytes(stripped(wall.program if isinstance(wall.program, bytes) else wall.program.encode()))
    assert not [found for found in check_file(path, config_of(wall), ()) if found.name == NAME]


@given(piece=piece_programs())
def test_generated_pieces_are_not(tmp_path_factory: pytest.TempPathFactory, piece: Piece) -> None:
    """In all dialects, with primes and hops."""
    path = tmp_path_factory.mktemp("piece") / "piece.gcode"
    path.write_bytes(stripped(piece.program))
    assert second_run(path, PAUSES) == []


PAUSE_OF_A_SCRIPT = ["G91", "G1 E-1 F900", "G1 Z10 F600", "G90", "G0 X10 Y10 F3000", "M0", "G0 X100 Y100", "G0 Z4"]


def test_pauses_of_people_s_own_are_not(check: Callable[..., dict[str, Finding]], pot: Callable[..., str]) -> None:
    """A script that parks, waits and comes back does so in an order of its own."""
    text = pot().split("\n")
    program = "\n".join([*text[:8], *PAUSE_OF_A_SCRIPT, *text[8:]])
    assert NAME not in check(program)
