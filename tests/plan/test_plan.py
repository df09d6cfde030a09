"""The plan answers for clay and time with everything that earlier steps asked for."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.model import Config
from gpost.plan.intentions import (
    LayClay,
    MovePause,
    Note,
    Pause,
    ScaleFeed,
    ScaleFlow,
    SilencePush,
    Stroke,
    Wait,
)
from gpost.plan.plan import Plan
from gpost.spot import Spot
from gpost.survey.inside import Pushes
from gpost.testing import TAIL_LINES, layer_start, make_survey, with_layers
from tests.lookups import answering

SURVEY = make_survey(layers=10, ml_per_layer=10.0, lead_in_ml=5.0, time_per_layer_s=60.0)
LAYER_LINES = 36
BEAD = Stroke(((10.0, 10.0), (10.0, 70.0), (40.0, 70.0)), 8.0, 4.0, 4.0, 3.0)


def plan(*wishes: object) -> Plan:
    """One step's wishes on a pot of ten layers with 10 ml each, after 5 ml of lead-in."""
    return Plan(SURVEY, Config()).adding("test", wishes)  # type: ignore[arg-type]


def pause(layer: int, prime_ml: float = 0.0, **more: object) -> Pause:
    """A refill at a layer's start."""
    return Pause(layer_start(SURVEY, layer), "refill", "why", "Load", prime_ml=prime_ml, **more)  # type: ignore[arg-type]


def test_wishes_are_kept_in_order_with_their_step() -> None:
    """Each step's wishes come behind those of the steps before."""
    first = Plan(SURVEY, Config()).adding("a", [Note("1")])
    second = first.adding("b", [Note("2"), Note("3")])
    assert [(entry.step, entry.intention) for entry in second.entries] == [
        ("a", Note("1")),
        ("b", Note("2")),
        ("b", Note("3")),
    ]
    assert second.steps == ("a", "b")
    assert len(first.entries) == 1


def test_a_pause_inside_an_arc_stands_before_it() -> None:
    """So that clay, place and time are told for where it will be; so does a pause that is moved there."""
    arcs = answering(SURVEY, stands_at=lambda spot, arcs=False: Spot(spot.line))
    old, there = pause(3), Spot(60, 0.75)
    first = Plan(arcs, Config()).adding("refill", [old, dataclasses.replace(old, spot=there)])
    assert [one.spot for one in first.pauses] == [Spot(60), old.spot]
    assert first.entries[0].intention is old
    second = first.adding("later", [MovePause(old, dataclasses.replace(old, spot=Spot(90, 0.5)), "why")])
    assert [one.spot for one in second.pauses] == [Spot(60), Spot(90)]
    assert second.moved[0][1].new is second.pauses[1]


DRAWN = make_survey(layers=10, ml_per_layer=10.0, drawn_back_ml=30.0)


@pytest.mark.parametrize(
    ("start", "end", "most_ml"),
    [
        (Spot(0), Spot(DRAWN.lines), 100 + 7 + 3),  # at the top, before 30 are drawn back
        (Spot(0), layer_start(DRAWN, 6), 50 + 7),  # what is added at the end is not in it
        (layer_start(DRAWN, 6), layer_start(DRAWN, 7), 60 + 7 + 3),  # at the start it is
        (layer_start(DRAWN, 6), layer_start(DRAWN, 6), 50 + 7 + 3),
        (Spot(DRAWN.lines), Spot(DRAWN.lines), 70 + 7 + 3),
    ],
)
def test_the_highest_net_clay(start: Spot, end: Spot, most_ml: float) -> None:
    """7 ml are primed at layer 3 and 3 at layer 6; 30 are drawn back after the last layer."""
    wishes = [dataclasses.replace(pause(3, 7), spot=layer_start(DRAWN, 3)), pause(6, 3)]
    wishes[1] = dataclasses.replace(wishes[1], spot=layer_start(DRAWN, 6))
    assert Plan(DRAWN, Config()).adding("test", wishes).most_clay(start, end) == pytest.approx(most_ml)


def test_an_amount_is_looked_for_from_a_spot_on() -> None:
    """It may be there already, be reached in the prime at layer 6, or, once drawn back, never again."""
    prime = dataclasses.replace(pause(6, 40), spot=layer_start(DRAWN, 6))
    made = Plan(DRAWN, Config()).adding("test", [prime])
    assert made.find_clay(30, layer_start(DRAWN, 5)) == layer_start(DRAWN, 5)
    assert made.find_clay(45, layer_start(DRAWN, 2)) == made.find_clay(45)
    assert made.find_clay(70, layer_start(DRAWN, 3)) == layer_start(DRAWN, 6)
    assert made.find_clay(120, Spot(DRAWN.lines - 1)) == Spot(DRAWN.lines)


