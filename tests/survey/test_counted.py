"""For which heights a layer counts: known from how a wall was made, whatever its turns do beside that."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np
import pytest

from gpost.survey.model import Survey
from gpost.testing import make_survey, with_layers

RISE_MM, TURNS, SIDES = 2.0, 20, 72
Beside = Callable[[float, float], float]
"""How far the wall lies above its own height, mm, by turn and angle."""


def wall(beside: Beside, *, seam: float = 0.0, last_mm: float = RISE_MM) -> Iterator[tuple[float, ...]]:
    """A tube that climbs 2 mm a turn from z 2 on, and `last_mm` in its last one; `seam`: where turns begin."""
    for step in range(TURNS * SIDES + 1):
        turn, angle = step / SIDES, 2 * math.pi * step / SIDES + seam
        z_mm = 2 + RISE_MM * min(turn, TURNS - 1) + last_mm * max(turn - TURNS + 1, 0)
        place = 140 + 40 * math.cos(angle), 140 + 40 * math.sin(angle), z_mm + beside(turn, angle)
        yield (*place, float(step > 0))


def tilted(turn: float, angle: float) -> float:
    """By up to 10 mm to either side, from the tenth turn on."""
    return min(turn, 10.0) * math.cos(angle)


def waved(turn: float, angle: float) -> float:
    """Four waves of up to 6 mm up and down, which a turn more doesn't move."""
    return min(turn, 6.0) * math.cos(4 * angle)


@pytest.mark.parametrize("seam", [0.0, math.pi / 2, math.pi, 5.0])
@pytest.mark.parametrize(("beside", "steady"), [(tilted, 11), (waved, 7)])
def test_a_wall_that_tilts_or_waves_counts_as_if_it_did_not(
    wall_of: Callable[..., Survey], beside: Beside, steady: int, seam: float
) -> None:
    """Wherever its turns begin: turn 15 lies round 2 + 14 * 2 mm and the half turn above that."""
    survey = wall_of(wall(beside, seam=seam))
    assert len(survey.layers) == TURNS
    level_mm = 2 + RISE_MM * np.arange(TURNS)
    # a turn may reach its highest a part of its rise after its lowest: half of that at most is in doubt
    assert survey.counted.from_mm[steady:] == pytest.approx(level_mm[steady:], abs=RISE_MM / 4)
    assert np.diff(survey.counted.from_mm) == pytest.approx(RISE_MM, abs=RISE_MM / 2)
    assert survey.counted.to_mm[-1] == pytest.approx(2 + RISE_MM * TURNS, abs=RISE_MM / 4)
    assert not survey.loose.any()
    for height_mm in (31.0, 36.0, 41.0):
        spot = survey.spot_at(height_mm)
        assert spot is not None
        turn = (spot.line + spot.fraction - survey.start_of(0).line) / SIDES
        assert 2 + RISE_MM * turn == pytest.approx(height_mm, abs=RISE_MM / 4)


@pytest.mark.parametrize("last_mm", [1.0, 2.0, 3.0, 12.0])
def test_a_wall_that_climbs_counts_from_each_turn_s_start(
    wall_of: Callable[..., Survey], last_mm: float
) -> None:
    """Its lowest place to its highest, in a last turn of another rise, too."""
    survey = wall_of(wall(lambda *_: 0.0, last_mm=last_mm))
    assert survey.counted.from_mm == pytest.approx(2 + RISE_MM * np.arange(TURNS), abs=1e-3)
    assert survey.counted.to_mm == pytest.approx(survey.layers["height_mm"])
    assert not survey.counted.beside_mm.any()


def test_walls_inside_one_another_have_one_rise() -> None:
    """Two turns from 2 to 4 mm, then two from 4 to 6 mm: none of them goes up and down."""
    both = make_survey(layers=6, layer_mm=2, rising=True)
    low_mm = np.array([2.0, 2, 4, 4, 6, 6])
    both = with_layers(both, low_mm=low_mm, height_mm=low_mm + 2, start_z_mm=low_mm)
    assert both.counted.from_mm.tolist() == low_mm.tolist()
    assert both.counted.to_mm.tolist() == (low_mm + 2).tolist()


def test_levels_and_gaps_and_one_layer() -> None:
    """Level layers count for their own height; a gap below the next is none of a layer; one turn alone climbs."""
    level = make_survey(layer_ml=[10] * 4, layer_mm=[2, 2, 7, 2])
    for heights_mm in (level.counted.from_mm, level.counted.to_mm):
        assert heights_mm.tolist() == [2, 4, 11, 13]
    alone = make_survey(layers=1, layer_mm=8, rising=True)
    assert (alone.counted.from_mm[0], alone.counted.to_mm[0]) == (0, 8)
    odd = make_survey(layers=3, layer_mm=2, rising=True)
    odd = with_layers(odd, height_mm=np.array([9.0, 9, 9]), odd=np.ones(3, np.bool_))
    assert odd.counted.from_mm.tolist() == [0, 2, 4]
    none = make_survey(layers=0)
    assert len(none.counted.from_mm) == 0
    assert none.first_above(3.0) == 0
