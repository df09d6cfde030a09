"""Shares of the clays by height."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.api import Config, Plan
from gpost.supply.reach import LEAST_CHANGE, MOST_ROWS, Reach, joined, reach
from gpost.testing import make_survey


def risen(blue: list[float], layer_mm: float = 2) -> Reach:
    """Layers with those shares of blue, the rest white."""
    share = np.array(blue)
    return Reach(np.arange(1, len(blue) + 1) * layer_mm, {"white": 1 - share, "blue": share})


def test_a_layer_in_words() -> None:
    """The most first; what there is less than half a hundredth of is not named."""
    assert risen([0, 0.8]).words(1) == "at 4 mm: 80 % blue, 20 % white"
    assert risen([0.004], 1.5).words(0) == "at 1.5 mm: 100 % white"


def test_only_changes_are_given() -> None:
    """The first layer, then every one that is a hundredth off the last one given, though it creeps."""
    assert list(risen([0, 0, 0.004, 0.008, 0.012, 0.5, 0.5, 1, 1]).changes()) == [0, 4, 5, 7]
    assert risen([0, 0.25]).mix(0) == {"white": 1}
    assert risen([0, 0.25]).mix(1) == {"white": 0.75, "blue": 0.25}


@given(st.lists(st.floats(0, 1), min_size=1, max_size=60))
def test_the_changes_say_all_to_a_hundredth(blue: list[float]) -> None:
    """Each layer is as the last change below it."""
    found, given_at = risen(blue), 0
    changes = set(found.changes())
    for index, share in enumerate(blue):
        given_at = index if index in changes else given_at
        assert abs(share - blue[given_at]) < LEAST_CHANGE


@pytest.mark.parametrize(
    ("low_mm", "high_mm", "heights"),
    [
        (60, 84, [60, 62, 64, 66, 68, 70, 72, 74, 76, 78, 80, 82, 84]),
        (60, 85, [60, 66, 70, 76, 80, 86]),  # every 5 mm, at the layer that reaches it
        (61, 65, [62, 64, 66]),  # every mm, but layers are 2 mm high
        (60, 60, []),
        (159, 170, [160]),
        (65, 61, [62, 64, 66]),  # on a wall that waves it ends lower
    ],
)
def test_rows_are_round_steps_apart(low_mm: float, high_mm: float, heights: list[float]) -> None:
    """Level layers at 2, 4, ... 160 mm."""
    found = risen([0.5] * 80)
    assert [found.height_mm[index] for index in found.across(low_mm, high_mm)] == heights


@given(st.floats(0, 160), st.floats(0, 160), st.floats(0.2, 6))
def test_rows_are_few_and_rise(low_mm: float, width_mm: float, layer_mm: float) -> None:
    """However wide the change, and however thin the layers."""
    rows = risen([0.5] * int(160 / layer_mm), layer_mm).across(low_mm, low_mm + width_mm)
    assert len(rows) <= MOST_ROWS + 1
    assert rows == sorted(set(rows))


def test_each_layer_is_looked_at_on_its_middle() -> None:
    """10 ml a layer of 2 mm: 5, 15, 25 ml."""
    seen: list[float] = []

    def shares(clay_ml: np.ndarray) -> dict[str, np.ndarray]:
        seen.extend(clay_ml.tolist())
        return {"white": np.ones_like(clay_ml)}

    found = reach(Plan(make_survey(layers=3, ml_per_layer=10), Config()), shares)
    assert seen == [5, 15, 25]
    assert found.height_mm.tolist() == [2, 4, 6]


def test_spans_that_overlap_are_joined() -> None:
    """In any order; those apart stay apart."""
    assert joined([(8, 9), (1, 3), (2, 5), (5, 6)]) == [(1, 6), (8, 9)]


@pytest.mark.parametrize("step_mm", [1, 2, 5, 10, 20, 50, 100, 200, 500])
def test_rows_stand_a_round_number_of_millimetres_apart(step_mm: int) -> None:
    """The least of 1, 2, 5, 10 ... that gives no more rows than may be; here one layer a millimetre."""
    high_mm = MOST_ROWS * step_mm
    found = risen([0.0] * (high_mm + 1), 1).across(0.0, high_mm)
    heights = [index + 1 for index in found]
    assert heights[1:] == [step_mm * row for row in range(1, MOST_ROWS + 1)][-len(heights) + 1 :]
