"""The step that sets the blower by layer or height."""

from __future__ import annotations

from typing import Any

import pydantic
import pytest
from gpost_plugins.fan import Fan, gpost_steps
from hypothesis import given
from hypothesis import strategies as st

from gpost.api import Air, AirInPause, Note, Plan, PlanError, Silence, Spot, Survey
from gpost.testing import make_survey, run_step

POT = make_survey(layers=12, layer_mm=2, lines_per_layer=10)


def blown(*bands: dict[str, Any], survey: Survey = POT, **settings: Any) -> Plan:
    """The fan with these bands on the pot of 12 layers."""
    return run_step(Fan, {"bands": list(bands), **settings}, survey)


def levels(plan: Plan) -> list[float]:
    """Level in force in each layer, by playing the changes back in order; off at first."""
    found = []
    for line in plan.survey.layers["first_line"]:
        before = [air.level for air in plan.of(Air) if air.spot <= Spot(int(line))]
        found.append(before[-1] if before else 0.0)
    return found


def test_the_module_offers_the_step() -> None:
    """The hook names the class, and nothing else."""
    assert list(gpost_steps()) == [Fan]


@pytest.mark.parametrize(
    ("bands", "settings", "expected"),
    [
        ([(1, None, 50)], {}, [0.5] * 12),
        ([(1, None, 0), (4, None, 20)], {}, [0] * 3 + [0.2] * 9),
        ([(4, None, 20)], {}, [0] * 3 + [0.2] * 9),
        ([(1, None, 0), (4, None, 20), (None, 16, 60)], {}, [0] * 3 + [0.2] * 4 + [0.6] * 5),
        ([(1, None, 0), (4, None, 60)], {"ramp_layers": 3}, [0, 0, 0, 0.2, 0.4] + [0.6] * 7),
        ([(1, None, 40), (5, None, 0)], {"ramp_layers": 4}, [0.4] * 4 + [0.3, 0.2, 0.1] + [0] * 5),
        # the first ramp has come to 30 % when the second starts from there
        ([(3, None, 60), (5, None, 0)], {"ramp_layers": 4}, [0, 0, 0.15, 0.3, 0.225, 0.15, 0.075] + [0] * 5),
        ([(1, None, 0), (5, None, 40)], {"ramp": True}, [0, 0.1, 0.2, 0.3] + [0.4] * 8),
        ([(3, None, 10), (6, None, 40)], {"ramp": True}, [0, 0, 0.1, 0.2, 0.3] + [0.4] * 7),
    ],
)
def test_levels_by_hand(
    bands: list[tuple[int | None, float | None, float]], settings: dict[str, Any], expected: list[float]
) -> None:
    """Level of each of 12 layers; 16 mm is layer 8."""
    wanted = [
        {"from_layer": layer, "from_height_mm": height_mm, "level_percent": percent}
        for layer, height_mm, percent in bands
    ]
    assert levels(blown(*wanted, **settings)) == pytest.approx(expected)


def test_out_of_the_box_the_base_is_without_air() -> None:
    """Off for the first three layers, gentle from then on (common practice, no source)."""
    found = levels(run_step(Fan, {}, POT))
    assert found[:3] == [0, 0, 0]
    assert all(0 < level <= 0.5 for level in found[3:])


def test_only_changes_are_written_and_it_is_off_at_the_end() -> None:
    """One change where the band starts, the first at layer 1, and off once the last clay is laid."""
    plan = blown({"from_layer": 1, "level_percent": 0}, {"from_layer": 4, "level_percent": 20})
    assert [(air.spot, air.level) for air in plan.of(Air)] == [
        (Spot(10), 0.0),
        (Spot(40), 0.2),
        (Spot(130), 0.0),
    ]


def test_a_blower_that_is_off_at_the_top_needs_no_end() -> None:
    """The last band has switched it off."""
    plan = blown({"from_layer": 1, "level_percent": 20}, {"from_layer": 6, "level_percent": 0})
    assert [air.level for air in plan.of(Air)] == [0.2, 0.0]


def test_the_sources_own_blower_commands_are_silenced() -> None:
    """M106 and M107, every one, and nothing else."""
    survey = make_survey(
        commands=[("M", 1060, 3), ("M", 1070, 20), ("M", 1060, 40), ("M", 1040, 5), ("G", 1060, 6)]
    )
    (silence,) = run_step(Fan, {}, survey).of(Silence)
    assert silence.lines.tolist() == [3, 20, 40]
    assert not run_step(Fan, {}, POT).of(Silence)


@pytest.mark.parametrize(("settings", "off"), [({}, True), ({"off_in_pause": False}, False)])
def test_the_blower_rests_in_a_pause_unless_told_otherwise(settings: dict[str, Any], off: bool) -> None:
    """Air on a wall that doesn't grow dries it on one side."""
    assert run_step(Fan, settings, POT).of(AirInPause) == [AirInPause(off)]


@given(
    st.lists(
        st.tuples(st.integers(1, 12), st.floats(0, 100)), min_size=1, max_size=5, unique_by=lambda b: b[0]
    ),
    st.integers(1, 15),
)
def test_levels_stay_between_those_asked_for(bands: list[tuple[int, float]], ramp_layers: int) -> None:
    """No ramp leaves the range from off to the strongest band."""
    wanted = [{"from_layer": layer, "level_percent": percent} for layer, percent in sorted(bands)]
    found = levels(blown(*wanted, ramp_layers=ramp_layers))
    assert min(found) >= 0
    assert max(found) <= max(percent for _, percent in bands) / 100 + 1e-4


@pytest.mark.parametrize(
    "settings",
    [
        {"bands": []},
        {"bands": [{"level_percent": 5}]},
        {"bands": [{"from_layer": 1, "from_height_mm": 3, "level_percent": 5}]},
        {"bands": [{"from_layer": 1, "level_percent": 101}]},
        {"bands": [{"from_layer": 1, "level_percent": -1}]},
        {"ramp": True, "ramp_layers": 3},
        {"ramp_layers": 0},
    ],
)
def test_settings_that_contradict_each_other_are_refused(settings: dict[str, Any]) -> None:
    """When the config is read, before any file is."""
    with pytest.raises(pydantic.ValidationError):
        run_step(Fan, settings, POT)


@pytest.mark.parametrize("second", [{"from_layer": 4}, {"from_layer": 2}, {"from_height_mm": 7.5}])
def test_bands_are_listed_from_the_bottom_up(second: dict[str, Any]) -> None:
    """A band that starts no higher than the one before it is refused."""
    with pytest.raises(PlanError, match="bottom up"):
        blown({"from_layer": 4, "level_percent": 20}, {**second, "level_percent": 40})


def test_a_band_above_the_piece_is_left_out() -> None:
    """One recipe serves pieces of several heights; a note says where this one ends."""
    plan = blown({"from_layer": 1, "level_percent": 10}, {"from_layer": 13, "level_percent": 20})
    assert levels(plan) == [0.1] * 12
    (note,) = plan.of(Note)
    assert note.text.startswith("the band of 20 %: layer 13 is above the piece, which ends with layer 12")
    assert not note.warning


def test_levels_have_four_decimals() -> None:
    """A hundredth of a percent; no machine knows more."""
    found = levels(blown({"from_layer": 1, "level_percent": 0}, {"from_layer": 4, "level_percent": 100}, ramp=True))
    assert found[:4] == [0, 0.3333, 0.6667, 1]
    found = levels(blown({"from_layer": 2, "level_percent": 100}, ramp_layers=3))
    assert found[:4] == [0, 0.3333, 0.6667, 1]
