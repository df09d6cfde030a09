"""What is odd about a file is said in a sentence; what prints nothing is refused."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from gpost.config.model import Clay, Config, CubicMillimetres, Filament, Layers, PathSection
from gpost.errors import SourceError
from gpost.survey.claycheck import usual_rise_mm
from gpost.survey.model import Survey
from gpost.testing import make_survey, with_layers

SurveyOf = Callable[..., Survey]
POT = (
    "G21\nG90\nM83\nG0 X0 Y0 Z2 F1800\n"
    "G1 X50 E600\nG1 Y50 E600\nG1 X0 E600\nG1 Y0 E600\n"
    "G0 Z4\nG1 X50 E600\nG1 Y50 E600\nG1 X0 E600\nG1 Y0 E600\n"
)
"""Two square rings of 200 mm, 12 mm^2 of clay to a mm of path; E counts mm^3."""


def warnings(survey_of: SurveyOf, *, before: str = "", after: str = "", **clay: object) -> tuple[str, ...]:
    """Warnings on the pot with lines before and after it."""
    settings = {"metering": CubicMillimetres(unit="mm3"), "bead_width_mm": 6.0, **clay}
    config = Config(clay=Clay(**settings))  # type: ignore[arg-type]
    return survey_of(before + POT + after, config=config).warnings


def test_a_plain_file_has_none(survey_of: SurveyOf) -> None:
    """A file without oddities gets no warning."""
    assert warnings(survey_of) == ()


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("G1 X-3e-05", "exponent (like 3e-05); they were read as numbers (first: line 1)"),
        ("G1 X1 2 . 5", "hold blanks"),
        ("\0\0\0", "NUL bytes"),
        ("/G1 X0", "block delete"),
        ("SET_AIR AT=air", "named command"),
        ("M777 Layer 5, of 20", "gpost does not know M777; it stays as it is"),
        ("M777", "gpost does not know M777"),
        ("M777 S5 P3", "gpost does not know M777"),
        ("G1 X0 A5", "other axes (A)"),
        ("G123", "gpost does not know G123"),
        ("M163 S0 P0.5", "mixes two clays"),
        ("M101", "M101 and M103"),
        ("G10\nG11", "G10 and G11"),
        ("T0\nT1", "changes tools"),
        ("G1 X0", "no feed F (line 1)"),
        ("G1 F40000 E30000", "runs out 30 ml of clay in one place (line 1)"),
    ],
)
def test_what_is_odd_is_said(survey_of: SurveyOf, line: str, said: str) -> None:
    """One thing that is odd gives one sentence, with the line where it first stands."""
    feed = "" if "feed" in said else "G0 F3000\n"
    found = warnings(survey_of, before=feed + line + "\nM103\n" if "M101" in line else feed + line + "\n")
    assert len(found) == 1
    assert said.replace("line 1)", f"line {1 + feed.count(chr(10))})") in found[0]


@pytest.mark.parametrize(
    ("start", "midway", "end", "said"),
    [
        ("", "T1", "", "by T1 in the middle of the print (line 4)"),
        ("T0\n", "T1", "", "by T1 in the middle of the print (line 5)"),
        ("T1\n", "T0\nT1", "", "by T0 in the middle of the print (line 5, first of 2)"),
        ("T1\n", "T1", "", None),
        ("T1\n", "", "", None),
        ("", "T0", "", None),
        ("", "", "T1\n", None),  # no bead comes after it
        ("T0\n", "", "T1\n", "the file changes tools; gpost counts"),
    ],
)
def test_a_tool_changed_between_beads(
    survey_of: SurveyOf, start: str, midway: str, end: str, said: str | None
) -> None:
    """The machine moves as it changes: it is told where; one tool all the way is none."""
    ring = "G1 X{0} Y10 Z{1} E10\nG1 X{0} Y60 E10\nG1 X10 Y10 E10\n"
    first, *others = ring.format(60, 2).splitlines(keepends=True)
    told = survey_of(f"G28\nM83\n{start}{first.replace('E10', 'F1200 E10')}{midway}\n{''.join(others)}{end}").warnings
    assert [text for text in told if "tools" in text] == [text for text in told if said is not None and said in text]
    assert any("tools" in text for text in told) == (said is not None)


def test_what_the_studio_names_is_not_odd(survey_of: SurveyOf) -> None:
    """Codes and names that this machine's files may hold are known."""
    before = "G0 F3000\nM777 S1\nG123\nSET_AIR AT=air\nM5555\n"
    config = Config.model_validate(
        {
            "machine": {"file_may_hold": ["m0777", "G123", "set_air"]},
            "clay": {"metering": {"unit": "mm3"}, "bead_width_mm": 6.0},
        }
    )
    (said,) = survey_of(before + POT, config=config).warnings
    assert said.startswith("gpost does not know M5555;")


