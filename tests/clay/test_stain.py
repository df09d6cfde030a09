"""Coloured clay: grams by the dry mass, losses, ladders."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.clay.stain import Recipe, batch, blend, cautions, ends, ladder, of_dry_percent, oxide_percent
from gpost.clay.water import dry_mass_g

RECIPES = st.dictionaries(st.sampled_from(["cobalt", "iron", "yellow"]), st.floats(0, 12), max_size=3)
WATER = st.floats(0, 60)


@pytest.mark.parametrize(
    ("wet", "water", "percent", "grams"), [(1000, 25, 5, 37.5), (2000, 22, 8, 124.8), (1000, 25, 1.5, 11.25)]
)
def test_grams_go_by_the_dry_mass(wet: float, water: float, percent: float, grams: float) -> None:
    """Computed from m (1 - w) p / 100: 5 % for 1 kg at 25 % water are 37.5 g, not 50."""
    assert batch(wet, water, {"blue": percent}).grams == {"blue": pytest.approx(grams, rel=1e-12)}


@pytest.mark.parametrize(("moist", "water", "dry"), [(5, 22, 6.4102564), (10, 25, 13.3333333)])
def test_percent_of_moist_clay_is_more_of_the_dry(moist: float, water: float, dry: float) -> None:
    """Computed from p / (1 - w): some makers count that way (common practice)."""
    assert of_dry_percent(moist, water) == pytest.approx(dry, abs=5e-8)


def test_a_batch_by_hand() -> None:
    """950 g with 5 % lost are 1000 g to weigh: 750 dry, 15 g of blue, and 5 g of water for that powder."""
    made = batch(950, 25, {"blue": 2}, loss_percent=5)
    assert (made.wet_g, made.dry_g) == (pytest.approx(1000), pytest.approx(750))
    assert made.grams["blue"] == pytest.approx(15)
    assert made.water_g == pytest.approx(5)
    assert made.total_g == pytest.approx(1020)


@given(st.floats(1, 1e5), WATER, RECIPES, st.floats(0, 50))
def test_the_batch_is_as_wet_as_the_clay_and_of_the_asked_percent(
    wet: float, water: float, recipe: Recipe, loss: float
) -> None:
    """Dry matter against water stays what it is in the clay; after the loss the asked mass is left."""
    made = batch(wet, water, recipe, loss)
    dry_g = made.dry_g + sum(made.grams.values())
    assert dry_g == pytest.approx(dry_mass_g(made.total_g, water), rel=1e-9)
    assert made.wet_g * (1 - loss / 100) == pytest.approx(wet, rel=1e-9)
    for name, grams in made.grams.items():
        assert 100 * grams / made.dry_g == pytest.approx(recipe[name], abs=1e-9)


def test_a_ladder_by_hand() -> None:
    """Five steps from 1 % of red to 4 % of blue: evenly, the ends pure."""
    rungs = ladder(5, 100, 25, {"red": 1}, {"blue": 4})
    assert [rung.share for rung in rungs] == [0, 0.25, 0.5, 0.75, 1]
    assert [rung.batch.percent["blue"] for rung in rungs] == pytest.approx([0, 1, 2, 3, 4])
    assert [rung.batch.percent["red"] for rung in rungs] == pytest.approx([1, 0.75, 0.5, 0.25, 0])
    assert [(rung.first_g, rung.second_g) for rung in rungs][1] == (
        pytest.approx(75 * 1.01),
        pytest.approx(25 * 1.04),
    )
    first, second = ends(rungs, 25)
    assert (first.wet_g, second.wet_g) == (pytest.approx(250), pytest.approx(250))
    assert second.grams["blue"] == pytest.approx(250 * 0.75 * 0.04)


def test_a_ready_clay_weighs_more_than_its_plain_clay() -> None:
    """By hand: halfway to 10 %, 1000 g of plain clay stand against 1100 g of the coloured, not 1000 g.

    Equal masses would give 4.76 % of the dry mass, not the 5 % that colouring directly gives.
    """
    rung = ladder(3, 2000, 25, {}, {"blue": 10})[1]
    assert (rung.first_g, rung.second_g) == (pytest.approx(1000), pytest.approx(1100))
    plain_g = rung.first_g * 0.75 + rung.second_g * 0.75 / 1.1
    blue_g = rung.second_g * 0.75 * 0.1 / 1.1
    assert 100 * blue_g / plain_g == pytest.approx(5)
    assert blue_g == pytest.approx(rung.batch.grams["blue"])


@given(st.integers(2, 9), st.floats(10, 5000), WATER, RECIPES, RECIPES, st.floats(0, 30))
def test_blending_the_ends_gives_what_colouring_directly_gives(
    steps: int, wet: float, water: float, first: Recipe, second: Recipe, loss: float
) -> None:
    """Weighing out of the two mixed batches brings each rung the plain clay, powders and water of its own.

    So nothing is lost between the two ways, and the ends' batches are used up by the rungs.
    """
    rungs = ladder(steps, wet, water, first, second, loss)
    one, other = ends(rungs, water)
    for rung in rungs:
        taken = [(rung.first_g, one), (rung.second_g, other)]
        parts = [(grams / end.total_g, end) for grams, end in taken if end.total_g]
        assert rung.first_g + rung.second_g == pytest.approx(rung.batch.total_g, rel=1e-9)
        dry_g = sum(part * end.dry_g for part, end in parts)
        assert dry_g == pytest.approx(rung.batch.dry_g, rel=1e-9)
        water_g = sum(part * end.water_g for part, end in parts)
        assert water_g == pytest.approx(rung.batch.water_g, abs=1e-6)
        for name, percent in rung.batch.percent.items():
            blended_g = sum(part * end.grams.get(name, 0.0) for part, end in parts)
            assert blended_g == pytest.approx(rung.batch.grams[name], abs=1e-6)
            assert 100 * blended_g / dry_g == pytest.approx(percent, abs=1e-6)
    assert sum(rung.first_g for rung in rungs) == pytest.approx(one.total_g, rel=1e-9)
    assert sum(rung.second_g for rung in rungs) == pytest.approx(other.total_g, rel=1e-9)


@given(RECIPES, RECIPES)
def test_the_ends_of_a_blend_are_its_clays(first: Recipe, second: Recipe) -> None:
    """Nothing of the second at the start, nothing of the first at the end."""
    for name, percent in blend(first, second, 0).items():
        assert percent == pytest.approx(first.get(name, 0))
    for name, percent in blend(first, second, 1).items():
        assert percent == pytest.approx(second.get(name, 0))


@pytest.mark.parametrize(
    ("wet", "water", "percent", "loss", "text"),
    [
        (0, 25, 1, 0, "wet mass"),
        (math.nan, 25, 1, 0, "wet mass"),
        (100, 100, 1, 0, "water"),
        (100, 25, -1, 0, "blue must be"),
        (100, 25, math.nan, 0, "blue must be"),
        (100, 25, 1, 100, "loss"),
        (100, 25, 1, -0.5, "loss"),
        (100, 25, -0.5, 5, "blue"),
        (100, 25, 100.5, 5, "blue"),
    ],
)
def test_what_cannot_be_weighed_is_refused(
    wet: float, water: float, percent: float, loss: float, text: str
) -> None:
    """With a sentence that says which number is wrong."""
    with pytest.raises(ValueError, match=text):
        batch(wet, water, {"blue": percent}, loss)


def test_a_ladder_has_two_ends() -> None:
    """One step is no ladder."""
    with pytest.raises(ValueError, match="2 steps"):
        ladder(1, 100, 25, {}, {"blue": 1})


def test_poisonous_colourants_are_named() -> None:
    """Cobalt is, red clay is not; the mask and the basis are spoken of always."""
    told = cautions([{"Cobalt oxide": 1, "red clay": 8}])
    assert "Cobalt oxide" in told[0]
    assert "red clay" not in told[0]
    assert "The name red clay doesn't say what is in it as dust: see its data sheet." in told
    assert any("mask" in text for text in told)
    assert any("dry mass" in text for text in told)
    assert not any("poisonous" in text for text in cautions([{"red clay": 8}]))


def test_unusual_amounts_are_asked_about() -> None:
    """More than 10 % is rarely meant (common practice, no source)."""
    assert any("12 % of blue is a lot" in text for text in cautions([{"blue": 1}, {"blue": 12}]))
    assert not any("is a lot" in text for text in cautions([{"blue": 10}]))


def test_cobalt_oxide_for_the_carbonate() -> None:
    """Derived from atomic masses: 80.265 / 118.941 = 0.67483 g of Co3O4 for 1 g of CoCO3."""
    assert oxide_percent(1) == pytest.approx(0.67483, abs=5e-6)
    for name in ("CoCO3", "cobalt carbonate", "Cobalt carbonate, light"):
        assert any("0.675 % of cobalt oxide" in text for text in cautions([{name: 1}]))
    for name in ("cobalt oxide", "copper carbonate", "CaCO3"):
        assert not any("Co3O4" in text for text in cautions([{name: 1}]))
