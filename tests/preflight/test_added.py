"""Beads that the plan lays, and flows and feeds that it changes, beyond what the machine can do."""

from __future__ import annotations

from typing import Any

import pytest

from gpost.config.model import Config
from gpost.plan.intentions import Intention, LayClay, Pause, ScaleFeed, ScaleFlow, Stroke
from gpost.plan.plan import Plan
from gpost.preflight.added import Added
from gpost.preflight.model import Finding
from gpost.spot import Spot
from gpost.testing import layer_start, make_survey

SURVEY = make_survey(layers=5, ml_per_layer=10, time_per_layer_s=60)
"""10 ml a minute, and a path of 2 pi 40 mm a minute."""
FIRST = SURVEY.layers["first_line"].tolist()
FEED_MM_MIN = float(SURVEY.layers["feed_mm_min"][0])


def find(machine: dict[str, Any], *wishes: Intention) -> list[Finding]:
    config = Config.model_validate({"machine": machine})
    return list(Added(config).findings(Plan(SURVEY, config).adding("test", wishes)))


def bead(feed_mm_min: float, clay_ml: float = 2.0) -> LayClay:
    """100 mm of path, on which at 1000 mm/min 2 ml are 20 ml a minute."""
    points = ((10.0, 10.0), (70.0, 10.0), (70.0, 50.0))
    return LayClay(Spot(FIRST[0]), (Stroke(points, 6.0, 2.0, 2.0, clay_ml),), feed_mm_min)


def test_the_clay_of_a_bead_over_the_time_of_its_path() -> None:
    """2 ml on 100 mm at 1000 mm/min are 20 ml a minute: fine at the limit, an error above it."""
    assert find({"max_flow_ml_min": 20}, bead(1000)) == []
    [found] = find({"max_flow_ml_min": 19}, bead(1000))
    assert (found.name, found.severity, found.line, found.count) == ("too-much-clay", "error", FIRST[0], 1)
    assert "laid with up to 20.0 ml a minute, and the machine pushes 19" in found.text


def test_a_bead_faster_than_the_machine() -> None:
    """The feed of the bead itself; without limits nothing is said."""
    assert find({"max_feed_mm_min": 1000}, bead(1000)) == []
    [found] = find({"max_feed_mm_min": 1000}, bead(9000))
    assert (found.name, found.severity) == ("too-fast", "error")
    assert "laid at up to 9000 mm/min, and the machine does 1000" in found.text
    assert find({}, bead(9000, 50)) == []


def test_what_a_pause_lays_counts_at_the_pause() -> None:
    """Its own spot, not that of what is laid, which is ignored there; the first of several is named."""
    later = [layer_start(SURVEY, layer) for layer in (4, 3)]
    pauses = [Pause(spot, "swap", "", "", lay=bead(1000)) for spot in later]
    [found] = find({"max_flow_ml_min": 10}, *pauses)
    assert (found.line, found.count) == (FIRST[2], 2)


def test_more_clay_than_the_machine_pushes() -> None:
    """Layers of 10 ml a minute, three of them with nine times as much: 90 ml a minute."""
    base = ScaleFlow(FIRST[0], FIRST[3], 9.0)
    assert find({"max_flow_ml_min": 90}, base) == []
    [found] = find({"max_flow_ml_min": 80}, base)
    assert (found.name, found.severity, found.line, found.count) == ("too-much-clay", "error", FIRST[0], 3)
    assert "mean flow to up to 90.0 ml a minute, and the machine pushes 80" in found.text


def test_factors_multiply() -> None:
    """Twice the clay at twice the feed is four times the flow; where the feed is halved again, twice."""
    both = [ScaleFlow(FIRST[1], FIRST[3], 2.0), ScaleFeed(FIRST[1], FIRST[3], 2.0)]
    assert [(f.line, f.count) for f in find({"max_flow_ml_min": 39}, *both)] == [(FIRST[1], 2)]
    slower = ScaleFeed(FIRST[1], FIRST[2], 0.5)
    assert [(f.line, f.count) for f in find({"max_flow_ml_min": 39}, *both, slower)] == [(FIRST[2], 1)]
    assert find({"max_flow_ml_min": 40}, *both) == []


def test_a_floor_keeps_the_feed_up() -> None:
    """Thrice the clay at a tenth of the feed is little, unless the floor keeps the feed as it was."""
    richer = ScaleFlow(FIRST[0], FIRST[1], 3.0)
    assert find({"max_flow_ml_min": 20}, richer, ScaleFeed(FIRST[0], FIRST[1], 0.1)) == []
    kept = ScaleFeed(FIRST[0], FIRST[1], 0.1, floor_mm_min=FEED_MM_MIN)
    assert [f.name for f in find({"max_flow_ml_min": 20}, richer, kept)] == ["too-much-clay"]


def test_layers_made_faster() -> None:
    """The mean feed times the factor; what the file itself asks is left to the check of the file."""
    faster = ScaleFeed(FIRST[2], FIRST[3], 3.0)
    limit = {"max_feed_mm_min": 2 * FEED_MM_MIN}
    [found] = find(limit, faster)
    assert (found.name, found.severity, found.line) == ("too-fast", "error", FIRST[2])
    assert find({"max_feed_mm_min": 3.001 * FEED_MM_MIN}, faster) == []
    assert find({"max_feed_mm_min": FEED_MM_MIN / 2}, ScaleFeed(FIRST[2], FIRST[3], 0.5)) == []


@pytest.mark.parametrize("factor", [1.0, 0.9])
def test_what_the_plan_does_not_raise_is_left_to_the_check_of_the_file(factor: float) -> None:
    """A flow that is beyond the machine as sliced is told once, not twice."""
    assert find({"max_flow_ml_min": 5}, ScaleFlow(FIRST[0], FIRST[1], factor)) == []