def test_what_was_drawn_back_before_something_inserted_has_passed_before_it() -> None:
    """100 ml have passed when 5 are laid at the end of the file, where 70 are left: 95 come in layer 10."""
    made = Plan(DRAWN, Config()).adding("test", [LayClay(Spot(DRAWN.lines), (BEAD,), 600)])
    assert made.find_clay(95) == DRAWN.find_clay(95)


def test_silenced_pushes_are_not_counted() -> None:
    """The lead-in's 5 ml stand on ten lines; four of them are gone from there on, with none before."""
    made = plan(*(SilencePush(line) for line in (2, 3, 4, 5)))
    assert made.total_ml == pytest.approx(SURVEY.clay_ml - 2)
    assert [made.clay_before(Spot(line)) for line in (2, 3, 6, 10)] == pytest.approx([1, 1, 1, 3])
    assert made.find_clay(1.25) == Spot(6, pytest.approx(0.5))  # type: ignore[arg-type]
    assert made.most_clay(Spot(0), layer_start(SURVEY, 1)) == pytest.approx(3)
    assert made.layer_clay_ml[0] == pytest.approx(3)


def test_a_silenced_pull_makes_no_peak() -> None:
    """Where clay was drawn back and is no more, no sum is higher than before it."""
    pulls = Pushes(np.array([4]), np.array([-2.0]), np.array([0.0]), np.array([True]))
    own_ml = {4: 5.0, 5: 3.0}
    survey = answering(
        SURVEY,
        pushes=lambda _first, _end: pulls,
        clay_before=lambda spot: 5.0 - 2.0 * spot.fraction if spot.line == 4 else own_ml.get(spot.line, 3.0),
        most_clay=lambda start, end: max(survey.clay_before(start), survey.clay_before(end)),
    )
    made = Plan(survey, Config()).adding("test", [SilencePush(4)])
    assert made.most_clay(Spot(4), Spot(6)) == pytest.approx(5, abs=1e-9)
    assert made.clay_before(Spot(5)) == pytest.approx(5)


def test_a_pause_is_moved_in_its_place() -> None:
    """The moved pause stays the first step's; the plan remembers who moved it."""
    old = pause(3)
    new = dataclasses.replace(old, spot=layer_start(SURVEY, 5))
    both = (
        Plan(SURVEY, Config())
        .adding("swap", [old, Note("x")])
        .adding("refill", [MovePause(old, new, "joined")])
    )
    assert [entry.step for entry in both.entries] == ["swap", "swap"]
    assert both.pauses == [new]
    assert both.moved == (("refill", MovePause(old, new, "joined")),)


def test_a_pause_that_is_not_in_the_plan_cannot_be_moved() -> None:
    """Not even one that looks the same: it must be the very one."""
    with pytest.raises(ValueError, match="moves a pause that is not in the plan"):
        plan(pause(3)).adding("refill", [MovePause(pause(3), pause(4), "")])


def test_pauses_come_in_printing_order() -> None:
    """Whatever the order in which they were wished."""
    assert [p.spot for p in plan(pause(7), pause(2), pause(5)).pauses] == [
        layer_start(SURVEY, n) for n in (2, 5, 7)
    ]


def test_clay_before_a_spot_counts_what_is_inserted_earlier() -> None:
    """A prime at a layer's start lies behind that start and before all later spots; so do beads."""
    wished = plan(pause(3, 8.0), LayClay(layer_start(SURVEY, 1), (BEAD,), 900.0))
    assert wished.clay_before(layer_start(SURVEY, 1)) == pytest.approx(5.0)
    assert wished.clay_before(layer_start(SURVEY, 3)) == pytest.approx(5.0 + 3.0 + 20.0)
    assert wished.clay_before(Spot(layer_start(SURVEY, 3).line, 0.5)) == pytest.approx(
        5.0 + 3.0 + 20.0 + 8.0 + 0.5 * 10 / LAYER_LINES
    )
    assert wished.total_ml == pytest.approx(5.0 + 3.0 + 100.0 + 8.0)
    assert plan(pause(3, 8.0, lay=LayClay(Spot(0), (BEAD,), 900.0))).total_ml == pytest.approx(116.0)


SCALES = st.lists(
    st.builds(
        lambda first, more, factor: ScaleFlow(first, first + more, factor),
        st.integers(0, 380),
        st.integers(0, 400),
        st.sampled_from([0.5, 0.9, 1.1, 2.0]),
    ),
    max_size=3,
)
PRIMES = st.lists(st.builds(pause, st.integers(1, 10), st.sampled_from([0.0, 4.0, 30.0])), max_size=4)


