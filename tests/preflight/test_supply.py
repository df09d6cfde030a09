"""Cartridges that are asked for more than they have."""

from __future__ import annotations

from typing import Any

import pytest

from gpost.config.model import Config
from gpost.plan.intentions import Pause
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.preflight.supply import Supply
from gpost.testing import layer_start, make_survey

SURVEY = make_survey(layers=20, ml_per_layer=10)


def find(cartridge: dict[str, Any] | None, *pauses: Pause) -> list[Finding]:
    """What is said of a pot of 200 ml."""
    config = Config.model_validate({} if cartridge is None else {"cartridge": cartridge})
    plan = Plan(SURVEY, config).adding("test", pauses)
    return list(Supply(config).findings(plan))


def refill(layer: int) -> Pause:
    return Pause(layer_start(SURVEY, layer), "refill", "empty", "Refill", new_cartridge=True)


def test_too_little_clay_is_an_error_where_it_runs_out() -> None:
    """Of 170 ml, 20 are reserve: the 150 that count end with layer 15."""
    [found] = find({"volume_ml": 170, "reserve_ml": 20})
    assert (found.name, found.severity, found.count) == ("short-clay", "error", 1)
    assert found.line == pytest.approx(layer_start(SURVEY, 16).line, abs=1)
    assert "200 ml are asked of it, and 150 ml can be counted on" in found.text


def test_a_refill_in_time_is_enough() -> None:
    """A new cartridge before the first is empty; not one that comes too late."""
    cartridge = {"volume_ml": 170, "reserve_ml": 20}
    assert find(cartridge, refill(11)) == []
    assert len(find(cartridge, refill(18))) == 1
    assert find({"volume_ml": 220, "reserve_ml": 20}) == []


def test_a_cartridge_that_nobody_described_is_no_reason_to_stop() -> None:
    """The default of 1000 ml, 50 of them reserve, may not be the potter's; it is a warning then."""
    config = Config()
    plan = Plan(make_survey(layers=20, ml_per_layer=50), config)
    assert [(f.name, f.severity) for f in Supply(config).findings(plan)] == [("short-clay", "warning")]
