"""What to wedge, added up by hand."""

from __future__ import annotations

import math
from typing import Any

import pytest

from gpost.config.model import Config
from gpost.plan.intentions import Ground, Pause
from gpost.plan.plan import Plan
from gpost.supply.cartridges import cartridges
from gpost.supply.claylist import ClayNeed, added, clay_needs, clay_row
from gpost.supply.display import Messages
from gpost.supply.loading import loading_sheet
from gpost.testing import layer_start, make_survey

POT = make_survey(layers=50, ml_per_layer=10)


def planned(*wishes: Any, **config: Any) -> Plan:
    """The pot of 500 ml; a hose of 60 ml, 50 of reserve, density 2, a quarter of it water; white comes first."""
    base = {
        "machine": {"pause": {"relieve_ml": 0}},
        "clay": {"wet_density_g_ml": 2.0, "water_percent": 25, "colour": "white", **config.pop("clay", {})},
        "cartridge": {"line_ml": 60, "reserve_ml": 50, **config.pop("cartridge", {})},
        **config,
    }
    return Plan(POT, Config.model_validate(base)).adding("test", wishes)


def blue(layer: int, prime_ml: float = 20.0) -> Pause:
    return Pause(
        layer_start(POT, layer), "swap", "", "", prime_ml=prime_ml, new_cartridge=True, colour="blue"
    )


def test_one_clay() -> None:
    """500 in the piece, and 60 in the hose with 50 of reserve: 610 ml, 1220 g."""
    [need] = clay_needs(planned())
    assert need == ClayNeed("white", 500, 0, 110, 0)
    row = clay_row(planned().config, need)
    assert (row.clay_ml, row.wet_g, row.batch) == (610, 1220, None)


def test_two_clays_and_a_slab() -> None:
    """Blue is loaded after 200 ml, and 20 ml of white are primed out: white shows till 260 ml have passed.

    White: 60 + 200 + 50 loaded, 240 of it in the piece, 20 beside. Blue: 320 + 50 loaded, 260 in the piece.
    """
    slab = Ground((0, 100), (0, 100), 3.0, "the slab", clay_ml=30.0, colour="blue")
    found = clay_needs(planned(blue(21), slab))
    assert found == [
        ClayNeed("white", pytest.approx(240), pytest.approx(20), pytest.approx(50), 0),
        ClayNeed("blue", pytest.approx(260), pytest.approx(0), pytest.approx(110), 30),
    ]


SLUGS = {
    "colours": {"bands": [{"to_mm": 62, "clay": "white"}, {"clay": "blue"}]},
    "clays": [{"name": "blue", "wet_density_g_ml": 2.2}],
    "cartridge": {"volume_ml": 1000},
}
"""Blue from layer 31 on, after 300 ml: 60 ml of white are in the hose, so 240 ml are a slug, and 260 of blue."""


def test_what_stays_behind_a_slug_is_of_the_last_one() -> None:
    """The reserve lies behind the last slug: 310 ml of blue are loaded, and 300 of white with the hose."""
    white, blue_one = clay_needs(planned(**SLUGS))
    assert (white.name, white.clay_ml) == ("white", pytest.approx(300))
    assert (blue_one.name, blue_one.clay_ml) == ("blue", pytest.approx(310))
    assert blue_one.piece_ml == pytest.approx(200)


@pytest.mark.parametrize("spread_ml", [0.0, 10.0])
def test_what_is_wedged_is_what_is_loaded(spread_ml: float) -> None:
    """Clay by clay it is the sum of hose and slugs, margins counted; the sheet's way to it is another."""
    plan = planned(**{**SLUGS, "cartridge": {"volume_ml": 1000, "reserve_spread_ml": spread_ml}})
    loaded_ml = loading_sheet(plan).loaded_ml()
    assert {need.name: need.clay_ml for need in clay_needs(plan)} == pytest.approx(loaded_ml)
    assert loaded_ml["blue"] == pytest.approx(310 + math.ceil(1.6449 * spread_ml))


def test_a_display_gives_the_grams_of_the_sheet() -> None:
    """260 ml at 2.2 g/ml with 50 of them behind, 240 at 2: all of the second cartridge, slug by slug."""
    bands = [{"to_mm": 62, "clay": "white"}, {"clay": "blue"}]
    plan = planned(
        Pause(layer_start(POT, 11), "refill", "", "", new_cartridge=True),
        **{**SLUGS, "colours": {"bands": bands, "line_holds": "white"}},
    )
    pause = next(item.intention for item in plan.insertions if isinstance(item.intention, Pause))
    number = cartridges(plan)[1].number
    sheet_g = sum(slug.wet_g for slug in loading_sheet(plan).slugs if slug.cartridge == number)
    by_hand_g = (300 - 60 - 100) * 2.0 + (260 + 50) * 2.2
    assert sheet_g == pytest.approx(by_hand_g)
    assert Messages(plan).to_load(pause).endswith("450ml 962g")


def test_waste_and_stain() -> None:
    """10 % of what is wedged gets lost; 2 % of the dry mass is stain, and its water a third of that."""
    clays = [{"name": "white", "stains": [{"name": "cobalt oxide", "percent": 2.0}]}]
    plan = planned(clay={"waste_percent": 10}, clays=clays)
    row = clay_row(plan.config, clay_needs(plan)[0])
    assert row.clay_ml == pytest.approx(610 / 0.9)
    assert row.wet_g == pytest.approx(1220 / 0.9)
    assert row.batch is not None
    assert row.batch.grams["cobalt oxide"] == pytest.approx(1220 / 0.9 * 0.75 * 0.02)
    assert row.batch.water_g == pytest.approx(row.batch.grams["cobalt oxide"] / 3)


def test_margins_are_wedged_too() -> None:
    """What is loaded to be sure has to be there: 1.6449 standard deviations of 10 ml more, in whole ml."""
    [need] = clay_needs(planned(cartridge={"reserve_spread_ml": 10.0}))
    assert need.clay_ml == pytest.approx(610 + math.ceil(16.449))


def test_several_jobs_add_up_in_the_order_in_which_they_come() -> None:
    """Name by name."""
    one, two = [ClayNeed("white", 1, 2, 3, 4)], [ClayNeed("blue", 5), ClayNeed("white", 10, 20, 30, 40)]
    assert added([*one, *two]) == [ClayNeed("white", 11, 22, 33, 44), ClayNeed("blue", 5)]
