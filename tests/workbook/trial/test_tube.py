"""The tube's G-code, run by the reference interpreter, and what folded tubes say."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.model import Config
from gpost.errors import ConfigError, PlanError
from gpost.workbook.trial.tube import Tube, TubeWishes, clock, tube_gcode, tube_of
from tests.reference.interpreter import Dialect, Event, run

FILAMENT = {"unit": "filament", "diameter_mm": 1.75}
METERING = [FILAMENT, {"unit": "plunger", "bore_mm": 60}, {"unit": "ml", "ml_per_unit": 0.5}]


def studio(metering: dict[str, object] | None = None, **more: object) -> Config:
    """A config with that metering, and other sections."""
    return Config.model_validate({**more, "clay": {"metering": metering or FILAMENT}})


def laid(events: list[Event]) -> list[Event]:
    """The moves that lay the wall."""
    return [event for event in events if event.e_delta_mm and event.path_mm]


def radius_mm(event: Event) -> float:
    """Distance of a move's end from the bed's middle."""
    return math.hypot(event.end_mm[0] - 140, event.end_mm[1] - 140)


@given(
    st.sampled_from(METERING),
    st.sampled_from([0.0, 300.0]),
    st.floats(24, 96),
    st.floats(1, 30),
    st.floats(4, 60),
)
def test_it_is_a_tube_that_rises_as_asked(
    metering: dict[str, object], home_z_mm: float, across_mm: float, rise_mm_min: float, height_mm: float
) -> None:
    """Every side ends on the circle; E is the bead's section times the path; by feed and path it takes the
    time that the rate of rise says; it never goes down on the way, and stays within bed and ceiling.
    """
    config = studio(metering, machine={"home": {"z_mm": home_z_mm}})
    wishes = TubeWishes(across_mm, rise_mm_min, height_mm)
    events = list(run(tube_gcode(config, wishes).encode(), Dialect(home_mm=(0, 0, home_z_mm))))
    assert not any(event.error for event in events)
    wall = laid(events)
    assert [radius_mm(event) for event in wall] == pytest.approx([across_mm / 2] * len(wall), abs=2e-3)
    heights = [event.end_mm[2] for event in wall]
    assert heights == sorted(heights)
    assert heights[-1] == pytest.approx(height_mm, abs=2 / 72)
    minutes = sum(event.path_mm / event.feed_mm_min for event in wall)
    assert minutes == pytest.approx(heights[-1] / rise_mm_min, rel=5e-3)
    for event in events:
        assert config.machine.bed.holds(event.end_mm[0], event.end_mm[1])
        assert 0 <= event.end_mm[2] <= 300 + 1e-6


def test_the_clay_is_that_of_its_wall() -> None:
    """A bead of 6 by 2 mm with round sides has (6 - 2) 2 + pi mm^2: computed by hand, 2.099 ml a turn of 60 "
    "mm."""
    unit_ml = math.pi / 4 * 1.75**2 / 1000
    wall = laid(list(run(tube_gcode(studio(), TubeWishes(height_mm=20)).encode())))
    path_mm = 72 * 60 * math.sin(math.pi / 72)
    assert sum(event.e_delta_mm for event in wall) * unit_ml == pytest.approx(
        10 * path_mm * (8 + math.pi) / 1000, rel=1e-5
    )
    assert tube_of(studio(), TubeWishes(height_mm=20)).clay_ml == pytest.approx(20.9947, rel=1e-4)


def test_it_waits_for_the_potter_and_says_height_and_clock() -> None:
    """One wait, at the park, after clay was run out there; then height and clock every 5 mm."""
    events = list(run(tube_gcode(studio(), TubeWishes(rise_mm_min=4, height_mm=20)).encode()))
    state = events[-1].state
    assert state.paused == 1
    assert state.messages == (
        "Wipe the nozzle. Stand by to stop",
        "Tube 5 mm at 1:15",
        "Tube 10 mm at 2:30",
        "Tube 15 mm at 3:45",
        "Tube 20 mm at 5:00",
        "It stood to 20 mm",
    )
    pushed = [event for event in events if event.e_delta_mm and not event.path_mm]
    assert [event.end_mm[:2] for event in pushed] == [pytest.approx((10, 10))]
    assert [event.state.paused for event in pushed] == [0]


def test_a_machine_without_e_or_display() -> None:
    """Clay by path: nothing is run out, and no E is written; nothing is shown without a display."""
    text = tube_gcode(studio({"unit": "path"}, machine={"display": None}), TubeWishes(height_mm=10))
    assert " E" not in text
    assert "M117" not in text


def test_as_high_as_machine_and_cartridge_go() -> None:
    """300 mm less the lift of 10; a cartridge of 110 ml with 50 of reserve leaves 50 after the prime: 46 "
    "mm."""
    assert tube_of(studio(), TubeWishes()).height_mm == 290
    small = studio(cartridge={"volume_ml": 110})
    assert tube_of(small, TubeWishes()).height_mm == math.floor(50 / 2.0995) * 2


@pytest.mark.parametrize(
    ("config", "wishes", "words"),
    [
        (studio(), TubeWishes(diameter_mm=20), "narrower than 24 mm it leans over"),
        (studio(), TubeWishes(diameter_mm=100), "wider than 96 mm it dents"),
        (studio(), TubeWishes(height_mm=291), "the machine's ceiling leaves 290 mm"),
        (studio(), TubeWishes(height_mm=3), "needs 4 mm at the least"),
        (studio(cartridge={"volume_ml": 110}), TubeWishes(height_mm=60), "first cartridge leaves 48 mm"),
        (studio(cartridge={"volume_ml": 51}), TubeWishes(), "first cartridge leaves 0 mm"),
        (studio(), TubeWishes(first=("M302 P1\nG28",)), "can't be sent first"),
    ],
)
def test_what_cannot_be_tried(config: Config, wishes: TubeWishes, words: str) -> None:
    """What tells nothing, and what there is no room or clay for, is refused."""
    with pytest.raises(ConfigError, match=words):
        tube_gcode(config, wishes)


def test_a_first_command_that_moves() -> None:
    """A command that would move the machine is refused."""
    with pytest.raises(PlanError, match="can't be sent: it moves the machine"):
        tube_gcode(studio(), TubeWishes(first=("G1 X100",)))


def test_the_feed_keeps_the_rise() -> None:
    """188.4 mm of a turn at 2 mm a turn and 10 mm a minute: 942 mm/min; computed by hand."""
    assert Tube(60, 6, 2, 10, 100).feed_mm_min == pytest.approx(942.23, rel=1e-4)


@pytest.mark.parametrize(
    ("seconds", "words"), [(0, "0:00"), (570, "9:30"), (3750, "1:02:30"), (59.6, "1:00")]
)
def test_clocks(seconds: float, words: str) -> None:
    """Minutes and seconds, with hours where there are any."""
    assert clock(seconds) == words
