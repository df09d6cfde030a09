"""What turned knobs do, on a pot of 50 layers of 10 ml, 2 mm high, of a minute each."""

from __future__ import annotations

from typing import Any

import pytest

from gpost.api import Config, Intention, Pause, Plan, Survey
from gpost.supply.knobs import Knob, knobs
from gpost.testing import layer_start, make_survey, with_layers

POT = make_survey(layers=50, ml_per_layer=10, time_per_layer_s=60)
QUICK = {
    "travel_feed_mm_min": 1e6,
    "lift_feed_mm_min": 1e6,
    "acceleration_mm_s2": 1e8,
    "pause": {"lift_mm": 0, "relieve_ml": 0},
}


def planned(*wishes: Intention, survey: Survey = POT, **parts: Any) -> Plan:
    """The wishes on the pot (`survey`), and a machine that is at the park and back in no time."""
    cartridge = {"volume_ml": 400, "reserve_ml": 30, "line_ml": 60, **parts.pop("cartridge", {})}
    config = Config.model_validate({"machine": QUICK, "cartridge": cartridge, **parts})
    return Plan(survey, config).adding("test", wishes)


def blue(layer: int) -> Pause:
    """Blue clay at a layer's start."""
    return Pause(layer_start(POT, layer), "swap", "", "", new_cartridge=True, colour="blue")


def look(layer: int) -> Pause:
    """A pause without a new cartridge."""
    return Pause(layer_start(POT, layer), "look", "", "")


def layers(knob: Knob) -> list[int | None]:
    """The last safe layer at 90, 110 and 120 %."""
    return [None if flow.safe is None else flow.safe.layer for flow in knob.flows]


def test_a_cartridge_gives_its_clay_sooner() -> None:
    """370 of 400 ml: at 1.1 they are 336 planned, 33 layers; at 1.2 308; loaded to the brim, refill at 38."""
    first, second = knobs(planned(blue(38)))
    assert layers(first) == [None, 33, 30]
    assert [flow.visit_s for flow in first.flows] == pytest.approx([37 * 60, 33 * 60, 30 * 60], abs=1)
    # 130 ml are asked of the second, and 160 told: at 1.1 118 of them do, for 11 whole layers of 13
    assert (second.from_layer, second.from_mm) == (38, pytest.approx(76))
    assert layers(second) == [None, 48, 47]


def test_turned_at_a_later_wait() -> None:
    """Till layer 20's start 190 ml have come as planned; the other 180 at 1.2 do for 150: to layer 34."""
    first, later, _ = knobs(planned(look(20), blue(38)))
    assert (first.visit_s, later.from_layer, later.visit_s) == (
        pytest.approx(1140, abs=1),
        20,
        pytest.approx(2220, abs=1),
    )
    assert layers(later) == [None, 35, 34]
    assert layers(first) == [None, 33, 30]
    assert [flow.visit_s for flow in first.flows] == pytest.approx([1140] * 3, abs=1)


def test_a_colour_shows_at_another_height() -> None:
    """60 ml of hose from layer 21 on: 6 layers as planned, at 0.9 66.7 ml, at 1.2 50 ml."""
    first, second = knobs(planned(blue(21)))
    assert all(flow.shows == () for flow in first.flows)
    found = [shown.height_mm for flow in second.flows for shown in flow.shows]
    assert found == pytest.approx(
        [40 + 2 * 60 / 0.9 / 10, 40 + 2 * 60 / 1.1 / 10, 40 + 2 * 50 / 10], abs=2.01
    )
    assert found == sorted(found, reverse=True)


def test_on_a_wall_that_leans_a_colour_s_turn_is_told() -> None:
    """Turns that lean by 30 mm: the more flow, the lower its turn, though not the place where it comes."""
    rise = make_survey(layers=50, ml_per_layer=10, time_per_layer_s=60, rising=True)
    leaning = with_layers(rise, height_mm=rise.layers["height_mm"] + 30)
    _, second = knobs(planned(blue(21), survey=leaning))
    turns = [shown.turn_mm for flow in second.flows for shown in flow.shows]
    # 66.7, 54.5 and 50 ml behind layer 21's start: in layer 27, in 26, and where that begins
    assert turns == [(52, 84), (50, 82), (50, 82)]
    even = knobs(planned(blue(21), survey=rise))[1]
    assert [shown.turn_mm for flow in even.flows for shown in flow.shows] == [None] * 3


def test_a_colour_that_comes_too_late() -> None:
    """Loaded 60 ml before the end it shows with the last of it, or never with less flow."""
    knob = knobs(planned(blue(45)))[-1]
    assert [shown.height_mm is None for flow in knob.flows for shown in flow.shows] == [True, False, False]


def test_bands_move_with_the_flow() -> None:
    """White to 40 mm, then blue: after 200 ml at the nozzle; with the flow at 1.2 from the start, after 166.7."""
    colours = {
        "bands": [{"clay": "white", "to_mm": 40}, {"clay": "blue"}], "show": "start", "loaded_from": "outlet"
    }  # fmt: skip
    (knob,) = knobs(planned(colours=colours, cartridge={"volume_ml": 800}))
    names = {shown.colour for flow in knob.flows for shown in flow.shows}
    assert names == {"blue"}
    found = [shown.height_mm for flow in knob.flows for shown in flow.shows]
    assert found == pytest.approx([2 * 200 / f / 10 for f in (0.9, 1.1, 1.2)], abs=2.01)


def test_speed_changes_the_clock_alone() -> None:
    """Half of each minute is travel, a tenth speeding up and down: at 1.2 that grows and all else shrinks."""
    survey = make_survey(layers=50, ml_per_layer=10, time_per_layer_s=60, travel_s=30, corner_s=6)
    config = Config.model_validate({"machine": QUICK, "cartridge": {"volume_ml": 1000}})
    (knob,) = knobs(Plan(survey, config))
    expected = [50 * (54 / factor + 6 * factor) for factor in (0.9, 1.1, 1.2)]
    assert [visit_s for _, visit_s in knob.speeds_s] == pytest.approx(expected, rel=1e-6)
    assert {flow.visit_s for flow in knob.flows if flow.safe is None} == {knob.visit_s}


def test_no_flow_where_clay_goes_by_the_path() -> None:
    """Without E there is no flow to turn; the speed's clock is told all the same."""
    (knob,) = knobs(planned(clay={"metering": {"unit": "path"}}, cartridge={"volume_ml": 1000}))
    assert knob.flows == ()
    assert len(knob.speeds_s) == 3


def test_a_file_without_layers_has_no_knobs() -> None:
    """There is nothing to turn."""
    assert knobs(Plan(make_survey(layers=0), Config())) == []
