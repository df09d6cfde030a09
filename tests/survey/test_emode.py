"""E that is read in the wrong mode: a forgotten M83, a forgotten M82; and files that are right, of every kind."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.model import Clay, Config, CubicMillimetres
from gpost.errors import SourceError
from tests.resuming import typed
from tests.survey.epots import Pot, SurveyOf, told

MISSING = "seems to be missing"


SHAPES = ("cylinder", "helix", "star", "saw", "cone", "closing", "oval", "rough")


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("relief_mm3", [0.0, 40.0])
@pytest.mark.parametrize("resets", [False, True])
@pytest.mark.parametrize("flows", [(1.0,), (1.0, 1.6, 1.0, 0.8)])
@pytest.mark.parametrize("sides", [4, 24])
@pytest.mark.parametrize("relative", [True, False])
def test_a_mode_that_is_missing_is_the_one_thing_told_of_clay(
    survey_of: SurveyOf,
    shape: str,
    relief_mm3: float,
    resets: bool,
    flows: tuple[float, ...],
    sides: int,
    relative: bool,
) -> None:
    """Words that add under M82, words that grow under M83: with the cause, the line, and what to do there.

    With resets and reliefs, on regular walls and rough ones; and nothing where the same file says its mode.
    """
    right = Pot(shape, relief_mm3=relief_mm3, resets=resets, flows=flows, sides=sides, relative=relative)
    assert not any(MISSING in text for text in told(survey_of, right.text))
    wrong = Pot(**{**vars(right), "head": "M82" if relative else "M83"})
    (said,) = [text for text in told(survey_of, wrong.text) if "line" in text or " ml" in text]
    wanted = "M83" if relative else "M82"
    assert f"An {wanted} {MISSING}: put {wanted} before line {wrong.first_e_line}," in said
    assert ("counted absolutely" in said) == relative
    mended = wrong.text.splitlines()
    mended.insert(wrong.first_e_line - 1, wanted)
    assert not any(MISSING in text for text in told(survey_of, "\n".join(mended) + "\n"))


@pytest.mark.parametrize("relative", [True, False])
@pytest.mark.parametrize("wipe_mm3", [20.0, 150.0])
@pytest.mark.parametrize("shape", SHAPES)
def test_a_wipe_while_clay_is_drawn_back_is_no_new_beginning(
    survey_of: SurveyOf, relative: bool, wipe_mm3: float, shape: str
) -> None:
    """Places fall a little along it, and go on from there."""
    pot = Pot(shape, relative=relative, head="M82" if relative else "M83", wipe_mm3=wipe_mm3)
    (said,) = [text for text in told(survey_of, pot.text) if "line" in text or " ml" in text]
    assert f"put {'M83' if relative else 'M82'} before line {pot.first_e_line}," in said


@pytest.mark.parametrize("relative", [True, False])
@pytest.mark.parametrize("thick", [0.3, 0.5, 0.7, 0.9])
@pytest.mark.parametrize("shape", ["cylinder", "helix", "star", "cone", "oval"])
@pytest.mark.parametrize("resets", [False, True])
def test_thick_and_thin_walls(
    survey_of: SurveyOf, relative: bool, thick: float, shape: str, resets: bool
) -> None:
    """Beads differ by up to nineteen times, five times round; the way in parts is as even as ever."""
    right = Pot(shape, layers=12, sides=60, relative=relative, thick=thick, resets=resets)
    assert not any(MISSING in text for text in told(survey_of, right.text))
    wrong = right.with_(head="M82" if relative else "M83")
    (said,) = [text for text in told(survey_of, wrong.text) if "line" in text or " ml" in text]
    assert f"put {'M83' if relative else 'M82'} before line {wrong.first_e_line}," in said


def test_the_amounts_by_hand(survey_of: SurveyOf) -> None:
    """Eight rings of 24 sides of 5.221 mm: 11 mm^2 of that is 57.4 mm^3 a side, 11.03 ml in all; read, one side.

    By the equal words nothing else rises than the first.
    """
    (said,) = told(survey_of, Pot(relative=True, head="M82").text)
    assert "take 0.0574 ml; if each word adds to what was before, 11 ml, which fits" in said


@pytest.mark.parametrize("head", ["M82", "M83"])
def test_how_the_file_is_cut_makes_no_difference(survey_of: SurveyOf, head: str) -> None:
    """Blocks of a line each, or one."""
    pot = Pot("rough", relative=head == "M82", head=head, relief_mm3=30.0, layers=4)
    assert told(survey_of, pot.text, chunk_bytes=1) == told(survey_of, pot.text)


def test_a_file_whose_e_never_rises_is_refused_by_that_cause(survey_of: SurveyOf) -> None:
    """Where a prime comes first, equal words in whole mm^3 only ever fall or stay: no clay at all."""
    lines = ["G21", "G90", "G28", "G0 F3000", "G0 Z2", "G1 E90 F600"]
    lines += [f"G1 X{100 + 5 * (at % 2)} Y{100 + 6 * at} E90 F1500" for at in range(30)]
    with pytest.raises(SourceError, match="put M83 before line 6"):
        survey_of("\n".join(lines) + "\n")


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("wipe_mm3", [0.0, 20.0])
@pytest.mark.parametrize("resets", [False, True])
@pytest.mark.parametrize("flow", [0.4, 0.7, 1.0])
def test_ways_on_which_e_says_again_what_it_was(
    survey_of: SurveyOf, shape: str, wipe_mm3: float, resets: bool, flow: float
) -> None:
    """A script may fly by G1, each with its E: two beads of four in a layer, and nothing is wrong."""
    right = Pot(shape, 5, 4, flows=(flow,), dash=2, by_g1=True, wipe_mm3=wipe_mm3, resets=resets)
    assert not any(MISSING in text for text in told(survey_of, right.text))


@pytest.mark.parametrize("mode", ["M82", "M83"])
@pytest.mark.parametrize("beads", [1, 2, 7])
def test_of_a_few_moves_nothing_can_be_told(survey_of: SurveyOf, mode: str, beads: int) -> None:
    """Far too much clay, or too little, on one bead or a few: no more than that is said."""
    for e in (90, 90000):
        laid = "".join(f"G1 X{20 * at + 20} E{e * (at + 1)}\n" for at in range(beads))
        program = f"{mode}\nG28\nG0 Z2 F3000\nG1 E70000\nM82\nG92 E0\n{mode}\n{laid}"
        assert not any(MISSING in text for text in told(survey_of, program))


@given(
    pot=st.builds(
        Pot,
        st.sampled_from(SHAPES),
        st.integers(1, 12),
        st.integers(3, 40),
        st.booleans(),
        st.just(""),
        st.sampled_from([0.0, 15.0, 400.0]),
        st.booleans(),
        st.lists(st.floats(0.3, 3.0), min_size=1, max_size=4).map(tuple),
        st.booleans(),
        st.sampled_from([0.0, 500.0, 100_000.0]),
        st.sampled_from([0, 2, 3]),
        st.sampled_from([0.0, 20.0, 150.0]),
        st.sampled_from([0.0, 0.5, 0.9]),
    ),
    width_mm=st.sampled_from([2.5, 6.0, 12.0]),
    unit=st.sampled_from([0.1, 1.0, 2.65, 25.0]),
)
def test_no_file_that_says_its_mode_is_doubted(
    survey_of: SurveyOf, pot: Pot, width_mm: float, unit: float
) -> None:
    """Whatever the shape, resets, reliefs, flows, dashes, travels with their E, and a wrong width or unit of E."""
    scaled = Pot(**{**vars(pot), "flows": tuple(unit * flow for flow in pot.flows)})
    config = Config(clay=Clay(metering=CubicMillimetres(unit="mm3"), bead_width_mm=width_mm))
    assert not any(MISSING in text for text in told(survey_of, scaled.text, config=config))


@pytest.mark.parametrize("relative", [True, False])
def test_survey_check_and_run_say_it_alike(tmp_path: Path, relative: bool) -> None:
    """Run too, where a step can't be carried out because of it: the same sentence behind the step's own."""
    pot = Pot(relative=relative, head="M82" if relative else "M83")
    (tmp_path / "pot.gcode").write_text(pot.text)
    metering = {"unit": "mm3"}
    config = {"clay": {"metering": metering}, "steps": [{"swap": {"at_height_mm": 8 if relative else 900}}]}
    (tmp_path / "pot.yaml").write_text(json.dumps(config))
    args = (tmp_path / "pot.gcode", "-c", tmp_path / "pot.yaml")
    says = [typed("survey", *args), typed("check", *args), typed("run", *args, "-o", tmp_path / "out.gcode")]
    wanted = f"put {'M83' if relative else 'M82'} before line {pot.first_e_line},"
    assert all(wanted in " ".join(said.output.split()) for said in says), [said.output for said in says]
    if relative:
        assert says[2].exit_code == 1


def test_what_follows_from_it_is_no_long_relief(tmp_path: Path) -> None:
    """Absolute, E falls by 2.5 ml where a pull by 2.5 ml is meant, and again behind it: told by its cause alone."""
    pot = Pot(relative=True, head="M82", relief_mm3=2500.0)
    (tmp_path / "pot.gcode").write_text(pot.text)
    (tmp_path / "pot.yaml").write_text('{"clay": {"metering": {"unit": "mm3"}}}')
    said = typed("check", tmp_path / "pot.gcode", "-c", tmp_path / "pot.yaml").output
    assert MISSING in " ".join(said.split())
    assert "long-relief" not in said
