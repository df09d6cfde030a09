"""Cartridges that are asked for more than they have."""

from __future__ import annotations

from typing import Any

import pytest

from gpost.config.model import Config
from gpost.plan.intentions import DryChance, Intention, Pause
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.preflight.supply import Supply
from gpost.supply.unsure import MissingTrial, missing_trials
from gpost.testing import layer_start, make_survey

SURVEY = make_survey(layers=20, ml_per_layer=10)


def find(cartridge: dict[str, Any] | None, *pauses: Pause) -> list[Finding]:
    """What is said of a pot of 200 ml."""
    config = Config.model_validate({} if cartridge is None else {"cartridge": cartridge})
    plan = Plan(SURVEY, config).adding("test", pauses)
    return [found for found in Supply(config).findings(plan) if found.name == "short-clay"]


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
    found = [(f.name, f.severity) for f in Supply(config).findings(plan)]
    assert found[0] == ("short-clay", "warning")
    assert set(found[1:]) == {("missing-trial", "note")}


SPREADS = {"clay": {"metering": {"unit": "mm3", "spread_percent": 3}}, "cartridge": {"reserve_spread_ml": 6}}


def sure(volume_ml: float, *wishes: Intention, reserve_spread_ml: float = 6) -> list[Finding]:
    """What is said of the pot of 200 ml by a config that knows how far E and reserve are off."""
    cartridge = {"volume_ml": volume_ml, "reserve_ml": 20, "reserve_spread_ml": reserve_spread_ml}
    config = Config.model_validate({"clay": SPREADS["clay"], "cartridge": cartridge})
    plan = Plan(SURVEY, config).adding("test", wishes)
    return [found for found in Supply(config).findings(plan) if found.name == "short-clay"]


def test_between_enough_and_surely_enough_there_is_a_warning() -> None:
    """200 ml and 20 of reserve, 3 % and 6 ml: 8.5 ml as a standard deviation, so 14 ml more are 95 % sure."""
    assert [found.severity for found in sure(219)] == ["error"]
    [found] = sure(221)
    assert found.severity == "warning"
    assert "cartridge 1 (first clay) may run dry from here on, 2 layers before its end" in found.text
    assert "in 45 % of all prints" in found.text
    assert "With 234 ml in it that is 5 %" in found.text
    assert found.line == pytest.approx(layer_start(SURVEY, 19).line, abs=40)
    assert sure(234) == []


def test_who_takes_a_larger_chance_is_warned_later() -> None:
    """A step that takes 20 % is heard; of several the least counts."""
    assert len(sure(230, DryChance(0.10))) == 1
    assert sure(230, DryChance(0.20)) == []
    assert len(sure(230, DryChance(0.20), DryChance(0.05))) == 1


def trials(config: dict[str, Any], *pauses: Pause) -> list[MissingTrial]:
    made = Config.model_validate(config)
    return missing_trials(Plan(SURVEY, made).adding("test", pauses))


def test_the_trial_that_moves_a_pause_most_comes_first() -> None:
    """Off by 10 %, a hose of 60 ml moves blue by 6 ml, 0.6 layers; E by 3 % moves it by 1.8 ml."""
    blue = Pause(layer_start(SURVEY, 8), "swap", "blue", "", new_cartridge=True, colour="blue")
    found = trials({"cartridge": {"line_ml": 60}}, blue)
    assert [trial.key for trial in found] == ["cartridge: line_ml", "clay: metering"]
    assert [trial.known for trial in found] == [True, False]
    assert [trial.moves_ml for trial in found] == pytest.approx([6, 1.8])
    assert [trial.moves_layers for trial in found] == pytest.approx([0.6, 0.18])
    assert "has no spread yet: off by 6 ml, blue, due at layer 14" in found[0].sentence
    assert "is gpost's own default, not your trial's" in found[1].sentence


def test_what_is_measured_or_moves_nothing_is_not_missing() -> None:
    """With all spreads given no trial is missing; nor where a full cartridge has far more than is asked."""
    measured = {
        "clay": {"metering": {"unit": "mm3", "spread_percent": 2}, "wet_density_spread_percent": 1},
        "cartridge": {"volume_ml": 220, "reserve_ml": 20, "reserve_spread_ml": 3, "line_spread_ml": 2},
    }
    assert [trial.key for trial in trials(measured)] == []
    assert trials({}) == []
    short = {"cartridge": {"volume_ml": 220, "reserve_ml": 20}}
    assert [trial.key for trial in trials(short)] == ["clay: metering", "cartridge: reserve_ml"]
