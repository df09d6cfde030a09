"""Moves of the file through a bead that a step has laid beside the piece."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import pytest

from gpost.config.model import Config
from gpost.config.settings import Settings
from gpost.plan.intentions import Intention, LayClay, Pause, Shift, Stroke
from gpost.plan.plan import Plan
from gpost.preflight.checks import Preflight
from gpost.preflight.model import Finding
from gpost.read.source import Source
from gpost.spot import Spot
from gpost.steps.step import Step
from gpost.survey.build import survey_source
from gpost.survey.model import Survey

Check = Callable[..., dict[str, Finding]]
Pot = Callable[..., str]
BEAD = Stroke(((60.0, 80.0), (60.0, 160.0)), 6.0, 4.0, 4.0, 1.9)
"""Beside the pot, from x 57 to 63, with its top at 4 mm."""


def laying(*wishes: Intention) -> Step[Any]:
    """A step with just these wishes."""

    class Lay(Step[Settings]):
        name = "lay"
        Settings = Settings

        def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
            return wishes

    return Lay(Settings())


@pytest.mark.parametrize(
    ("moves", "depth"),
    [
        (["G0 Z2", "G0 X30", "G0 Z30"], "2.0"),  # right across, half-way up the bead
        (["G0 Z1", "G0 X62 Y90", "G0 Z30"], "3.0"),  # ends on its flank
        (["G0 Z4", "G0 X30"], None),  # over its top, just touching
        (["G0 Z2", "G0 X64", "G0 Z30"], None),  # stops before it
        (["G0 Z2", "G0 Y60", "G0 X30", "G0 Z30"], None),  # round its end
        (["G0 Z30", "G0 X60", "G0 Z30", "G0 X100", "G0 Z2"], None),  # high above it
    ],
)
def test_a_travel_through_a_bead(check: Check, pot: Pot, moves: list[str], depth: str | None) -> None:
    """Below the bead's top, and nearer to its middle than half its width: a warning with line and depth."""
    found = check(pot(end=moves), steps=[laying(LayClay(Spot(3), (BEAD,), 1200))])
    assert set(found) == (set() if depth is None else {"bead-crossed"})
    for finding in found.values():
        assert (finding.severity, finding.line, finding.count) == ("warning", 14, 1)
        assert f"up to {depth} mm below its top" in finding.text


def test_a_bead_that_is_not_there_yet(check: Check, pot: Pot) -> None:
    """What comes before the bead crosses nothing; what a pause lays lies there from the pause on."""
    text = pot(start=["G28", "G90", "M83", "G0 X30 Y120 Z2 F3000", "G0 X90"], end=["G0 Z2", "G0 X30"])
    lay = LayClay(Spot(0), (BEAD,), 1200)
    for line, count in ((3, 2), (10, 1)):
        pause = Pause(Spot(line), "swap", "", "", lay=lay)
        assert check(text, steps=[laying(pause)])["bead-crossed"].count == count
    assert check(text, steps=[laying(Pause(Spot(17), "swap", "", "", lay=lay))]) == {}


@pytest.mark.parametrize("chunk_bytes", [16, 57, 1000])
def test_a_way_from_one_block_into_the_next(pot: Pot, tmp_path: Path, chunk_bytes: int) -> None:
    """A travel that starts in one block and ends in another goes through what lies between."""
    config = Config.model_validate({"clay": {"metering": {"unit": "ml", "ml_per_unit": 1}}})
    path = tmp_path / "pot.gcode"
    path.write_text(pot(end=["G0 Z2", "G0 X30", "G0 Y90", "G0 Z30"]))
    preflight = Preflight(config)
    survey = survey_source(Source(path, chunk_bytes=chunk_bytes), config, None, (preflight.observe,))
    plan = Plan(survey, config).adding("lay", [LayClay(Spot(3), (BEAD,), 1200)])
    found = [f for f in preflight.findings(plan) if f.name == "bead-crossed"]
    assert [(f.line, f.count) for f in found] == [(14, 1)]


def test_a_piece_that_is_moved(check: Check, pot: Pot) -> None:
    """The travel goes with the piece: moved away from the bead it passes clear of it, moved to it not."""
    lay, away = LayClay(Spot(3), (BEAD,), 1200), Shift(3, 99, (50.0, 0.0, 0.0))
    through, short = pot(end=["G0 Z2", "G0 X30"]), pot(end=["G0 Z2", "G0 X90"])
    assert check(through, steps=[laying(lay, away)]) == {}
    towards = Shift(3, 99, (-28.0, 0.0, 0.0))
    assert set(check(short, steps=[laying(lay, towards)])) == {"bead-crossed"}
