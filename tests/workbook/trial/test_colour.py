"""From the heights of a change of colour to the clay pushed since it was loaded."""

from __future__ import annotations

import pytest

from gpost.api import Config, Pause, Plan
from gpost.errors import ConfigError
from gpost.testing import layer_start, make_survey
from gpost.workbook.trial.colour import clay_at_height, pushed_ml

POT = make_survey(layers=50, ml_per_layer=10, lines_per_layer=10)
TOP_MM = [float(height) for height in POT.layers["height_mm"]]


def planned(*pauses: Pause) -> Plan:
    """The pot with these pauses."""
    return Plan(POT, Config()).adding("test", pauses)


def swap(layer: int, prime_ml: float = 0.0) -> Pause:
    """A new colour loaded at a layer's start."""
    pause = layer_start(POT, layer)
    return Pause(pause, "swap", "test", "test", new_cartridge=True, colour="blue", prime_ml=prime_ml)


def test_pushed_between_heights() -> None:
    """Loaded at layer 11, it shows in layer 16 and is full in layer 20: 50 ml and 90 ml later."""
    assert pushed_ml(planned(swap(11)), [(TOP_MM[15], TOP_MM[19])]) == [pytest.approx((50, 90))]


def test_what_is_primed_is_pushed_too() -> None:
    """A prime of 15 ml after the change counts."""
    found = pushed_ml(planned(swap(11, 15)), [(TOP_MM[15], TOP_MM[19])])
    assert found == [pytest.approx((65, 105))]


def test_two_changes_two_pairs() -> None:
    """One pair of heights for each change, in order; a refill of the same colour is no change."""
    refill = Pause(layer_start(POT, 30), "refill", "test", "test", new_cartridge=True)
    pairs = [(TOP_MM[15], TOP_MM[19]), (TOP_MM[42], TOP_MM[46])]
    assert pushed_ml(planned(swap(11), refill, swap(40)), pairs) == [
        pytest.approx((50, 90)),
        pytest.approx((30, 70)),
    ]
    with pytest.raises(ConfigError, match="changes the colour 1 times, but 2 pairs"):
        pushed_ml(planned(swap(11)), pairs)


@pytest.mark.parametrize("heights", [(TOP_MM[5], TOP_MM[19]), (TOP_MM[15], TOP_MM[15])])
def test_a_change_before_its_clay(heights: tuple[float, float]) -> None:
    """A change that shows before its clay was loaded, or takes no clay at all, is refused."""
    with pytest.raises(ConfigError, match="can't begin and end"):
        pushed_ml(planned(swap(11)), [heights])


@pytest.mark.parametrize("height_mm", [0.0, -1.0, 1e4])
def test_a_height_that_is_not_there(height_mm: float) -> None:
    """A height outside the piece is refused."""
    with pytest.raises(ConfigError, match="the piece has no height"):
        clay_at_height(planned(), height_mm)
