"""Walls that start in the air, and first layers that don't fit the nozzle (4 mm unless said)."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pytest

from gpost.preflight.model import Finding
from gpost.preflight.wall import wall_findings
from gpost.survey.path import TURN
from gpost.testing import make_survey, with_layers

Check = Callable[..., dict[str, Finding]]
CORNERS = ((140, 100), (140, 140), (100, 140), (100, 100))


def rings(*heights_mm: float) -> str:
    """Square rings at these heights, five lines each, after three lines."""
    lines = ["G28", "G90", "M83"]
    for z_mm in heights_mm:
        lines += [f"G1 X100 Y100 Z{z_mm:g} F1200", *(f"G1 X{x} Y{y} E1" for x, y in CORNERS)]
    return "\n".join([*lines, ""])


@pytest.mark.parametrize(
    ("heights_mm", "line", "count"),
    [
        ((8, 10), None, 0),  # exactly two nozzles up
        ((8.1, 10), 4, 1),
        ((2, 6.8, 8), None, 0),  # exactly 1.2 nozzles
        ((2, 6.9, 8), 8, 1),
        ((2, 4, 9, 14.5), 13, 2),
        ((2, 4, 2, 4), None, 0),  # downwards is no rise
    ],
)
def test_wall_in_air(check: Check, heights_mm: Sequence[float], line: int | None, count: int) -> None:
    """First clay above 2 nozzles, or a layer that rises by more than 1.2, is an error (common practice)."""
    found = check(rings(*heights_mm)).get("wall-in-air")
    if line is None:
        assert found is None
    else:
        assert found is not None
        assert (found.severity, found.line, found.count) == ("error", line, count)


def test_a_wider_nozzle_bridges_more(check: Check) -> None:
    """The limits go with the nozzle."""
    assert "wall-in-air" not in check(rings(4, 11), {"machine": {"nozzle_mm": 6}})
    assert "wall-in-air" in check(rings(4, 11), {"machine": {"nozzle_mm": 5}})


@pytest.mark.parametrize(
    ("height_mm", "word"),
    [(0.9, "too low"), (1.0, None), (3.6, None), (3.7, "too high"), (0.0, "too low")],
)
def test_first_layer(check: Check, height_mm: float, word: str | None) -> None:
    """A first layer outside 0.25 to 0.9 nozzles is a warning (common practice, no source)."""
    found = check(rings(height_mm, height_mm + 2)).get("first-layer")
    if word is None:
        assert found is None
    else:
        assert found is not None
        assert (found.severity, found.line) == ("warning", 4)
        assert word in found.text


def test_a_first_layer_that_is_a_guess() -> None:
    """How high it is on the average tells nothing: it is judged by its lowest clay."""
    whole = with_layers(make_survey(layers=1, layer_mm=[42.0]), low_mm=[2.0], odd=[True])
    assert list(wall_findings(whole, 4.0)) == []
    assert [found.name for found in wall_findings(with_layers(whole, low_mm=[0.5]), 4.0)] == ["first-layer"]
    turn = with_layers(whole, odd=[False], kind=[TURN])
    assert [found.name for found in wall_findings(turn, 4.0)] == ["first-layer"]


def test_a_floor_with_the_foot_of_its_wall() -> None:
    """What is level and lies on several heights is judged by the lowest too."""
    whole = with_layers(make_survey(layers=3, layer_mm=[6.0, 2.0, 2.0]), low_mm=[2.0, 8.0, 10.0])
    assert list(wall_findings(whole, 4.0)) == []
