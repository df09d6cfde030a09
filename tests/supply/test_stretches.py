"""Places of refills in one stretch of print."""

from __future__ import annotations

import pytest

from gpost.api import Config, LayClay, Plan, PlanError, Spot, Stroke
from gpost.supply.stretches import Stretch, even_places, full_places
from gpost.testing import layer_start, make_survey

POT = make_survey(layers=50, ml_per_layer=10, lines_per_layer=10)
PLAN = Plan(POT, Config.model_validate({"cartridge": {"volume_ml": 150, "reserve_ml": 0}}))
"""Cartridges of 150 ml; a refill in the stretches below primes 10 of them."""


def stretch(first_layer: int, end_ml: float, usable_ml: float = 150) -> Stretch:
    """From a layer's start to so many ml."""
    spot = layer_start(POT, first_layer)
    return Stretch(spot, POT.clay_before(spot), POT.find_clay(end_ml), end_ml, usable_ml, 140, 10)


@pytest.mark.parametrize(
    ("part", "full", "even"),
    [
        (stretch(11, 250), [], []),
        (stretch(11, 251), [26], [19]),  # 151 + 10: 80.5 each, so the first to 180.5
        (stretch(11, 390), [26], [26]),  # no choice
        (stretch(11, 400), [26, 40], [22, 31]),  # 300 + 20: 106.7 each, so to 206.7 and 303.3
        (stretch(1, 300, 20), [3, 17], [3, 17]),  # 20, and 140 twice: no choice
        (stretch(1, 200, 20), [3, 17], [3, 12]),  # 20, then 90 twice
    ],
)
def test_places_by_hand(part: Stretch, full: list[int], even: list[int]) -> None:
    """Full goes as far as it can; even takes the layers' starts nearest to equal use."""
    places = full_places(PLAN, part, within_layer=False)
    assert places == [layer_start(POT, layer) for layer in full]
    assert even_places(PLAN, part, places) == [layer_start(POT, layer) for layer in even]


def test_inside_a_layer_there_is_no_evening_out() -> None:
    """Layers of 400 ml: the pauses lie where the clay runs out, for either share."""
    survey = make_survey(layer_ml=[400], lines_per_layer=10)
    plan = Plan(survey, PLAN.config)
    part = Stretch(Spot(0), 0, Spot(survey.lines), 400, 150, 140, 10)
    places = full_places(plan, part, within_layer=True)
    assert [survey.clay_before(spot) for spot in places] == pytest.approx([150, 290])
    assert even_places(plan, part, places) == places
    with pytest.raises(PlanError, match="within_layer"):
        full_places(plan, part, within_layer=False)


def test_what_is_laid_beside_the_piece_at_one_spot_is_not_parted() -> None:
    """100 ml at 140 ml: the cartridge of 150 runs out in them, and no pause can be there."""
    survey = make_survey(layer_ml=[400], lines_per_layer=40, lead_in_lines=0)
    lay = LayClay(survey.find_clay(140), (Stroke(((0, 0), (9, 0)), 10, 4, 4, 100.0),), 600)
    plan = Plan(survey, PLAN.config).adding("purge", [lay])
    part = Stretch(Spot(0), 0, Spot(survey.lines), 500, 150, 140, 10)
    with pytest.raises(PlanError, match="the first cartridge runs out"):
        full_places(plan, part, within_layer=True)
    before = LayClay(survey.find_clay(40), lay.strokes, 600)
    plan = Plan(survey, PLAN.config).adding("purge", [before])
    assert [survey.clay_before(spot) for spot in full_places(plan, part, within_layer=True)][:1] == pytest.approx([50])


@pytest.mark.parametrize(("refills", "fits"), [(199, True), (200, True), (201, False)])
def test_so_many_refills_that_nobody_means_them(refills: int, fits: bool) -> None:
    """More than two hundred are a slip in the unit of E or the cartridge's volume."""
    survey = make_survey(layers=300, ml_per_layer=10, lines_per_layer=2)
    end_ml = 10.0 * (refills + 1)
    part = Stretch(layer_start(survey, 1), 0, survey.find_clay(end_ml), end_ml, 10, 10, 0)
    plan = Plan(survey, PLAN.config)
    if fits:
        assert len(full_places(plan, part, within_layer=False)) == refills
    else:
        with pytest.raises(PlanError, match="more than 200 refills"):
            full_places(plan, part, within_layer=False)


def test_two_refills_never_share_a_layer_s_start() -> None:
    """With 12 ml in each and 10 ml a layer, every layer needs its own."""
    survey = make_survey(layers=8, ml_per_layer=10, lines_per_layer=10)
    plan = Plan(survey, Config.model_validate({"cartridge": {"volume_ml": 12, "reserve_ml": 0}}))
    part = Stretch(layer_start(survey, 1), 0, survey.find_clay(60), 60, 12, 12, 0)
    full = full_places(plan, part, within_layer=False)
    found = even_places(plan, part, full)
    assert len(set(found)) == len(found) == len(full)
    assert found == sorted(found)
