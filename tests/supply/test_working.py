"""How old clay is when it is laid; the pot lays 10 ml a minute, so that ml tell the time."""

from __future__ import annotations

import math
from collections import deque
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.api import Config, Intention, LayClay, Pause, Plan, Spot, Stroke, Wait
from gpost.supply.working import ages_s, first_stale, loads, longest_wait_s, rim_wait_s, told_min
from gpost.testing import layer_start, make_survey

POT = make_survey(layers=50, ml_per_layer=10, lines_per_layer=10, time_per_layer_s=60)


def change(layer: int, **more: Any) -> Pause:
    """A new cartridge at a layer's start."""
    return Pause(layer_start(POT, layer), "refill", "", "", new_cartridge=True, **more)


def look(layer: int) -> Pause:
    """A pause without a new cartridge."""
    return Pause(layer_start(POT, layer), "look", "", "")


def planned(*wishes: Intention, working_min: float = 60, keeps_min: float | None = None) -> Plan:
    """The wishes on the pot, 60 ml in the hose, and a machine that is at the park and back in no time."""
    config = {
        "clay": {"working_min": working_min},
        "cartridge": {"line_ml": 60, "keeps_min": keeps_min},
        "machine": {
            "travel_feed_mm_min": 1e6,
            "lift_feed_mm_min": 1e6,
            "acceleration_mm_s2": 1e8,
            "pause": {"lift_mm": 0, "relieve_ml": 0},
        },
    }
    return Plan(POT, Config.model_validate(config)).adding("test", wishes)


def test_clay_ages_in_the_hose_alone() -> None:
    """What is in it at the start is as old as the job; then a plug of 60 ml is 6 layers of a minute behind."""
    assert ages_s(planned()) == pytest.approx([60.0 * min(layer, 6) for layer in range(1, 51)])


def test_a_refill_makes_no_clay_older() -> None:
    """The hose goes on as before; each cartridge has its own time until its last leaves it."""
    plan = planned(change(21))
    assert ages_s(plan)[10:] == pytest.approx(360, abs=1)
    assert [load.age_s / 60 for load in loads(plan)] == pytest.approx([20, 30], abs=0.02)
    assert [load.end_ml for load in loads(plan)] == pytest.approx([200, 500])


def test_a_wait_makes_what_is_in_the_hose_older() -> None:
    """Ten minutes at layer 25's start: what lies in the hose then is laid in layers 25 to 30."""
    ages = ages_s(planned(Wait(layer_start(POT, 25), 600))) / 60
    assert ages[23] == pytest.approx(6)
    assert ages[24:30] == pytest.approx(16)
    assert ages[30:] == pytest.approx(6)


def test_what_is_run_out_beside_the_piece_is_none_of_a_layer() -> None:
    """A purge of the hose, three minutes long, after a wait of ten: the old clay is not in the wall.

    At layer 25's end clay is laid that came in after 10 of the 60 ml: 2.5 minutes, and the layer's own one.
    """
    bead = Stroke(((20.0, 20.0), (20.0, 120.0)), 8.0, 4.0, 4.0, 60.0)
    spot = layer_start(POT, 25)
    plan = planned(Wait(spot, 600), LayClay(spot, (bead,), 100 / 3, 0.0))
    ages = ages_s(plan) / 60
    assert ages[24] == pytest.approx(3.5, abs=0.01)
    assert ages.max() == pytest.approx(6)


@pytest.mark.parametrize(("minutes", "first"), [(60, None), (6.1, None), (5.9, 5), (2.5, 2)])
def test_the_first_stale_layer(minutes: float, first: int | None) -> None:
    """The layer whose clay is in the hose for longer than the working time."""
    assert first_stale(planned(working_min=minutes)) == first


@pytest.mark.parametrize(
    ("wishes", "which", "minutes"),
    [
        ((look(11),), 0, 54),  # each part of what waits is 6 min old when it is laid without it
        ((look(3),), 0, 54),  # some of it was there at the start
        ((change(21),), 0, 54),
        ((change(21), look(24)), 1, 54),
        ((look(49),), 0, 54),  # the last 20 ml
    ],
)
def test_the_longest_wait_by_hand(wishes: tuple[Pause, ...], which: int, minutes: float) -> None:
    """60 min less the age that the clay which waits in the hose reaches anyway; cartridges don't count."""
    assert longest_wait_s(planned(*wishes), wishes[which]) / 60 == pytest.approx(minutes, abs=0.02)


