"""Heating that is left in."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from gpost.config.model import Config
from gpost.pipeline import check_file
from gpost.preflight.model import Finding
from gpost.steps.manager import build_manager

Check = Callable[..., dict[str, Finding]]
Pot = Callable[..., str]
START = ("M140 S60", "G28", "G90", "M83", "M104 S200", "M109 S200", "M190 S60")


def test_heating_left_in(check: Check, pot: Pot) -> None:
    """Heating and waits for heat are one warning, at the first line, with the step that helps."""
    found = check(pot(start=START))
    assert set(found) == {"heating"}
    finding = found["heating"]
    assert (finding.severity, finding.line, finding.count) == ("warning", 0, 4)
    assert "waits for ever" in finding.text
    assert "`cold`" in finding.text


def test_heating_without_a_wait(check: Check, pot: Pot) -> None:
    """Without a wait the machine goes on, and the text doesn't say it won't."""
    finding = check(pot(start=["G28", "G90", "M83", "M104 S200"]))["heating"]
    assert (finding.line, finding.count) == (3, 1)
    assert "waits" not in finding.text


@pytest.mark.parametrize("off", ["M104 S0", "M140 S0", "M109 S0.0"])
def test_switching_off_is_no_heating(check: Check, pot: Pot, off: str) -> None:
    """A target of 0 is fine."""
    assert check(pot(end=[off])) == {}


def test_silenced_heating(check: Check, pot: Pot) -> None:
    """What the step `cold` silences is left in no more; a code that it doesn't know is."""
    cold = build_manager().load(["cold"])["cold"]
    assert check(pot(start=START), steps=[cold(cold.Settings())]) == {}
    partly = cold(cold.Settings(codes=["M104", "M140"]))
    assert (check(pot(start=START), steps=[partly])["heating"].line) == 5


def test_no_step_silences_moves(tmp_path: Path, pot: Pot) -> None:
    """A move among a step's codes is named, since all moves stay; other codes of its say nothing."""
    cold = build_manager().load(["cold"])["cold"]
    (tmp_path / "pot.gcode").write_text(pot(start=START))
    config = Config.model_validate({"clay": {"metering": {"unit": "ml", "ml_per_unit": 1}}})
    found = check_file(tmp_path / "pot.gcode", config, [cold(cold.Settings(also=["G01", "M117"]))])
    (told,) = [finding for finding in found if "is a move" in finding.text]
    assert (told.name, told.severity) == ("step", "warning")
    assert told.text.startswith("cold: G1 is a move, and only commands are ruled out")
