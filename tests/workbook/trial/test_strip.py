"""The trial's G-code, run by the reference interpreter."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.metering import ml_per_unit
from gpost.config.model import Config
from gpost.errors import ConfigError, PlanError
from gpost.workbook.trial.strip import StripWishes, amounts_e, load_ml, strip
from tests.reference.interpreter import Dialect, run

METERING = [
    {"unit": "filament", "diameter_mm": 1.75},
    {"unit": "filament", "diameter_mm": 2.85},
    {"unit": "mm3"},
    {"unit": "plunger", "bore_mm": 60},
    {"unit": "ml", "ml_per_unit": 0.5},
]


def studio(metering: dict[str, object] | None = None, **machine: object) -> Config:
    """A config with that metering and machine."""
    return Config.model_validate({"machine": machine, "clay": {"metering": metering or METERING[0]}})


@given(
    st.sampled_from(METERING),
    st.floats(0, 280),
    st.floats(0, 280),
    st.sampled_from([0.0, 300.0]),
    st.floats(1, 300),
    st.integers(1, 8),
)
def test_it_stays_in_reach_and_pushes_what_it_says(
    metering: dict[str, object], x_mm: float, y_mm: float, home_z_mm: float, cup_mm: float, extrusions: int
) -> None:
    """No error, never off the bed or over the ceiling; E adds up; every push is at the park between waits."""
    config = studio(metering, park={"x_mm": x_mm, "y_mm": y_mm}, home={"z_mm": home_z_mm})
    wishes = StripWishes(amount_ml=7, extrusions=extrusions, cup_mm=cup_mm)
    events = run(strip(config, wishes).encode(), Dialect(home_mm=(0, 0, home_z_mm)))
    assert not any(event.error for event in events)
    for event in events:
        x, y, z = event.end_mm
        assert config.machine.bed.holds(x, y)
        assert 0 <= z <= 300 + 1e-6
    pushes = [event for event in events if event.e_delta_mm]
    amounts = amounts_e(config, wishes)
    assert [event.e_metered_mm for event in pushes] == pytest.approx([amounts[0], *amounts])
    assert all(event.path_mm == 0 for event in pushes)
    assert all(event.end_mm == pytest.approx((x_mm, y_mm, cup_mm), abs=1e-3) for event in pushes)
    assert [event.state.paused for event in pushes] == [0, *range(1, 2 * extrusions, 2)]
    assert events[-1].state.paused == 2 * extrusions


def test_the_amounts_are_easily_written_down() -> None:
    """10 ml of a strand of 1.75 mm are 4157.5 mm: it pushes 4200, 8400, 12600, 16800."""
    assert amounts_e(studio(), StripWishes()) == [4200, 8400, 12600, 16800]
    assert amounts_e(studio({"unit": "mm3"}), StripWishes(amount_ml=0.5, extrusions=2)) == [500, 1000]


@given(
    st.sampled_from(METERING),
    st.floats(0.5, 40),
    st.integers(1, 8),
    st.floats(20, 400),
    st.floats(0, 15),
    st.sampled_from([None, 15.0, 100.0]),
)
def test_what_to_load_is_what_it_pushes_and_the_reserve(
    metering: dict[str, object],
    amount_ml: float,
    extrusions: int,
    volume_ml: float,
    reserve_ml: float,
    first_ml: float | None,
) -> None:
    """As the reference interpreter counts its E, rounded up; where that is more than there is it is refused.

    What is asked for instead then goes in.
    """
    held = None if first_ml is None else min(first_ml, volume_ml)
    cartridge = {"volume_ml": volume_ml, "reserve_ml": reserve_ml, "first_ml": held}
    small = Config.model_validate({"clay": {"metering": metering}, "cartridge": cartridge})
    large = Config.model_validate({"clay": {"metering": metering}, "cartridge": {"volume_ml": 1e5}})
    wishes = StripWishes(amount_ml, extrusions)
    unit_ml = ml_per_unit(small.clay.metering)
    assert unit_ml is not None
    events = run(strip(large, wishes).encode())
    pushed_ml = unit_ml * sum(event.e_delta_mm for event in events if event.e_delta_mm)
    there_ml = volume_ml if held is None else held
    if pushed_ml + reserve_ml <= there_ml - 1e-3:
        told_ml = load_ml(small, wishes)
        assert pushed_ml + reserve_ml - 1e-3 <= told_ml < pushed_ml + reserve_ml + 1 + 1e-3
    elif pushed_ml + reserve_ml >= there_ml + 1e-3:
        with pytest.raises(ConfigError, match=r"the last cups would hold air.*--amount-ml ") as refused:
            strip(small, wishes)
        fewer_ml = float(re.findall(r"--amount-ml ([\d.e-]+)", str(refused.value))[0])
        if fewer_ml:
            assert load_ml(small, StripWishes(fewer_ml, extrusions)) <= volume_ml


def test_more_is_loaded_where_e_is_not_sure() -> None:
    """110 ml, twice, with and without a spread of 5 % and a reserve that varies: 1.645 x 5 % of it and more."""
    sure, unsure = (
        Config.model_validate({
            "clay": {"metering": {"unit": "ml", "ml_per_unit": 1.0, **spread}},
            "cartridge": {"volume_ml": 200, "reserve_ml": 20},
        })
        for spread in ({}, {"spread_percent": 5})
    )  # fmt: skip
    assert load_ml(sure, StripWishes(amount_ml=10)) == 130
    assert load_ml(unsure, StripWishes(amount_ml=10)) > 130 + 1.645 * 0.05 * 110


def test_it_pushes_no_faster_than_a_prime() -> None:
    """20 ml a minute of a strand of 1.75 mm are 8315.0 mm a minute."""
    feeds = {event.feed_mm_min for event in run(strip(studio(), StripWishes()).encode()) if event.e_delta_mm}
    assert feeds == {8315.0}


def test_it_says_what_to_write_down() -> None:
    """The display names the cup's number before each push, and E after it."""
    messages = run(strip(studio(), StripWishes(extrusions=1)).encode())[-1].state.messages
    assert messages == ("Cut, empty cup under nozzle, 1 of 1", "Cut, weigh and write down: E 4200")


def test_a_machine_without_a_display() -> None:
    """Without a display nothing is shown."""
    assert "M117" not in strip(studio(display=None), StripWishes())


def test_a_command_first() -> None:
    """A command that lets the cold extruder move comes before anything is pushed."""
    lines = strip(studio(), StripWishes(first=("M302 P1",))).splitlines()
    assert lines.index("M302 P1") < next(n for n, line in enumerate(lines) if line.startswith("G1 E"))


@pytest.mark.parametrize(
    ("config", "wishes", "words"),
    [
        (studio({"unit": "path"}), StripWishes(), "no E to try"),
        (studio(park={"x_mm": -5, "y_mm": 0}), StripWishes(), "park lies off the bed"),
        (studio(), StripWishes(cup_mm=301), "can't stand 301 mm high"),
        (studio(), StripWishes(first=("M302 P1\nG28",)), "can't be sent first"),
        (studio(), StripWishes(first=("M302 ; G1 X0",)), "can't be sent first"),
    ],
)
def test_what_cannot_be_tried(config: Config, wishes: StripWishes, words: str) -> None:
    """No E, a park or a cup out of reach, and text that is no single command, are refused."""
    with pytest.raises(ConfigError, match=words):
        strip(config, wishes)


def test_a_first_command_that_moves() -> None:
    """A command that would move the machine is refused."""
    with pytest.raises(PlanError, match="can't be sent: it moves the machine"):
        strip(studio(), StripWishes(first=("G1 X100",)))