@given(SCALES, PRIMES, st.floats(0, 250))
def test_finding_clay_is_the_inverse_of_counting_it(
    scales: list[ScaleFlow], primes: list[Pause], clay_ml: float
) -> None:
    """Where so much clay is reached, so much has been metered: less before it, no less behind it."""
    wished = plan(*scales, *primes)
    spot = wished.find_clay(clay_ml)
    here = sum(p.prime_ml for p in primes if p.spot == spot)
    assert wished.clay_before(spot) <= clay_ml + 1e-6
    if spot.line < SURVEY.lines - TAIL_LINES:
        assert wished.clay_before(spot) + here >= clay_ml - 1e-6
    else:
        assert wished.total_ml <= clay_ml + 1e-6


@given(SCALES, PRIMES)
def test_clay_only_grows(scales: list[ScaleFlow], primes: list[Pause]) -> None:
    """From spot to spot net clay never falls, and at the end it is the total."""
    wished = plan(*scales, *primes)
    clay_ml = [wished.clay_before(Spot(line)) for line in range(0, SURVEY.lines, 5)]
    assert np.diff(clay_ml).min() >= -1e-9
    assert wished.clay_before(Spot(SURVEY.lines)) == pytest.approx(wished.total_ml)


@given(SCALES, PRIMES, st.sampled_from([1.0, 0.5]))
def test_columns_by_layer_are_what_the_plan_says_at_each_layers_start(
    scales: list[ScaleFlow], primes: list[Pause], factor: float
) -> None:
    """The clay and the clock of all layers at once are those that are asked for line by line."""
    wished = plan(*scales, *primes, ScaleFeed(100, 300, factor))
    lines = SURVEY.layers["first_line"].tolist()
    assert wished.layer_clay_ml == pytest.approx([wished.clay_before(Spot(line)) for line in lines])
    assert wished.layer_clock_s == pytest.approx([wished.clock_before(n) for n in [*lines, SURVEY.lines]])


