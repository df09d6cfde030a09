"""Levels of the blower that the studio's commands can't say."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from gpost_plugins.fan import AirBand, Fan, FanSettings

import gpost
from gpost.config.machine import AirCommands
from gpost.preflight.model import Finding

Check = Callable[..., dict[str, Finding]]
Pot = Callable[..., str]
RELAY = {"on": "M42 P4 S<level>", "off": "M42 P4 S0", "full": 1}
VALVE = {"on": "M42 P4 S1", "off": "M42 P4 S0", "full": 1}


def asked(percent: float) -> list[Fan]:
    """The fan off in the first of two layers, and at so many percent in the second."""
    bands = (AirBand(from_layer=1, level_percent=0), AirBand(from_layer=2, level_percent=percent))
    return [Fan(FanSettings(bands=bands))]


@pytest.mark.parametrize(
    ("air", "percent", "sent"),
    [
        # 0.3 and 0.5 are nearest to 0 among whole numbers (IEEE 754 rounds a tie to the even one), 0.6 to 1
        (RELAY, 30, 0),
        (RELAY, 50, 0),
        (RELAY, 60, 100),
        # no level is said, so that it blows as hard as it can
        (VALVE, 30, 100),
        # one decimal: 0.04 is nearest to 0
        ({**RELAY, "decimals": 1}, 4, 0),
        # of whole numbers to 4, a quarter each, 35 % is nearest to 1
        ({**RELAY, "full": 4}, 35, 25),
    ],
)
def test_a_level_that_comes_out_as_another_is_told(
    check: Check, pot: Pot, air: dict[str, Any], percent: float, sent: float
) -> None:
    """Where it is asked for, by whom, what is sent instead, and what to do."""
    found = check(pot(), {"machine": {"air": air}}, asked(percent))["air-level"]
    assert (found.severity, found.line, found.count) == ("warning", 8, 1)
    assert f"step fan asks the blower for {percent} %, and the machine is sent {sent} %" in found.text
    assert "ask for 0 and 100 % alone" in found.text
    assert ("say `decimals: " in found.text) == ("<level>" in air["on"])


@pytest.mark.parametrize(
    ("air", "percent"),
    [
        (RELAY, 100),
        (RELAY, 0),
        (VALVE, 100),
        ({**RELAY, "decimals": 2}, 30),
        # 0.2 % of 255 is half of one
        ({}, 0.1),
        ({}, 30),
        ({**RELAY, "full": 20}, 33),
    ],
)
def test_what_can_be_said_is_not_told(check: Check, pot: Pot, air: dict[str, Any], percent: float) -> None:
    """On and off of a relay, steps that nobody feels, and so little air that it is none."""
    assert "air-level" not in check(pot(), {"machine": {"air": air}}, asked(percent))


@pytest.mark.parametrize(("full", "decimals"), [(1, 2), (10, 1), (100, 0), (255, 0), (0.05, 3)])
def test_so_many_decimals_are_advised_that_a_percent_can_be_said(full: float, decimals: int) -> None:
    """100 steps from off to full, or as many as three decimals have; and then it can be said."""
    air = AirCommands(on="M42 P4 S<level>", off="M42 P4 S0", full=full, decimals=decimals)
    assert air.sent(0.3) == pytest.approx(0.3, abs=0.021)


@pytest.mark.parametrize(("percent", "said"), [(30, "set to 0 %"), (60, "set to 0 to 100 %")])
def test_summary_and_output_say_what_is_sent(tmp_path: Path, pot: Pot, percent: float, said: str) -> None:
    """And never a level that the blower doesn't have."""
    source, studio, out = (tmp_path / name for name in ("pot.gcode", "studio.yaml", "out.gcode"))
    source.write_text(pot(end=["G1 X90"]))
    studio.write_text(
        f"machine: {{air: {{on: 'M42 P4 S<level>', off: M42 P4 S0, full: 1}}}}\n"
        "clay: {metering: {unit: ml, ml_per_unit: 1}}\n"
        f"steps: [fan: {{bands: [{{from_layer: 1}}, {{from_layer: 2, level_percent: {percent}}}]}}]\n"
    )
    summary = gpost.run(source, studio, out)
    assert [change.what for change in summary.changes if change.kind == "air"] == [f"blower {said}"]
    sent = {line for line in out.read_text().splitlines() if line.startswith("M42")}
    assert sent == {"M42 P4 S0"} | ({"M42 P4 S1"} if percent == 60 else set())
