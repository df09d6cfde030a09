"""Where a file itself makes the machine wait."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given, reject

from gpost.config.model import Config
from gpost.errors import SourceError
from gpost.survey.model import OwnPause, Survey
from gpost.survey.ownpauses import MOST
from tests.reference.interpreter import run
from tests.reference.programs import Draft, drafts

SurveyOf = Callable[..., Survey]
POT = "G28\nG1 X10 E1 F1200\n"


def waits(survey_of: SurveyOf, line: str, *commands: str) -> str | None:
    """The command for which a line counts as a pause, if it does; `commands`: what the config waits by."""
    config = Config.model_validate({"machine": {"pause": {"commands": commands or ["M0"]}}})
    found = survey_of(f"{POT}{line}\nG1 Y10 E1\n", config=config).own_pauses
    assert all(pause.line == 2 for pause in found)
    return found[0].command if found else None


@given(drafts(min_lines=10))
def test_by_the_standard_s_own_codes(survey_of: SurveyOf, draft: Draft) -> None:
    """M0 and M1 wait where the reference interpreter waits, on lines of their own and beside moves."""
    counts = [0, *(event.state.paused for event in run(draft.program, draft.dialect))]
    waited = [line for line, pair in enumerate(zip(counts[1:], counts, strict=False)) if pair[0] > pair[1]]
    machine = {"dwell_p": draft.dialect.dwell_p, "arc_tolerance_mm": draft.dialect.arc_tolerance_mm}
    try:
        survey = survey_of(draft.program, config=Config.model_validate({"machine": machine}))
    except SourceError:
        reject()  # it lays no clay
    assert [pause.line for pause in survey.own_pauses] == waited


@pytest.mark.parametrize(
    ("line", "command"),
    [
        ("M0", "M0"),
        ("m00", "M0"),
        ("M1 Look at the wall", "M1"),
        ("N7 M0 ; look", "M0"),
        ("G1 X20 M0", "M0"),
        ("M25", "M25"),
        ("M226 P5 S1", "M226"),
        ("M600", "M600"),
        ("M60", None),
        ("M400", None),
        ("G4 P5000", None),
        ("M117 M0", None),
        ("(M0)", None),
        ("LOOK", None),
    ],
)
def test_by_what_everybody_waits_at(survey_of: SurveyOf, line: str, command: str | None) -> None:
    """M0 and M1 (NIST RS274/NGC, section 3.6.1); M25, M226 and M600: common practice, no source."""
    assert waits(survey_of, line) == command


@pytest.mark.parametrize(
    ("commands", "line", "command"),
    [
        (("M601",), "M601", "M601"),
        (("M601 P1",), "M601", "M601"),
        (("M601.1",), "M601.1", "M601.1"),
        (("M601.1",), "M601", None),
        (("LOOK",), "look SECONDS=5", "LOOK"),
        (("LOOK SECONDS=5",), "LOOK", "LOOK"),
        (("LOOK",), "LOOK_AGAIN", None),
        (("LOOK",), "; LOOK", None),
        (("M400", "M300 S440", "M117 Look", "M601"), "M400", None),
        (("M400", "M300 S440", "M117 Look", "M601"), "M300", None),
        (("M400", "M300 S440", "M117 Look", "M601"), "M117 hello", None),
        (("M400", "M300 S440", "M117 Look", "M601"), "M601", "M601"),
        (("M601",), "M0", "M0"),
        (("M84 S0", "M107", "M0"), "M84", None),
        (("M84 S0", "M107", "M0"), "M107", None),
        (("M42 P7 S1", "M0", "M42 P7 S0"), "M42 P4 S1", None),
        (("M601 S5", "M0 S5"), "M601", "M601"),
        (("G4 P60000", "M0"), "G4 P60000", None),
    ],
)
def test_by_what_the_config_waits_by(
    survey_of: SurveyOf, commands: tuple[str, ...], line: str, command: str | None
) -> None:
    """With whatever words; but not by what only goes along with it: a message, a beep, moves that end first."""
    assert waits(survey_of, line, *commands) == command


@pytest.mark.parametrize(
    ("line", "seconds"),
    [
        ("M0", None),
        ("M0 S10", 10.0),
        ("m1 p2500", 2.5),
        ("M0 P2500 S10", 10.0),
        ("M0 S0", None),
        ("M0 S-5", None),
        ("M0 Load clay", None),
        ("G1 X20 M0 S10", 10.0),
        # before a text
        ("M0 S900 Look at the rim", 900.0),
        ("M0 P60000 Cut the string", 60.0),
        ("m1 s5 go", 5.0),
        ("M1 P 500 S 1.5 Go on", 1.5),
        ("N7 M00 S30 Look", 30.0),
        ("M0 (M0 S5) S30 Look", 30.0),
        ("G1 X20 M0 S10 Look", 10.0),
        ("M0 S10, look", 10.0),
        ("M0 S10: look", 10.0),
        ("M1 S10 - look", 10.0),
        ("M0 P500S3 Look", 3.0),
        ("M0 S+30 Look", 30.0),
        # a text alone, whatever numbers are in it
        ("M0 Press knob", None),
        ("M0 Load 3", None),
        ("M0 Schritt 3", None),
        ("M0 Spin 3 times", None),
        ("M0 Look S30", None),
        ("M0 S-5 Look", None),
        ("M0 S30x Look", None),
        (f"M0 S{'9' * 400} Look", None),
        # it can't be told whose they are
        ("M300 S440 P200 M0", None),
        ("G4 P500 M0 S30 Look", None),
        ("G4 P500 M0", None),
        ("M226 P5 S1", None),
        ("M25 P1", None),
    ],
)
def test_after_a_time_of_its_own_it_goes_on(
    survey_of: SurveyOf, line: str, seconds: float | None
) -> None:
    """M0 and M1 with P or S, which count as those of G4 do: common practice, no source. The clock has the time."""
    found = survey_of(f"{POT}{line}\nG1 Y10 E1\n")
    (pause,) = found.own_pauses
    assert pause.goes_on_after_s == seconds
    if seconds is not None and line[0] in "Mm":
        assert found.time_s == pytest.approx(survey_of(f"{POT}G4 S{seconds}\nG1 Y10 E1\n").time_s)
        assert found.time_s == pytest.approx(survey_of(f"{POT}M0\nG1 Y10 E1\n").time_s + seconds)


def test_the_time_of_one_behind_a_move_comes_after_it(survey_of: SurveyOf) -> None:
    """A stop comes after the move on its own line (NIST RS274/NGC report, section 3.8), at the file's end too."""
    alone = "G1 X20 E1\nG4 S10\n"
    behind = "G1 X20 E1 M0 S10\n"
    for rest in ("G1 Y10 E1\n", ""):
        one, other = (survey_of(f"{POT}{text}{rest}") for text in (alone, behind))
        assert one.time_s == pytest.approx(other.time_s)


def test_p_counts_as_that_of_g4(survey_of: SurveyOf) -> None:
    """Seconds on a machine that counts them."""
    config = Config.model_validate({"machine": {"dwell_p": "seconds"}})
    assert survey_of(f"{POT}M0 P3\nG1 Y10 E1\n", config=config).own_pauses[0].goes_on_after_s == 3.0


def test_in_the_order_of_the_file(survey_of: SurveyOf) -> None:
    """Codes and names alike."""
    config = Config.model_validate({"machine": {"pause": {"commands": ["LOOK"]}}})
    found = survey_of(f"{POT}M0\nLOOK\nM600\n", config=config).own_pauses
    assert found == (OwnPause(2, "M0"), OwnPause(3, "LOOK"), OwnPause(4, "M600"))


def test_more_of_them_than_anybody_can_wait_for_are_an_error(survey_of: SurveyOf) -> None:
    """Each would be a row of the summary: ten thousand are more than any file needs."""
    assert len(survey_of(POT + "M0\n" * MOST).own_pauses) == MOST
    with pytest.raises(SourceError, match="more than 10000 times"):
        survey_of(POT + "M0\n" * (MOST + 1))
