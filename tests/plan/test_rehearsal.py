"""The plan of a rehearsal: what it keeps, what it raises, what it leaves out."""

from __future__ import annotations

import dataclasses

import pytest

from gpost.api import (
    Config,
    Ground,
    LayClay,
    Note,
    Pause,
    Plan,
    PlanError,
    ScaleFlow,
    Silence,
    Spot,
    Stroke,
    Wait,
)
from gpost.plan.checking import check_intention
from gpost.plan.intentions import Rehearse
from gpost.plan.rehearsal import NO_WAIT, rehearsed
from gpost.survey.model import OwnPause
from gpost.testing import make_survey

COMMANDS = [
    ("M", 1090, 2),
    ("M", 60, 4),
    ("G", 40, 5),
    ("G", 100, 7),
    ("M", 2200, 8),
    ("M", 1060, 9),
    ("M", 7010, 9),
]
SURVEY = make_survey(commands=COMMANDS)
LAY = LayClay(Spot(10), (Stroke(((20.0, 20.0), (20.0, 90.0)), 8.0, 2.0, 2.0, 1.0),), 900.0)


def plan(*wishes: object, ceiling_mm: float = 300.0) -> Plan:
    """The plan of a pot 20 mm high, with some wishes of one step."""
    config = Config.model_validate({"machine": {"ceiling_mm": ceiling_mm}})
    return Plan(SURVEY, config).adding("test", wishes)  # type: ignore[arg-type]


def test_all_is_raised() -> None:
    """The piece by a shift over the whole file, beads by their own heights."""
    dry = rehearsed(plan(LAY, Pause(Spot(50), "swap", "why", "Load", lay=LAY)), 25.0)
    assert dry.shift_mm == (0, 0, 25)
    (lay,), (pause,) = dry.of(LayClay), dry.pauses
    assert pause.lay is not None
    assert [stroke.z_mm for each in (lay, pause.lay) for stroke in each.strokes] == [27.0, 27.0]
    assert pause.message == NO_WAIT


def test_what_heats_waits_blows_and_pushes_is_silenced() -> None:
    """M109, G4, G10, M106 and M701; not M6, nor M220, which sets how fast it moves."""
    (silence,) = rehearsed(plan(), 25.0).of(Silence)
    assert silence.lines.tolist() == [2, 5, 7, 9]


def test_waits_and_clay_are_left_out_and_words_that_say_where_things_lie_stay() -> None:
    """Notes of steps that put nothing anywhere speak of clay, and are left out too."""
    wishes = (Wait(Spot(50), 3.0), ScaleFlow(0, 99, 1.2), Note("12 ml"), Note("careful", warning=True))
    dry = rehearsed(plan(*wishes), 25.0)
    assert (dry.of(Wait), dry.of(ScaleFlow)) == ([], [])
    assert [note.text for note in dry.of(Note)] == ["careful"]
    slab = (Ground((0.0, 9.0), (0.0, 9.0), 3.0, "the slab"), Note("lay it there"))
    assert [note.text for note in rehearsed(plan(*slab), 25.0).of(Note)] == ["lay it there"]


@pytest.mark.parametrize(("ceiling_mm", "right"), [(45.0, True), (44.9, False)])
def test_it_stays_under_the_ceiling(ceiling_mm: float, right: bool) -> None:
    """20 mm of pot and 25 up."""
    if right:
        assert rehearsed(plan(ceiling_mm=ceiling_mm), 25.0).of(Rehearse)
    else:
        with pytest.raises(
            PlanError, match=r"25 mm up the piece would reach 45\.0 mm, over the ceiling of 44\.9"
        ):
            rehearsed(plan(ceiling_mm=ceiling_mm), 25.0)


def test_no_step_may_want_it() -> None:
    """Who runs the job decides whether clay comes."""
    with pytest.raises(ValueError, match="which only who runs the job"):
        check_intention(Rehearse(5.0), SURVEY)


def test_a_command_by_name_is_told() -> None:
    """Nobody knows what it does; those that the config says wait are silenced."""
    called = dataclasses.replace(
        SURVEY, named={"PRINT_START": 1, "BREATHE": 2}, own_pauses=(OwnPause(6, "BREATHE"),)
    )
    dry = rehearsed(Plan(called, Config()), 25.0)
    (note,) = dry.of(Note)
    assert note.warning
    assert "the file calls PRINT_START by name, and that stays" in note.text
    assert 6 in dry.of(Silence)[0].lines
