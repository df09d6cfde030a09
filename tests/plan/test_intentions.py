"""What an intention means where a step leaves it out: the contract of `gpost.api`, which steps rely on."""

from __future__ import annotations

from dataclasses import MISSING, fields
from typing import Any

import pytest

from gpost.plan.intentions import (
    Ban,
    Bearing,
    Ground,
    LayClay,
    Note,
    Pause,
    ScaleFeed,
    ScaleFlow,
    Shift,
    Silence,
    SilencePush,
    Stroke,
    Wait,
)
from gpost.spot import Spot

WHY = {"why": ""}


@pytest.mark.parametrize(
    ("kind", "left_out"),
    [
        (
            Pause,
            {
                "message": None,
                "prime_ml": 0.0,
                "new_cartridge": False,
                "colour": None,
                "load_ml": None,
                "shows_at": None,
                "asked_mm": None,
                "shows_share": 0.5,
                "lay": None,
                "hold_again": False,
                "within_layer": False,
                "in_time": False,
            },
        ),
        (LayClay, {"wipe_mm": 10.0, **WHY}),
        (ScaleFeed, {"floor_mm_min": 0.0, **WHY}),
        (Ground, {"top_mm": 0.0, **WHY, "round": False, "clay_ml": 0.0, "colour": None}),
        (Note, {"warning": False}),
        (Bearing, {"warning": False, "clay": None}),
        (Wait, WHY),
        (Ban, WHY),
        (ScaleFlow, WHY),
        (Shift, WHY),
        (Silence, WHY),
        (SilencePush, WHY),
    ],
)
def test_what_a_step_may_leave_out(kind: type[Any], left_out: dict[str, Any]) -> None:
    """A plain pause brings no clay, stands at a layer's start, and stays; feeds have no floor; notes warn of nothing."""
    assert {each.name: each.default for each in fields(kind) if each.default is not MISSING} == left_out


def test_the_clay_of_what_lays_some() -> None:
    """The sum of its strokes; a pause has its prime too."""
    stroke = Stroke(((0, 0), (9, 0)), 10, 4, 4, 2.5)
    lay = LayClay(Spot(0), (stroke, stroke), 600)
    assert lay.clay_ml == 5
    assert Pause(Spot(0), "look", "", "", prime_ml=3).clay_ml == 3
    assert Pause(Spot(0), "look", "", "", prime_ml=3, lay=lay).clay_ml == 8