@pytest.mark.parametrize(
    ("wishes", "which", "minutes"),
    [
        ((look(11),), 0, 10),  # the last clay is 50 min in its cartridge without it
        ((change(21),), 0, 54),  # a new cartridge has all its time before it; the hose counts
        ((change(21), look(41)), 1, 30),  # the second cartridge's last is 30
    ],
)
def test_a_cartridge_counts_if_the_config_says_how_long_it_keeps(
    wishes: tuple[Pause, ...], which: int, minutes: float
) -> None:
    """`keeps_min` of 60: less what its last clay is in it anyway."""
    plan = planned(*wishes, keeps_min=60)
    assert longest_wait_s(plan, wishes[which]) / 60 == pytest.approx(minutes, abs=0.02)


def test_no_wait_is_left_when_clay_gets_too_old_anyway() -> None:
    """Never below 0."""
    pause = look(11)
    assert longest_wait_s(planned(pause, working_min=5), pause) == 0


def test_a_hose_without_hold_up_lets_a_pause_last() -> None:
    """Nothing waits in it: it may take as long as it likes."""
    pause = change(21)
    plan = Plan(POT, Config.model_validate({"cartridge": {"line_ml": 0}})).adding("test", [pause])
    assert longest_wait_s(plan, pause) == math.inf


def test_the_rim_is_known_if_the_config_says_it() -> None:
    """Less what the block itself takes; there is no rim before the first clay, nor after the last."""
    at = layer_start(POT, 11)
    rim = {"clay": {"rim_min": 5}}
    config = Config.model_validate(rim)
    assert rim_wait_s(Plan(POT, Config()), at) is None
    assert rim_wait_s(Plan(POT, config), at, 30.0) == pytest.approx(270)
    assert rim_wait_s(Plan(POT, config), at, 400.0) == 0
    assert rim_wait_s(Plan(POT, config), layer_start(POT, 1)) == math.inf
    assert rim_wait_s(Plan(POT, config), Spot(POT.lines)) == math.inf


@given(
    st.lists(st.integers(2, 50), max_size=3, unique=True),
    st.lists(st.tuples(st.integers(2, 50), st.integers(1, 900)), max_size=3),
    st.floats(0.1, 30),
)
def test_ages_are_those_of_a_queue(layers: list[int], waits: list[tuple[int, int]], prime_ml: float) -> None:
    """Parts of 0.1 ml are put into a queue that is full at the start, and each is as old as its stay in it."""
    pauses = [change(layer, prime_ml=prime_ml) for layer in sorted(layers)]
    plan = planned(*pauses, *(Wait(layer_start(POT, layer), seconds) for layer, seconds in waits))
    queue, now_s = deque([0.0] * 600), 0.0

    def push(clay_ml: float, seconds: float) -> float:
        nonlocal now_s
        parts, oldest_s = max(round(clay_ml / 0.1), 1), 0.0
        for _ in range(parts):
            oldest_s = max(oldest_s, now_s - queue[0])
            now_s += seconds / parts
            oldest_s = max(oldest_s, now_s - queue.popleft())
            queue.append(now_s)
        return oldest_s

    expected = []
    for layer in range(1, 51):
        if layer in layers:
            push(prime_ml, prime_ml / 20 * 60)
        now_s += sum(seconds for at, seconds in waits if at == layer)
        expected.append(push(10.0, 60.0))
    assert ages_s(plan) == pytest.approx(expected, abs=4)
    for pause in pauses:
        assert 0 <= longest_wait_s(plan, pause) <= 3600


@pytest.mark.parametrize(("minutes", "told"), [(57.81, 57), (58.0, 58), (5.9, 5), (4.99, 4.5), (0.4, 0)])
def test_a_limit_is_told_rounded_down(minutes: float, told: float) -> None:
    """Who waits so long has not waited too long; of a few minutes half ones count."""
    assert told_min(minutes) == told
