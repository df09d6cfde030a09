"""Layers too fast to set, and clay too old to print."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import pytest

from gpost.config.model import Config
from gpost.plan.intentions import Intention, LeastLayerTime, Pause, ScaleFeed, Wait
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.preflight.times import Times
from gpost.spot import Spot
from gpost.testing import layer_start, make_survey


def find(
    config: dict[str, Any], wishes: Iterable[Intention] = (), **survey: Any
) -> dict[str, tuple[str, int | None, int, str]]:
    """(severity, line, count, text) by name, for a pot of `make_survey` under these wishes."""
    checked = Config.model_validate(config)
    plan = Plan(make_survey(**survey), checked).adding("test", wishes)
    found: list[Finding] = list(Times(checked).findings(plan))
    return {f.name: (f.severity, f.line, f.count, f.text) for f in found}


def test_short_layers(check: Callable[..., dict[str, Finding]]) -> None:
    """Layers under the clay's least time are one warning, at the first of them."""
    found = find({"clay": {"least_layer_s": 30}}, time_per_layer_s=[40, 30, 29, 10, 40], layers=5)
    severity, line, count, text = found["short-layer"]
    assert (severity, line, count) == ("warning", 10 + 2 * 36, 2)
    assert "layer 3 is the first" in text
    assert "10.0 s" in text


def test_no_least_time() -> None:
    """Nothing is said where neither the clay nor a step gives a least time; exactly that time is fine."""
    assert find({}, time_per_layer_s=1, layers=5) == {}
    assert find({"clay": {"least_layer_s": 30}}, time_per_layer_s=30, layers=5) == {}


def test_least_time_of_a_step() -> None:
    """What a step says is taken where the clay gives none, the longest of several; the clay's goes before it."""
    said = [LeastLayerTime(30), LeastLayerTime(15)]
    assert "30 s" in find({}, said, time_per_layer_s=20, layers=5)["short-layer"][3]
    assert find({}, [LeastLayerTime(15)], time_per_layer_s=20, layers=5) == {}
    assert find({"clay": {"least_layer_s": 10}}, said, time_per_layer_s=20, layers=5) == {}


def test_no_step_is_known_by_its_settings() -> None:
    """A step of the recipe with a setting of that name, which says nothing, is not asked."""
    steps = [{"name": "anybody", "settings": {"least_layer_s": 30}}]
    assert find({"steps": steps}, time_per_layer_s=20, layers=5) == {}


def test_a_wait_counts_for_its_layer() -> None:
    """A layer of 20 s in which the machine stands still for 10 s, at its start or inside it, has 30 s to set."""
    config, survey = {"clay": {"least_layer_s": 30}}, make_survey(layers=3)
    waits = [Wait(Spot(layer_start(survey, n).line + more), 10) for n, more in ((1, 0), (2, 7), (3, 35))]
    assert find(config, waits, time_per_layer_s=20, layers=3) == {}
    _, line, count, _ = find(config, waits[:2], time_per_layer_s=20, layers=3)["short-layer"]
    assert (line, count) == (layer_start(survey, 3).line, 1)


def test_a_slower_feed_counts() -> None:
    """A layer that the plan slows enough is short no more."""
    config = {"clay": {"least_layer_s": 30}}
    assert find(config, [ScaleFeed(0, 10_000, 0.5)], time_per_layer_s=20, layers=5) == {}


@pytest.mark.parametrize(("line_ml", "age_min", "layer"), [(50, 5, 5), (200, 20, 20), (1000, 60, 60)])
def test_old_clay(line_ml: float, age_min: int, layer: int) -> None:
    """60 layers of 10 ml and a minute: clay is in the hose for as many minutes as layers are in it."""
    config = {"clay": {"working_min": age_min - 0.5}, "cartridge": {"line_ml": line_ml}}
    survey = make_survey(layers=60)
    severity, line, count, text = find(config, layers=60)["old-clay"]
    assert (severity, line, count) == ("warning", layer_start(survey, layer).line, 61 - layer)
    assert f"up to {age_min} min before it is laid" in text
    config["clay"]["working_min"] = age_min
    assert find(config, layers=60) == {}


@pytest.mark.parametrize(("settle_s", "is_why"), [(1800, True), (1, False), (0, False)])
def test_what_stands_after_a_prime_is_named_where_it_is_why(settle_s: float, is_why: bool) -> None:
    """Clay is in the hose for 20 min, which may be 30 or 19: by half an hour of standing still, or without it."""
    pause = Pause(layer_start(make_survey(layers=60), 30), "look", "why", "Look", prime_ml=1)
    config = {
        "machine": {"pause": {"settle_s": settle_s}},
        "clay": {"working_min": 30 if is_why else 19},
        "cartridge": {"line_ml": 200},
    }
    text = find(config, [pause], layers=60)["old-clay"][3]
    assert ("stand for less than 30 min after a prime (`settle_s`), or lay faster" in text) == is_why


def test_clay_in_a_cartridge_keeps() -> None:
    """An hour in a cartridge is nothing, but by a limit of its own."""
    assert find({"clay": {"working_min": 10}}, layers=60) == {}
    severity, line, count, text = find({"cartridge": {"keeps_min": 59}}, layers=60)["old-cartridge"]
    assert (severity, line, count) == ("warning", 10 + 59 * 36, 1)
    assert "up to 60 min in its cartridge" in text
    assert find({"cartridge": {"keeps_min": 60}}, layers=60) == {}


def test_a_new_cartridge_has_its_time_before_it() -> None:
    """Loaded half way, neither is in use for more than half an hour."""
    survey = make_survey(layers=60)
    load = Pause(layer_start(survey, 31), "refill", "more clay", "Load", new_cartridge=True)
    assert find({"cartridge": {"keeps_min": 31}}, [load], layers=60) == {}
    assert find({"cartridge": {"keeps_min": 29.5}}, [load], layers=60)["old-cartridge"][2] == 2