@pytest.mark.parametrize("line", ["(look) BREATHE", "BREATHE(look)", "/BREATHE", "breathe ; look"])
def test_a_name_is_read_behind_a_comment(survey_of: SurveyOf, line: str) -> None:
    """By the word that is carried out and not by one in brackets, so that a wait by name is seen as one."""
    machine = {"pause": {"commands": ["BREATHE"]}, "allow_commands": ["BREATHE"]}
    config = Config.model_validate({"machine": machine, "clay": {"metering": {"unit": "mm3"}}})
    survey = survey_of(f"G0 F3000\n{line}\n{POT}", config=config)
    assert survey.named == {"BREATHE": 1}
    assert [(pause.line, pause.command) for pause in survey.own_pauses] == [(1, "BREATHE")]


@pytest.mark.parametrize("chunk_bytes", [1, 1 << 18])
def test_a_file_without_any_feed(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """Its feed is not known, rather than endless, and what to do is said."""
    survey = survey_of(POT.replace(" F1800", ""), chunk_bytes=chunk_bytes)
    assert survey.layers["feed_mm_min"].tolist() == [0, 0]
    (said,) = survey.warnings
    assert said.startswith("no move has a feed F (line 5), so gpost can't know the times; put one")


def test_a_retract_is_no_prime(survey_of: SurveyOf) -> None:
    """Small amounts of clay in place are usual."""
    assert warnings(survey_of, before="G0 F3000\nG1 E4000\nG1 E-4000\n") == ()


def test_at_most_five_primes_are_named(survey_of: SurveyOf) -> None:
    """A file with many big primes gets five sentences, not hundreds."""
    found = warnings(survey_of, before="M83\nG0 F3000\n" + "G1 E9000\n" * 50)
    assert sum("in one place" in warning for warning in found) == 5


@pytest.mark.parametrize(
    ("clay", "warns"),
    [
        ({}, False),
        ({"bead_width_mm": 7.3}, False),  # within a quarter
        ({"bead_width_mm": 9.0}, True),
        ({"bead_width_mm": 4.5}, True),
        ({"metering": Filament(unit="filament", diameter_mm=1.75)}, True),
        ({"metering": PathSection(unit="path"), "bead_width_mm": 9.0}, False),
    ],
)
def test_the_two_ways_to_reckon_clay(survey_of: SurveyOf, clay: dict[str, object], warns: bool) -> None:
    """Clay by E and by path times bead may differ by a quarter; beyond that the unit of E is in doubt."""
    found = [warning for warning in warnings(survey_of, **clay) if "check `clay: metering`" in warning]
    assert bool(found) is warns


def test_two_pieces_are_said(survey_of: SurveyOf) -> None:
    """Pieces one after the other are counted, in a sentence too."""
    second = POT.replace("X0", "X100").replace("X50", "X150")
    survey = survey_of(POT + "G0 Z20\n" + second)
    assert survey.pieces == 2
    assert any("prints 2 pieces" in warning for warning in survey.warnings)


@pytest.mark.parametrize(
    ("program", "reason"),
    [
        ("; nothing\nM84\n", "moves nothing"),
        ("G0 X5 F600\nG1 X9\n", "no move has an E word"),
        ("G1 E500 F60\nG1 E-5\n", "E never rises while the nozzle travels"),
        ("G1 X5 E-5 F600\n", "E never rises while the nozzle travels"),
        ("G1 F600\nG21\n", "moves nothing"),
    ],
)
def test_a_file_that_prints_nothing(survey_of: SurveyOf, program: str, reason: str) -> None:
    """Without moves, without E, or without clay along a path there is nothing to do."""
    with pytest.raises(SourceError, match=reason):
        survey_of(program)


@pytest.mark.parametrize(
    ("after", "refused"),
    [
        ("M2\n", False),
        ("M2\n; G1 X5\nM84\n", False),
        ("M2\nG1 X5\n", True),
        ("G1 X5 M2\n", False),
        ("M30 pot.g\nG1 X5\n", False),
        ("%\n", False),
        ("%\nG1 X5\n", False),
        ("%\n%\nG1 X5\n", True),
        ("M84 %\n", False),
        ("M2 %\n", False),
        ("M30%", False),
        ("M2\n%\nM84 %\n", False),
        ("M84 %\nG1 X5\n", True),
        ("M2\nG0 Z50\n", False),
        ("M2 %\nG0 Z50 F600\nG0 Z60\n", False),
        ("%\n%\nG0 Z50\n", False),
        ("M2\nG0 Z1\n", True),
        ("M2\nG0 X5 Z50\n", True),
        ("M2\nG1 Z50 E5\n", True),
        ("M2\nG1 E5\n", True),
    ],
)
@pytest.mark.parametrize("chunk_bytes", [1, 1 << 18])
def test_after_the_end_nothing_moves(
    survey_of: SurveyOf, after: str, refused: bool, chunk_bytes: int
) -> None:
    """What comes after M2 or a second % is not carried out (NIST RS274/NGC report, 3.1 and 3.6.1).

    A lift without clay does no harm, whether it is or not; nor does a % behind the last word.
    """
    if not refused:
        assert len(survey_of(POT + after, chunk_bytes=chunk_bytes).layers) == 2
        return
    line = (POT + after).count("\n")
    with pytest.raises(SourceError, match=rf"line {line}: the program ends on line {line - 1}"):
        survey_of(POT + after, chunk_bytes=chunk_bytes)


@pytest.mark.parametrize("chunk_bytes", [1, 1 << 18])
def test_a_lift_after_the_end_is_said(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """With its place: it stays in the file, and counts as what comes after the end."""
    (one,) = survey_of(POT + "M2\nG0 Z50\n", chunk_bytes=chunk_bytes).warnings
    assert one.startswith("a move lifts the nozzle after the program's end (line 15); ")
    survey = survey_of(POT + "M2\nG0 Z50\nG0 Z60\n", chunk_bytes=chunk_bytes)
    assert survey.warnings[0].startswith("2 moves lift the nozzle after the program's end (line 15); ")
    assert (len(survey.layers), survey.laid_until) == (2, 13)


@pytest.mark.parametrize("number", ["O1000", ":1000", "o 1 (bowl)"])
@pytest.mark.parametrize("before", ["", "%\n", "; a bowl\n\n(made today)\n%\n"])
@pytest.mark.parametrize("chunk_bytes", [1, 1 << 18])
def test_a_program_s_number_before_all_else(
    survey_of: SurveyOf, before: str, number: str, chunk_bytes: int
) -> None:
    """It names the program (ISO 6983-1), after the first % and comments if there are any: nothing is odd."""
    assert survey_of(before + number + "\n" + POT, chunk_bytes=chunk_bytes).warnings == ()


@pytest.mark.parametrize(
    "before", ["G21\n", "G0 F600\nO999\n", "O999\n", "M84\n", "SET_AIR AT=air\n", "M117 bowl\n"]
)
@pytest.mark.parametrize("chunk_bytes", [1, 1 << 18])
def test_a_number_further_on_is_a_subprogram_s(survey_of: SurveyOf, before: str, chunk_bytes: int) -> None:
    """Behind anything else it could be called from anywhere."""
    with pytest.raises(SourceError, match=r"line \d: this line branches, loops or calls a subprogram"):
        survey_of(before + "O1000\n" + POT, chunk_bytes=chunk_bytes)


def test_a_pattern_that_matches_nothing(survey_of: SurveyOf) -> None:
    """If the config names layer comments that the file doesn't have, that is said."""
    config = Config(layers=Layers(comment_pattern="^;ring"))
    with pytest.raises(SourceError, match="comment_pattern"):
        survey_of(POT, config=config)


@pytest.mark.parametrize(
    ("rises_mm", "rising", "usual_mm"),
    [
        ([2, 2, 2], False, 2),
        ([7, 2, 2], False, 2),
        ([1, 2, 3, 5], False, 2.5),
        ([2, 0, 0, 0, 3], False, 2.5),  # what lies at one height is no rise
        ([4, 0, 0, 0, 0], False, 4),
        ([2, -1.5, 2, -1.5, 4], False, 2),  # nor what waves down
        ([9, 2, 2, 3], True, 2),
        ([9], True, 0),
    ],
)
def test_the_usual_height_of_a_layer(rises_mm: list[float], rising: bool, usual_mm: float) -> None:
    """The median of what the layers rise by; a first turn's own top tells nothing of it."""
    survey = make_survey(layer_ml=[10] * len(rises_mm), layer_mm=rises_mm, rising=rising)
    assert usual_rise_mm(survey.layers) == pytest.approx(usual_mm)


def test_a_wall_on_a_base_counts_the_base_s_own_height() -> None:
    """The first layer is level, and lies on the slab, whatever the others are."""
    survey = make_survey(layer_ml=[10] * 3, layer_mm=[4, 2, 2], rising=True)
    kind = np.array([0, 1, 1])
    assert usual_rise_mm(with_layers(survey, kind=kind).layers) == 2
    assert usual_rise_mm(with_layers(survey, kind=kind).layers[:2]) == 3
    assert usual_rise_mm(with_layers(survey, kind=kind[::-1]).layers[:2]) == 2


@pytest.mark.parametrize("chunk_bytes", [1, 1 << 18])
@pytest.mark.parametrize(
    ("end", "said"),
    [("\nG1 X100 Y60 E16", True), ("\nG1 X100 Y6", True)]
    + [(end, False) for end in ("", "\n", "\nG0 Z60", "\n; end", "\nM84")],
)
def test_a_file_that_stops_in_a_line_of_clay(
    survey_of: SurveyOf, end: str, said: bool, chunk_bytes: int
) -> None:
    """In the middle of it: it may be cut off; wherever the file is read in blocks. A whole one needs no newline."""
    program = "G28\nG1 Z2 F1500\n" + "\n".join(f"G1 X{60 + n} Y60 E{40 * n}" for n in range(40)) + end
    found = survey_of(program, chunk_bytes=chunk_bytes).warnings
    assert any("line 43 as it seems: it may be cut off" in warning for warning in found) == said
