"""A file whose E lays no clay is told where its clay may be: in another axis, or in an E that falls."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from gpost.errors import SourceError
from gpost.survey.model import Survey
from tests.survey.rings import Rings

SurveyOf = Callable[..., Survey]
BOTH = pytest.mark.parametrize("chunk_bytes", [1, 1 << 18])


def refusal(survey_of: SurveyOf, text: str, chunk_bytes: int = 1 << 18) -> str:
    with pytest.raises(SourceError) as caught:
        survey_of(text, chunk_bytes=chunk_bytes)
    return str(caught.value)


@BOTH
@pytest.mark.parametrize("letter", "ABCUVW")
def test_clay_on_another_axis(survey_of: SurveyOf, letter: str, chunk_bytes: int) -> None:
    """The letter is named, with how many moves have it and from which line on."""
    rings = Rings(letter=letter)
    said = refusal(survey_of, rings.text, chunk_bytes)
    assert (
        f"no move has an E word. {letter} rises on 144 moves along the path (from line {rings.line_of(1)} on)"
        in said
    )
    assert "say `metering: {unit: path}`" in said


@BOTH
def test_clay_on_another_axis_by_steps(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """Where it is relative each word is clay, and a prime by E alone hides it not."""
    lines = [line.split(" A")[0] + " A35" * (" A" in line) for line in Rings(letter="A").lines()]
    text = "\n".join(lines).replace("M82", "M83\nG1 E50 F300") + "\n"
    said = refusal(survey_of, text, chunk_bytes)
    assert "E never rises while the nozzle travels. A rises on 144 moves" in said


def test_set_back_each_ring(survey_of: SurveyOf) -> None:
    """A G92 of that axis doesn't hide it."""
    assert "B rises on " in refusal(survey_of, Rings(letter="B", restart=True, before_ring="G92 B0\n").text)


@pytest.mark.parametrize("word", ["A0", "A90", "C-5"])
def test_a_turntable_is_not_named(survey_of: SurveyOf, word: str) -> None:
    """Words that don't rise are no clay."""
    lines = [line.split(" A")[0] + f" {word}" * (" A" in line) for line in Rings(letter="A").lines()]
    said = refusal(survey_of, "\n".join(lines) + "\n")
    assert "rises" not in said


@BOTH
def test_e_that_falls_all_the_way(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """Then its sign is turned round, not the slice wrong."""
    rings = Rings(sign=-1)
    said = refusal(survey_of, rings.text, chunk_bytes)
    assert "on 144 moves along the path it falls (from line " + str(rings.line_of(1)) in said
    assert "the sign of E is turned round" in said
    assert "slice the piece again" not in said


@BOTH
def test_e_that_falls_but_for_a_prime(survey_of: SurveyOf, chunk_bytes: int) -> None:
    """A prime that is laid makes a piece of itself: that far more falls than rises is said."""
    rings = Rings(sign=-1)
    prime = "G0 X50 Y50 Z2\nG1 X60 E110 F600\nG92 E0\n"
    text = rings.text.replace(rings.head, rings.head + prime)
    found = survey_of(text, chunk_bytes=chunk_bytes).warnings
    assert any(
        said.startswith(
            f"on 144 moves along the path E falls (from line {rings.line_of(1) + 3} on), 0.752 m in all"
        )
        and "rises along 0.01 m alone" in said
        for said in found
    )


def test_a_wipe_is_no_wall(survey_of: SurveyOf) -> None:
    """Clay drawn back along a way, as some slicers do at each end, is less than what is laid."""
    rings = Rings()
    wipe = "M83\nG1 X118 E-30 F1500\nG0 X120\nG1 E30\nM82\n"
    assert survey_of(rings.text.replace("G0 X120.0000 Y100", wipe + "G0 X120.0000 Y100")).warnings == ()


def stroke(at: int, e: str, feed: str = "F1500") -> str:
    """To and fro, each 1 to 40 mm longer than the one before, in no order."""
    return f"G1 X{100 + (-1) ** at * (3 + at * 7 % 40)} Y{60 + at} {e} {feed}"


@BOTH
def test_e_that_says_the_same_again_and_again_is_never_passed_over(
    survey_of: SurveyOf, chunk_bytes: int
) -> None:
    """A script writes one amount for every stroke, however long, under M82: the first alone lays clay."""
    head = ["G21", "G90", "M82", "G28", "G0 X100 Y59 Z2 F3000"]
    text = "\n".join([*head, *(stroke(at, "E500") for at in range(40)), "G0 Z40"]) + "\n"
    (said,) = [one for one in survey_of(text, chunk_bytes=chunk_bytes).warnings if "again" in one]
    assert said.startswith("on 39 moves along the path E says again what it was (from line 7 on)")
    assert "put an M83 before them" in said
    mended = text.replace("M82", "M83")
    assert not any("again" in one for one in survey_of(mended, chunk_bytes=chunk_bytes).warnings)


def test_travels_that_say_the_e_that_holds(survey_of: SurveyOf) -> None:
    """As long as the beads are, or five times as long: that is no wall without clay."""
    for times in (1, 5):
        lines, e = ["G21", "G90", "M82", "G28", "G0 X10 Y10 Z2 F3000"], 0.0
        for at in range(30):
            e += 20 * 11
            lines += [f"G1 X30 Y{10 + at} E{e} F1500"]
            lines += [f"G1 X{10 + 20 * (one % 2)} Y{10 + at + one / 10} E{e}" for one in range(times)]
            lines += [f"G1 X10 Y{11 + at} E{e}"]
        warnings = survey_of("\n".join(lines) + "\nG0 Z40\n").warnings
        assert not any("says again" in one for one in warnings)


@BOTH
@pytest.mark.parametrize("again", ["", "G1 E-3\nG1 E3\n"], ids=["once", "drawn back and given again"])
def test_drops(survey_of: SurveyOf, again: str, chunk_bytes: int) -> None:
    """A wall of drops, pushed in place, is told as what it is: to slice it again would not help."""
    drops = [f"G0 Z6\nG0 X{100 + 3 * n} Y100\nG0 Z2\nG1 E35 F1800\n{again}" for n in range(40)]
    said = refusal(survey_of, "G21\nG90\nM83\nG28\n" + "".join(drops), chunk_bytes)
    assert said.startswith(
        "the file lays no beads: it pushes clay at 40 places while the nozzle stands still (from line 8 on), "
        "as drops."
    )
    assert "slice" not in said


def test_a_prime_alone_is_no_wall_of_drops(survey_of: SurveyOf) -> None:
    """A bucket and a tap on the bed, and then nothing: the file has lost its clay."""
    text = "G21\nG90\nM83\nG28\nG0 X5 Y5 F600\nG1 E40\nG0 X80 Y80\nG1 E2\nG1 X90\nG1 Y90\n"
    assert "slice the piece again" in refusal(survey_of, text)
