"""A file that is cut off is told from one that ends: where its last line breaks off, or its last layer does."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

import pytest

from gpost.config.model import Clay, Config, PathSection
from gpost.survey.model import Survey
from tests.survey.rings import Rings

SurveyOf = Callable[..., Survey]
RINGS = Rings()
CUT = "it may be cut off"


def cut_off(survey: Survey) -> list[str]:
    return [text for text in survey.warnings if CUT in text]


@pytest.mark.parametrize("chunk_bytes", [1, 1 << 18])
@pytest.mark.parametrize(
    ("words", "said"),
    [
        (" X86.2 Y105.7 E99", True),  # inside E: it falls
        (" X86.2 Y105.7 E99999", True),
        (" X86.2 Y105.7", True),
        (" X8", True),
        ("1 X86.2 Y1", True),
        ("0 X8", False),  # a way to the park, as far as can be told
        (" Z60", False),
        (" E900", False),
        ("", False),
    ],
)
def test_a_last_line_that_breaks_off(survey_of: SurveyOf, words: str, said: bool, chunk_bytes: int) -> None:
    """Cut inside any number of a bead in the wall, it is said with the line; a whole line that is ended isn't."""
    command = words if words[:1] in "01" else f"1{words}"
    text = RINGS.text + f"G{command}" * bool(words)
    line = text.count("\n") + 1
    found = cut_off(survey_of(text, chunk_bytes=chunk_bytes))
    assert len(found) == said
    assert all(f"in the middle of line {line} as it seems" in sentence for sentence in found)
    assert len(cut_off(survey_of(text + "\nG0 Z80\n", chunk_bytes=chunk_bytes))) == 0


SPIRAL = [
    f"G1 X{100 + 20 * math.cos(at * math.pi / 12):.4f} Y{100 + 20 * math.sin(at * math.pi / 12):.4f} "
    f"Z{1 + at / 12:.4f} E{57.435 * at:.4f}"
    for at in range(1, 121)
]
"""A wall that rises all the way, whose end can be anywhere."""
BEFORE = "G21\nG90\nM82\nG28\nG92 E0\nG0 X120.0000 Y100.0000 Z1.0000 F3000\n"


@pytest.mark.parametrize("chunk_bytes", [1, 1 << 18])
@pytest.mark.parametrize(
    "program",
    [
        RINGS.text,
        RINGS.text + "G0 Z60\n",
        RINGS.text + "G0 X10 Y150\n",
        RINGS.text.replace("\n", "\r\n"),
        BEFORE + "\n".join(SPIRAL) + "\n",
        BEFORE + "\n".join(f"N{at} {line}" for at, line in enumerate(SPIRAL)) + "\n",
        BEFORE + "\n".join(line.replace(".0000", "").rstrip("0") for line in SPIRAL) + "\n",
        BEFORE
        + "\n".join(re.sub(r"[.][0-9]+( E.*)?$", lambda x: x[1] or "", line) for line in SPIRAL)
        + "\n",
        BEFORE + "\n".join(SPIRAL) + "\nG1 Z60\n; the end\n",
    ],
)
def test_a_whole_file_without_its_last_newline(survey_of: SurveyOf, program: str, chunk_bytes: int) -> None:
    """Nothing says that it is cut off: its last line says as much as those before it, to as many digits."""
    assert cut_off(survey_of(program.rstrip("\r\n"), chunk_bytes=chunk_bytes)) == []
    assert cut_off(survey_of(program, chunk_bytes=chunk_bytes)) == []


def test_cut_anywhere_in_a_bead(survey_of: SurveyOf) -> None:
    """In all 30 places or so inside the last line at which a number that can be read is left, it is told."""
    whole = BEFORE + "\n".join(SPIRAL)
    places = range(len(whole) - len(SPIRAL[-1]) + 3, len(whole))
    numbers = [place for place in places if whole[place - 1] in "0123456789."]
    assert len(numbers) > 25
    for place in numbers:
        assert len(cut_off(survey_of(whole[:place]))) == 1, whole[place - 20 : place]


