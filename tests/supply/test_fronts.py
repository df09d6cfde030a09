"""How late or early new clay is at the place where it was asked for."""

from __future__ import annotations

from typing import Any

import pytest

from gpost.api import Config, LayClay, Pause, Plan, Spot, Stroke
from gpost.supply.fronts import asked_text, lag_ml
from gpost.testing import layer_start, make_survey

POT = make_survey(layers=50, ml_per_layer=10, lines_per_layer=10)


def change(layer: int, shows: int, **more: Any) -> Pause:
    """A new cartridge at one layer, to show at another."""
    shows_at = layer_start(POT, shows)
    return Pause(layer_start(POT, layer), "dye", "", "", new_cartridge=True, shows_at=shows_at, **more)


def planned(pause: Pause) -> Plan:
    """The pause on the pot, with 60 ml of line."""
    return Plan(POT, Config.model_validate({"cartridge": {"line_ml": 60}})).adding("test", [pause])


@pytest.mark.parametrize(("layer", "lag"), [(15, 0), (14, -10), (17, 20)])
def test_lag_by_hand(layer: int, lag: float) -> None:
    """For layer 21 the pause belongs to layer 15; each layer later is 10 ml late."""
    pause = change(layer, 21)
    assert lag_ml(planned(pause), pause) == pytest.approx(lag)


@pytest.mark.parametrize(("laid_ml", "prime_ml", "lag"), [(60, 0, 0), (90, 0, 0), (40, 20, 0), (30, 10, 20)])
def test_clay_that_runs_out_at_the_pause_itself_is_in_time(
    laid_ml: float, prime_ml: float, lag: float
) -> None:
    """With 60 ml of line: what purge and prime leave in it is late, and more than it holds is not early."""
    lay = LayClay(Spot(0), (Stroke(((0, 0), (9, 0)), 10, 4, 4, laid_ml),), 600)
    pause = change(21, 21, lay=lay, prime_ml=prime_ml)
    assert lag_ml(planned(pause), pause) == pytest.approx(lag)


RISE = make_survey(layers=50, ml_per_layer=10, lines_per_layer=10, layer_mm=2, rising=True)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (150, "as asked"),  # 200 - 60 = 140 ml, and the lead-in's 10 lines
        (153, "0.6 mm above the 40 mm asked for"),  # 3 ml late, and 5 ml are 1 mm
        (147, "0.6 mm below the 40 mm asked for"),
        (160, "2.0 mm above the 40 mm asked for"),
        (140, "2.0 mm below the 40 mm asked for"),
    ],
)
def test_how_far_off_a_height_it_shows(line: int, words: str) -> None:
    """On a wall that rises by 2 mm and 10 ml a turn, with 60 ml of line."""
    asked = Pause(Spot(line), "dye", "", "", new_cartridge=True, shows_at=layer_start(RISE, 21), asked_mm=40)
    plan = Plan(RISE, Config.model_validate({"cartridge": {"line_ml": 60}})).adding("test", [asked])
    assert asked_text(plan, asked) == words


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (150, "as asked"),
        (153, "3.0 ml later than asked for, which was from layer 21 (40.0 mm) on"),
        (149, "1.0 ml earlier than asked for, which was from layer 21 (40.0 mm) on"),
    ],
)
def test_how_far_off_a_layer_it_shows(line: int, words: str) -> None:
    """Where a layer was asked for, in clay."""
    asked = Pause(Spot(line), "dye", "", "", new_cartridge=True, shows_at=layer_start(RISE, 21))
    plan = Plan(RISE, Config.model_validate({"cartridge": {"line_ml": 60}})).adding("test", [asked])
    assert asked_text(plan, asked) == words
