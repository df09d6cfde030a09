"""How old clay is when it is laid; the pot lays 10 ml a minute, so that ml tell the time."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.api import Config, Pause, Plan
from gpost.supply.working import ages_s, first_stale, loads, longest_wait_s
from gpost.testing import layer_start, make_survey

POT = make_survey(layers=50, ml_per_layer=10, lines_per_layer=10, time_per_layer_s=60)


def change(layer: int, **more: Any) -> Pause:
    """A new cartridge at a layer's start."""
    return Pause(layer_start(POT, layer), "refill", "", "", new_cartridge=True, **more)


def look(layer: int) -> Pause:
    """A pause without a new cartridge."""
    return Pause(layer_start(POT, layer), "look", "", "")


def planned(*wishes: Pause, working_min: float = 60, lift_mm: float = 0) -> Plan:
    """The wishes on the pot, 60 ml in the line, no time for lifting."""
    config = {
        "clay": {"working_min": working_min},
        "cartridge": {"line_ml": 60},
        "machine": {"pause": {"lift_mm": lift_mm}},
    }
    return Plan(POT, Config.model_validate(config)).adding("test", wishes)


def test_one_cartridge_ages_with_the_job() -> None:
    """Each layer's clay is as old as the job, 1 to 50 min."""
    assert ages_s(planned()) == pytest.approx([60.0 * layer for layer in range(1, 51)])


def test_after_a_refill_the_line_s_clay_is_still_old() -> None:
    """Loaded at 20 min, the new clay comes after 6 layers of old, and is 7 min old at that layer's end."""
    ages = ages_s(planned(change(21))) / 60
    assert ages[25] == pytest.approx(26)
    assert ages[26] == pytest.approx(7)
    assert ages[49] == pytest.approx(30)
    assert [load.age_s / 60 for load in loads(planned(change(21)))] == pytest.approx([26, 30])


@pytest.mark.parametrize(("minutes", "first"), [(60, None), (50, None), (49, 49), (10.5, 10)])
def test_the_first_stale_layer(minutes: float, first: int | None) -> None:
    """The layer whose end comes after the working time."""
    assert first_stale(planned(working_min=minutes)) == first


@pytest.mark.parametrize(
    ("wishes", "which", "minutes"),
    [
        ((look(11),), 0, 10),  # the last clay is 50 min old without it
        ((change(21),), 0, 34),  # what waits in the hose is 26 min old when laid
        ((change(21), look(41)), 1, 30),  # the second cartridge's last is 30
        ((change(21), look(24)), 1, 30),  # both wait; the second's last is the older
    ],
)
def test_the_longest_wait_by_hand(wishes: tuple[Pause, ...], which: int, minutes: float) -> None:
    """60 min less the age that the clay which waits there reaches anyway."""
    assert longest_wait_s(planned(*wishes), wishes[which]) / 60 == pytest.approx(minutes)


def test_no_wait_is_left_when_clay_gets_too_old_anyway() -> None:
    """Never below 0."""
    pause = look(11)
    assert longest_wait_s(planned(pause, working_min=30), pause) == 0


def test_a_line_without_hold_up_lets_a_refill_last() -> None:
    """Nothing old is laid after the change: it may take as long as it likes."""
    pause = change(21)
    plan = Plan(POT, Config.model_validate({"cartridge": {"line_ml": 0}})).adding("test", [pause])
    assert longest_wait_s(plan, pause) == math.inf


@given(st.lists(st.integers(2, 50), max_size=4, unique=True), st.floats(0, 30))
def test_clay_is_never_older_than_the_job(layers: list[int], prime_ml: float) -> None:
    """Ages lie between 0 and the job's time, near the oldest load's; waits between nothing and the limit."""
    pauses = [change(layer, prime_ml=prime_ml) for layer in sorted(layers)]
    plan = planned(*pauses)
    ages = ages_s(plan)
    assert (ages > 0).all()
    assert (ages <= plan.total_s + 1e-6).all()
    slack_s = 60 + len(layers) * prime_ml / 20 * 60
    assert ages.max() <= max(load.age_s for load in loads(plan)) + slack_s
    for pause in pauses:
        assert 0 <= longest_wait_s(plan, pause) <= 3600