@pytest.mark.parametrize("chunk_bytes", [1, 1 << 18])
@pytest.mark.parametrize(
    ("last", "said"),
    [
        ("G1 Z13.", True),  # behind the point
        ("G0 X120.0000 Y1", True),  # of Y100.0000
        ("G0 X120.0000 Y100.0000 Z1", True),
        ("G0 X120.0000 Y100.0000 Z14.000", True),
        ("G1 Z1", True),  # into the wall: of Z14
        ("Z1", True),
        ("G1 Z14", False),  # up, as far as can be told
        ("G0 X10 Y1", False),  # as somebody writes an end by hand
        ("G0 X120.0000 Y100.0000 Z14.0000", False),
        ("G0 X120.0000 Y100.0000 Z14.0000 F3000", False),
    ],
)
def test_a_travel_that_breaks_off(survey_of: SurveyOf, last: str, said: bool, chunk_bytes: int) -> None:
    """Inside a number of a way between two layers, as far as the form of the others tells."""
    rings = re.sub(r"Y100 Z([0-9]+)", r"Y100.0000 Z\1.0000", RINGS.text)
    found = cut_off(survey_of(rings + last, chunk_bytes=chunk_bytes))
    assert len(found) == said
    assert all(f"in the middle of line {rings.count(chr(10)) + 1} as it seems" in text for text in found)
    assert cut_off(survey_of(rings + last + "\n", chunk_bytes=chunk_bytes)) == []


def test_points_without_decimals_are_a_manner(survey_of: SurveyOf) -> None:
    """Where all whole numbers end with a point, the last one does too."""
    text = RINGS.text.replace("Z2 ", "Z2. ").replace("Y100 Z", "Y100. Z")
    assert cut_off(survey_of(text + "G0 Z60.")) == []


@pytest.mark.parametrize("chunk_bytes", [1, 1 << 18])
@pytest.mark.parametrize(
    ("sides_left_out", "end", "said"),
    [
        (0, "", False),
        (12, "", True),
        (18, "; so far\n\n", True),
        (12, "G0 Z60\n", False),
        (12, "M84\n", False),
        (12, "%\n", False),
        (12, "LIFT_ALL\n", False),
        (24, "", False),  # a ring that isn't begun
        (1, "", False),  # the gap is a bead wide
    ],
)
def test_a_file_cut_at_a_line_s_end(
    survey_of: SurveyOf, sides_left_out: int, end: str, said: bool, chunk_bytes: int
) -> None:
    """Its last command lays clay, and its last ring doesn't come back to where it and the one before began."""
    lines = list(RINGS.lines())
    kept = lines[: len(lines) - sides_left_out]
    found = cut_off(survey_of("\n".join(kept) + "\n" + end, chunk_bytes=chunk_bytes))
    assert len(found) == said
    assert all(f"(line {len(kept)}), and elsewhere than layer 5" in sentence for sentence in found)


def to_and_fro(strokes: int, last_x_mm: float) -> str:
    """A straight wall, each stroke of ten beads back from where the one below ended."""
    lines = ["G90", "M83", "G28", "G0 F3000", "G0 X50 Y50 Z2"]
    for stroke in range(strokes):
        lines.append(f"G1 Z{2 * stroke + 2}")
        ends = range(60, 160, 10) if stroke % 2 == 0 else range(140, 40, -10)
        lines += [f"G1 X{x} E110 F1500" for x in ends]
    while lines[-1].split()[1] != f"X{last_x_mm:g}":
        lines.pop()
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize(("last_x_mm", "said"), [(50, False), (100, True), (60, True)])
def test_a_wall_to_and_fro(survey_of: SurveyOf, last_x_mm: float, said: bool) -> None:
    """It ends where the stroke below began; a shorter one is told."""
    survey = survey_of(to_and_fro(6, last_x_mm))
    assert (len(survey.layers), survey.layers["odd"].any()) == (6, False)
    assert bool(cut_off(survey)) == said


def test_what_can_t_be_told_is_not_said(survey_of: SurveyOf) -> None:
    """A first layer that ends anywhere, and a strip laid beside the piece at its end."""
    lines = list(RINGS.lines())
    assert cut_off(survey_of("\n".join(lines[:20]) + "\n")) == []
    for strip in ("G0 X20 Y20 Z2\nG1 X60 E99999\n", "G0 X88 Y92\nG1 X95 E99999\n"):
        assert cut_off(survey_of(RINGS.text + strip)) == []


def test_clay_by_the_path(survey_of: SurveyOf) -> None:
    """A file without E is judged in the same way."""
    config = Config(clay=Clay(metering=PathSection(unit="path"), bead_width_mm=6.0))
    lines = [line.split(" E")[0] for line in RINGS.lines()]
    assert cut_off(survey_of("\n".join(lines) + "\n", config=config)) == []
    assert len(cut_off(survey_of("\n".join(lines[:-12]) + "\n", config=config))) == 1
    assert len(cut_off(survey_of("\n".join(lines[:-12]) + "\nG1 X1", config=config))) == 1
