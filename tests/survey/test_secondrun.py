"""A file that gpost has written is known by its comments, and no other file is taken for one."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from hypothesis import given

from gpost.config.model import Config
from gpost.demo.folder import stock_recipe
from gpost.demo.gcode import class_pieces
from gpost.errors import SourceError
from gpost.pipeline import run_file
from gpost.steps.recipe import make_recipe
from gpost.survey.model import Survey
from tests.config_files import load_files
from tests.reference.pieces import Piece, piece_programs
from tests.sliced import write_piece
from tests.survey.test_build import POT

SurveyOf = Callable[..., Survey]
REFUSED = "already written by gpost"
COLD = "steps: [cold]"
SLOWER = "steps: [taper: {from_height_mm: 20, to_percent: 60, floor_mm_min: 300}]"
JOBS = {
    "all": stock_recipe(),
    "heating alone": COLD,
    "feeds alone": SLOWER,
    "a pause": "steps: [remind: {at_heights_mm: [30], text: Look, how: pause}]",
    "a purge": "steps: [purge: {volume_ml: 5}]",
}


@pytest.fixture(scope="module")
def outputs(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """What gpost writes of a bottle, by recipe."""
    folder = tmp_path_factory.mktemp("outputs")
    write_piece(folder / "bottle.gcode", *class_pieces()["twisted-bottle"])
    made = {}
    for name, text in JOBS.items():
        recipe = make_recipe(load_files([("recipe.yaml", text)]))
        run_file(folder / "bottle.gcode", folder / f"{name}.gcode", recipe.config, recipe.steps)
        made[name] = (folder / f"{name}.gcode").read_bytes()
    return made


def without_the_first_line(data: bytes) -> bytes:
    """As a person cuts it off."""
    return data.split(b"\n", 1)[1]


def without_first_and_last(data: bytes) -> bytes:
    """What is left is known by the blocks."""
    return without_the_first_line(data).removesuffix(b"\n").rsplit(b"\n", 1)[0] + b"\n"


def in_brackets(data: bytes) -> bytes:
    """Every comment in the standard's own way (NIST RS274/NGC report, section 3.3.4)."""
    return re.sub(rb";([^\n()]*)", rb"(\1)", data)


CHANGES: dict[str, Callable[[bytes], bytes]] = {
    "as it is": bytes,
    "no first line": without_the_first_line,
    "capitals": bytes.upper,
    "small letters": lambda data: without_the_first_line(data).lower(),
    "no blanks in comments": lambda data: re.sub(
        rb";[^\n]*", lambda found: found[0].replace(b" ", b""), data
    ),
    "more blanks": lambda data: re.sub(rb";[^\n]*", lambda found: found[0].replace(b" ", b"\t  "), data),
    "other line ends": lambda data: without_the_first_line(data).replace(b"\n", b"\r\n"),
    "brackets": in_brackets,
    "double signs": lambda data: without_the_first_line(data).replace(b";", b";;"),
}


@pytest.mark.parametrize("change", CHANGES)
@pytest.mark.parametrize("name", JOBS)
def test_its_own_outputs_are_refused(
    survey_of: SurveyOf, outputs: dict[str, bytes], name: str, change: str
) -> None:
    """Whatever the steps changed, and however the comments were written over."""
    with pytest.raises(SourceError, match=REFUSED):
        survey_of(CHANGES[change](outputs[name]), config=Config())


@pytest.mark.parametrize("name", sorted(set(JOBS) - {"feeds alone"}))
def test_the_blocks_are_known_too(survey_of: SurveyOf, outputs: dict[str, bytes], name: str) -> None:
    """Where the first line and the last one are cut off, one of the others will do."""
    with pytest.raises(SourceError, match=REFUSED):
        survey_of(without_first_and_last(outputs[name]), config=Config())


@pytest.mark.parametrize("chunk_bytes", [1, 77, 1 << 18])
def test_the_place_is_the_first_of_such_lines(
    survey_of: SurveyOf, outputs: dict[str, bytes], chunk_bytes: int
) -> None:
    """Wherever the file is cut into blocks."""
    body = without_the_first_line(outputs["a pause"])
    head = b"\n".join(body.split(b"\n")[:200]) + b"\n; gpost: reminder: Look\nM0\n; gpost: reminder ends\n"
    with pytest.raises(SourceError, match=f"^line 203: this file was {REFUSED}"):
        survey_of(head + body, config=Config(), chunk_bytes=chunk_bytes)


NOT_OURS = [
    "; made for gpost",
    "; gpost",
    "; gpost: reminder",
    "; gpost: a note of my own: print it slowly",
    "; gpost: a note of my own ends",
    "; prepared with gpost in mind: refill ends",
    "; file: gpost-bowl.gcode",
    "M117 gpost wrote",
    "(gpost: hello)",
]


@pytest.mark.parametrize("line", NOT_OURS)
def test_a_mention_of_it_is_no_mark(survey_of: SurveyOf, line: str) -> None:
    """A file may speak of gpost in words of its own."""
    assert len(survey_of(f"{line}\n{POT}{line}\n").layers) == 4


@given(piece=piece_programs())
def test_no_other_file_is_taken_for_one(survey_of: SurveyOf, piece: Piece) -> None:
    """Generated pieces, in all dialects and with comments of their own, are read."""
    survey_of(piece.program, config=Config())
