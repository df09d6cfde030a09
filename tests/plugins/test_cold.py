"""The step that silences heating."""

from __future__ import annotations

from typing import Any

import pydantic
import pytest
from gpost_plugins.cold import Cold, gpost_steps

from gpost.api import Command, Note, Plan, PlanError, Silence, Spot
from gpost.testing import make_survey, run_step

HEATING = [("M", 1040, 2), ("M", 1090, 3), ("M", 1400, 4), ("M", 1900, 5), ("M", 1410, 6), ("M", 1910, 7)]


def silenced(plan: Plan) -> list[int]:
    """All lines the plan silences."""
    return [int(line) for wish in plan.of(Silence) for line in wish.lines]


def test_the_module_offers_the_step() -> None:
    """The hook names the class, and nothing else."""
    assert list(gpost_steps()) == [Cold]


@pytest.mark.parametrize(
    "command", [*HEATING, ("M", 3010, 8), ("M", 3030, 8), ("M", 3040, 8), ("M", 1160, 9)]
)
def test_every_heating_command_is_silenced(command: tuple[str, int, int]) -> None:
    """Nozzle, bed, chamber, their waits and their set-up (common practice, no source)."""
    assert silenced(run_step(Cold, {}, make_survey(commands=[command]))) == [command[2]]


def test_what_does_not_heat_stays() -> None:
    """Only the heating lines of a mixed file are silenced, in order."""
    other = [("G", 280, 0), ("G", 1040, 1), ("M", 1060, 9), ("M", 840, 400), ("T", 1040, 10)]
    plan = run_step(Cold, {}, make_survey(commands=[*HEATING, *other]))
    assert silenced(plan) == [2, 3, 4, 5, 6, 7]
    assert not plan.of(Note)


@pytest.mark.parametrize(
    ("settings", "lines"),
    [({"also": ["M84"]}, [2, 8]), ({"also": ["g38.2"]}, [2, 9]), ({"codes": ["M84"]}, [8])],
)
def test_codes_can_be_chosen(settings: dict[str, Any], lines: list[int]) -> None:
    """`also` adds to the list, `codes` replaces it; case and a decimal are understood."""
    survey = make_survey(commands=[("M", 1040, 2), ("M", 840, 8), ("G", 382, 9)])
    assert silenced(run_step(Cold, settings, survey)) == lines


@pytest.mark.parametrize("code", ["104", "M104 S0", "X1", "M", ""])
def test_a_code_is_a_letter_and_a_number(code: str) -> None:
    """Anything else is refused when the config is read."""
    with pytest.raises(pydantic.ValidationError):
        run_step(Cold, {"also": [code]}, make_survey())


def test_moving_cold_is_sent_first_where_asked() -> None:
    """The command stands before the first line, and only if asked for."""
    assert not run_step(Cold, {}, make_survey()).of(Command)
    plan = run_step(Cold, {"move_cold": True}, make_survey())
    assert [(c.spot, c.codes) for c in plan.of(Command)] == [(Spot(0), ("M302 P1",))]
    settings = {"move_cold": True, "cold_command": ["M302 S0", "M400"]}
    plan = run_step(Cold, settings, make_survey(), {"machine": {"allow_commands": ["M400"]}})
    assert plan.of(Command)[0].codes == ("M302 S0", "M400")
    with pytest.raises(
        PlanError, match=r"cold_command can't be .*: M400: gpost doesn't know it for harmless"
    ):
        run_step(Cold, settings, make_survey())


def test_a_file_that_heats_nothing_is_said_so() -> None:
    """Nothing silenced: a note, no silence."""
    plan = run_step(Cold, {}, make_survey(commands=[("M", 1060, 3)]))
    assert not plan.of(Silence)
    assert "nothing to silence" in plan.of(Note)[0].text


def test_a_command_that_shares_the_line_is_warned_of() -> None:
    """Silencing a line silences all of it, so M106 beside M104 is named; a tool number is not."""
    survey = make_survey(commands=[("M", 1040, 4), ("M", 1060, 4), ("T", 0, 4)])
    (note,) = run_step(Cold, {}, survey).of(Note)
    assert note.warning
    assert "line 5 holds M106" in note.text