def test_scaled_flow_is_counted_from_its_first_line_to_its_last() -> None:
    """Layers 3 and 4 at 150 %: 5 ml more in each, half of it half-way through a layer."""
    start, end = layer_start(SURVEY, 3).line, layer_start(SURVEY, 5).line
    wished = plan(ScaleFlow(start, end, 1.5))
    assert wished.clay_before(Spot(start)) == pytest.approx(25.0)
    assert wished.clay_before(Spot(start + LAYER_LINES // 2)) == pytest.approx(32.5)
    assert wished.clay_before(Spot(end)) == pytest.approx(55.0)
    assert wished.total_ml == pytest.approx(115.0)


def test_scaled_flows_multiply_where_they_overlap() -> None:
    """Twice 150 % of one layer is 225 %."""
    start, end = layer_start(SURVEY, 3).line, layer_start(SURVEY, 4).line
    assert plan(*[ScaleFlow(start, end, 1.5)] * 2).total_ml == pytest.approx(105 + 12.5)


def test_only_clay_that_is_laid_is_scaled() -> None:
    """What a layer meters without laying it (a prime in place) stays as it is."""
    survey = with_layers(make_survey(layers=4, ml_per_layer=10.0), laid_ml=[10.0, 6.0, 10.0, 10.0])
    wished = Plan(survey, Config()).adding("test", [ScaleFlow(0, survey.lines, 2.0)])
    assert wished.total_ml == pytest.approx(40 + 36)


def test_the_lead_in_is_not_scaled() -> None:
    """Clay before the first layer is not laid."""
    assert plan(ScaleFlow(0, SURVEY.lines, 2.0)).total_ml == pytest.approx(5 + 200)


def test_half_the_feed_is_twice_the_time() -> None:
    """Without speeding up and slowing down a layer at half its feed takes twice as long."""
    start, end = layer_start(SURVEY, 3).line, layer_start(SURVEY, 5).line
    slower = plan(ScaleFeed(start, end, 0.5))
    assert slower.layer_factors.tolist() == pytest.approx([1, 1, 0.5, 0.5, *[1] * 6])
    assert slower.layer_times_s.tolist() == pytest.approx([60, 60, 120, 120, *[60] * 6])
    assert slower.total_s == pytest.approx(720)
    assert slower.clock_before(start) == pytest.approx(120)
    assert slower.clock_before(start + LAYER_LINES // 2) == pytest.approx(180)
    assert slower.clock_before(end) == pytest.approx(360)


def test_turning_takes_less_time_at_a_lower_feed() -> None:
    """A move from rest to rest takes L / v + v / a: the second part shrinks with the feed (exact)."""
    survey = make_survey(layers=1, time_per_layer_s=60.0, travel_s=20.0, corner_s=10.0)
    slower = Plan(survey, Config()).adding("test", [ScaleFeed(0, survey.lines, 0.5)])
    assert slower.layer_times_s.tolist() == pytest.approx([20 + 30 / 0.5 + 10 * 0.5])


def test_a_range_over_a_part_of_a_layer_counts_for_that_part() -> None:
    """Half of a layer's lines at half the feed: one and a half times the time."""
    start = layer_start(SURVEY, 3).line
    slower = plan(ScaleFeed(start, start + LAYER_LINES // 2, 0.5))
    assert slower.layer_times_s[2] == pytest.approx(90)


def test_the_floor_limits_the_factor() -> None:
    """A layer at 2000 mm/min with a floor of 1500 runs at three quarters, not at half."""
    survey = with_layers(make_survey(layers=2), feed_mm_min=[2000.0, 1000.0])
    slower = Plan(survey, Config()).adding("test", [ScaleFeed(0, survey.lines, 0.5, floor_mm_min=1500)])
    assert slower.layer_factors.tolist() == pytest.approx([0.75, 1.0])


@given(
    st.dictionaries(
        st.integers(1, 10),
        st.tuples(
            st.sampled_from([0.3, 0.8, 1.0, 1.5]),
            st.sampled_from([0.0, 500.0, 1400.0]),
            st.integers(1, LAYER_LINES),
        ),
        min_size=2,
    )
)
def test_layers_slowed_all_at_once_are_slowed_as_one_by_one(
    slowed: dict[int, tuple[float, float, int]],
) -> None:
    """What is asked layer by layer in rising order is worked out together; in falling order it is not."""
    wishes = []
    for layer, (factor, floor_mm_min, lines) in sorted(slowed.items()):
        first = layer_start(SURVEY, layer).line
        wishes.append(ScaleFeed(first, first + lines, factor, floor_mm_min))
    together, singly = plan(*wishes), plan(*reversed(wishes))
    assert together.layer_factors.tolist() == singly.layer_factors.tolist()


def test_inserted_clay_takes_its_time() -> None:
    """A prime at the flow of the machine, ways, and beads at their feed come on top, behind their spot."""
    machine = {"prime_flow_ml_min": 20, "travel_feed_mm_min": 1e6, "lift_feed_mm_min": 1e6}
    pause_manner = {"pause": {"relieve_ml": 0}, "acceleration_mm_s2": 1e8}
    config = Config.model_validate({"machine": {**machine, **pause_manner}})
    lay = LayClay(layer_start(SURVEY, 2), (BEAD,), 900.0)
    wished = Plan(SURVEY, config).adding("test", [pause(2, 10.0), lay])
    added_s = 30 + 90 / 900 * 60
    assert wished.total_s == pytest.approx(600 + added_s, abs=0.1)
    assert wished.clock_before(layer_start(SURVEY, 2).line) == pytest.approx(60)
    assert wished.clock_before(layer_start(SURVEY, 3).line) == pytest.approx(120 + added_s, abs=0.1)
    first, second = wished.stops
    assert (first.start_ml, first.clay_ml, second.start_ml) == pytest.approx((15, 10, 25))
    assert second.start_s == pytest.approx(first.start_s + first.seconds)


def test_a_file_without_layers_has_a_plan() -> None:
    """Without laid clay there is nothing to scale, and nothing fails."""
    survey = make_survey(layers=0)
    empty = Plan(survey, Config()).adding("test", [ScaleFeed(0, 5, 0.5), ScaleFlow(0, 5, 2.0)])
    assert empty.total_ml == 0
    assert empty.total_s == 0
    assert len(empty.layer_factors) == 0
    assert not math.isnan(empty.clay_before(Spot(3)))


@pytest.mark.parametrize("ml_per_layer", [0.5, 500.0])
def test_a_wait_counts_in_the_layer_in_which_it_stands(ml_per_layer: float) -> None:
    """By the layers' lines, those at a layer's start included, however much clay there is in each; none before the first."""
    survey = make_survey(layers=8, ml_per_layer=ml_per_layer, lines_per_layer=20, lead_in_lines=10)
    first = survey.layers["first_line"].tolist()
    waits = [
        Wait(Spot(first[3]), 7.0),
        Wait(Spot(first[6] + 19), 2.0),
        Wait(Spot(first[6] + 4), 1.0),
        Wait(Spot(2), 50.0),
    ]
    plan = Plan(survey, Config()).adding("waits", waits)
    assert plan.layer_waits_s.tolist() == [0, 0, 0, 7.0, 0, 0, 3.0, 0]


def test_the_clock_inside_a_move() -> None:
    """In the part of its line's time at which the spot lies; what was inserted before counts."""
    line = layer_start(SURVEY, 3).line
    for found in (plan(), plan(Wait(Spot(5), 30.0))):
        begins_s, ends_s = found.clock_before(line), found.clock_before(line + 1)
        assert ends_s - begins_s == pytest.approx(60 / LAYER_LINES)
        assert found.clock_at(Spot(line)) == begins_s
        assert found.clock_at(Spot(line, 0.25)) == pytest.approx(begins_s + 0.25 * (ends_s - begins_s))
