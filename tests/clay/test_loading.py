"""What to load so that colours show where they are wished.

The pot lays 10 ml a layer of 2 mm, so clay and height follow from each other: 5 ml a mm.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from gpost_plugins.purge import Purge, PurgeSettings
from gpost_plugins.refill import Refill, RefillSettings
from gpost_plugins.swap import Swap, SwapSettings
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from gpost.api import Config, Pause, Plan, PlanError, Spot, Step
from gpost.clay.bands import Bands
from gpost.clay.loading import Sheet, bore, loading_sheet
from gpost.clay.mixing import BEGINS, FULL, Line
from gpost.clay.supply import shares
from gpost.testing import layer_start, make_survey

POT = make_survey(layers=80, ml_per_layer=10, layer_mm=2, lines_per_layer=10)
THREE = ({"to_mm": 60, "clay": "white"}, {"to_mm": 100, "clay": "blue"}, {"clay": "red"})


def planned(*steps: Step[Any], cartridge: Any = None, survey: Any = POT) -> Plan:
    """The steps on the pot; density 2, line 60 ml, reserve 50."""
    base = {"line_ml": 60, "reserve_ml": 50, **(cartridge or {})}
    plan = Plan(survey, Config.model_validate({"clay": {"wet_density_g_ml": 2.0}, "cartridge": base}))
    for step in steps:
        plan = plan.adding(step.name, step.plan(survey, plan))
    return plan


def sheet(plan: Plan, *entries: dict[str, Any], **more: Any) -> Sheet:
    """The loading sheet for those bands."""
    return loading_sheet(plan, Bands.model_validate({"bands": list(entries or THREE), **more}))


def listed(found: Sheet, cartridge: int) -> list[tuple[str, float]]:
    """(clay, ml) of one cartridge's slugs as they go in; the reserve's with a star."""
    return [
        ("+".join(slug.mix) + "*" * slug.reserve, pytest.approx(slug.clay_ml)) for slug in found.of(cartridge)
    ]


def test_a_plug_by_hand() -> None:
    """Blue is laid from layer 31 on (62 mm, 300 ml), so 240 ml after the start it leaves the cartridge.

    60 ml of white are in the line; red from layer 50 (100 mm) on leaves at 490 - 60 ml.
    """
    found = sheet(planned(), {"to_mm": 61, "clay": "white"}, {"to_mm": 100, "clay": "blue"}, {"clay": "red"})
    assert listed(found, 0) == [("white", 60)]
    assert listed(found, 1) == [("white", 240), ("blue", 190), ("red", 370), ("red*", 50)]
    assert [slug.wet_g for slug in found.of(1)] == pytest.approx([480, 380, 740, 100])
    assert [edge.half_mm for edge in found.edges] == pytest.approx([62, 100])
    assert found.warnings == ()


def test_loaded_from_the_outlet_what_comes_out_first_goes_in_last() -> None:
    """The reserve goes in first then; the line is filled as before."""
    there, back = sheet(planned()), sheet(planned(), loaded_from="outlet")
    assert listed(back, 1) == listed(there, 1)[::-1]
    assert listed(back, 0) == listed(there, 0)


def test_purge_and_primes_and_refills_count() -> None:
    """A purge before layer 1 is white; the second cartridge's prime is of the colour that is due there."""
    plan = planned(
        Purge(PurgeSettings(volume_ml=30)), Refill(RefillSettings(prime_ml=20)), cartridge={"volume_ml": 550}
    )
    found = sheet(plan)
    assert plan.total_ml == pytest.approx(850)
    # blue shows from layer 30 on, 290 + 30 ml, and leaves 60 earlier; red from layer 50, 490 + 30 + 20
    assert listed(found, 1) == [("white", 260), ("blue", 220), ("red", 20), ("red*", 50)]
    assert listed(found, 2) == [("red", 350), ("red*", 50)]
    assert sum(slug.clay_ml for slug in found.slugs) == pytest.approx(850 + 60 + 2 * 50)


def test_bands_below_the_line_s_clay_are_loaded_into_the_line() -> None:
    """Blue from 8 mm, 30 ml: the line of 60 ml is filled with 30 of white, then 30 of blue."""
    found = sheet(planned(), {"to_mm": 8, "clay": "white"}, {"clay": "blue"})
    assert listed(found, 0) == [("white", 30), ("blue", 30)]
    assert listed(found, 1) == [("blue", 800), ("blue*", 50)]


@pytest.mark.parametrize(("bore_mm", "length"), [(None, None), (60.0, 84.88263631567752)])
def test_lengths_of_cartridge(bore_mm: float | None, length: float | None) -> None:
    """240 ml in a bore of 60 mm are 84.9 mm: 0.3536777 mm a ml, computed."""
    found = sheet(planned(cartridge={"bore_mm": bore_mm}), {"to_mm": 61, "clay": "white"}, {"clay": "blue"})
    assert found.of(1)[0].length_mm == (None if length is None else pytest.approx(length))
    assert found.of(0)[0].length_mm is None


def test_a_plunger_s_bore_is_the_cartridge_s() -> None:
    """E metered by a plunger tells the bore, unless the cartridge has one of its own."""
    clay = {"metering": {"unit": "plunger", "bore_mm": 50}}
    assert bore(Config.model_validate({"clay": clay})) == 50
    assert bore(Config.model_validate({"clay": clay, "cartridge": {"bore_mm": 60}})) == 60
    assert bore(Config()) is None


def test_it_is_what_a_swap_would_do() -> None:
    """Loaded by the sheet, the colours at the nozzle are those of a pause at the exact place."""
    line = {"mixing_stages": 7, "plug_part": 0.3}
    found = sheet(planned(cartridge=line), {"to_mm": 60, "clay": "first clay"}, {"clay": "blue"})
    swap = Swap(SwapSettings(at_height_mm=60, colour="blue", where="exact", prime_ml=0))
    at_ml = np.linspace(0, 800, 200)
    other = shares(planned(swap, cartridge=line), at_ml)
    for clay, share in found.shares(at_ml).items():
        assert share == pytest.approx(other[clay], abs=1e-6)


# ---- mixing ----

MIXED = {"mixing_stages": 10.0}


def test_half_or_start_is_at_the_wished_height() -> None:
    """`show` says which; the other heights follow from the line."""
    half, begins = sheet(planned(cartridge=MIXED)), sheet(planned(cartridge=MIXED), show="start")
    line = Line(60, 10)
    assert half.edges[0].outlet_ml == pytest.approx(290 - line.pushed_ml(0.5))
    assert begins.edges[0].outlet_ml == pytest.approx(290 - line.pushed_ml(BEGINS))
    assert half.edges[0].start_mm < half.edges[0].half_mm < half.edges[0].full_mm


def test_an_edge_that_mixing_makes_impossible_is_told_with_the_sharpest() -> None:
    """The line mixes over 61 ml, 12 mm of the pot: 3 mm can't be, 20 can."""
    for edge_mm, count in ((3, 1), (20, 0)):
        found = sheet(
            planned(cartridge=MIXED), {"to_mm": 60, "clay": "white"}, {"clay": "blue", "edge_mm": edge_mm}
        )
        assert len(found.warnings) == count
    (text,) = sheet(
        planned(cartridge=MIXED), {"to_mm": 60, "clay": "white"}, {"clay": "blue", "edge_mm": 3}
    ).warnings
    width = Line(60, 10).width_ml
    assert "the edge at 60.0 mm can't be as sharp as 3 mm" in text
    assert f"mixes over {width:.1f} ml" in text


def test_a_plug_makes_any_edge() -> None:
    """Without stages even a hair's breadth is no trouble."""
    assert sheet(planned(), {"to_mm": 60, "clay": "white"}, {"clay": "blue", "edge_mm": 0.1}).warnings == ()


@pytest.mark.parametrize(("to_mm", "told"), [(64, True), (120, False)])
def test_a_band_thinner_than_the_mixing_never_is_pure(to_mm: float, told: bool) -> None:
    """4 mm of blue are 20 ml in a line that mixes over 61; 60 mm are enough."""
    found = sheet(
        planned(cartridge=MIXED),
        {"to_mm": 60, "clay": "white"},
        {"to_mm": to_mm, "clay": "blue"},
        {"clay": "white"},
    )
    assert (
        any("the band of blue from 60.0 mm on is never purer than" in text for text in found.warnings) is told
    )
    best = float(found.shares(np.linspace(0, 800, 4000))["blue"].max())
    assert (best < FULL) is told


# ---- what is in the line ----


def test_a_line_that_holds_another_clay_is_told() -> None:
    """White from the bottom is impossible while the line holds grey: the first 60 ml are grey."""
    found = sheet(planned(), line_holds="grey")
    assert listed(found, 0) == [("grey", 60)]
    assert listed(found, 1)[0] == ("white", 230)
    assert "white from 0.0 mm on is impossible: the line still holds grey" in found.warnings[0]
    assert found.edges[0].half_mm == pytest.approx(14)


def test_a_line_that_holds_the_first_clay_is_as_if_filled() -> None:
    """Unless a band begins within the line's clay: then that comes later than wished."""
    assert sheet(planned(), line_holds="white").slugs == sheet(planned()).slugs
    found = sheet(planned(), {"to_mm": 8, "clay": "white"}, {"clay": "blue"}, line_holds="white")
    assert "blue from 8.0 mm on is impossible" in found.warnings[0]
    assert found.edges[0].half_mm == pytest.approx(14)


# ---- refusals ----


def test_a_plan_that_changes_colours_is_refused() -> None:
    """The sheet does without pauses for colour."""
    with pytest.raises(PlanError, match="leave swap out"):
        sheet(planned(Swap(SwapSettings(at_layer=40, colour="blue"))))


def test_a_cartridge_that_is_too_small_is_refused() -> None:
    """800 ml from 450: a refill is missing."""
    with pytest.raises(PlanError, match=r"asked for 800\.0 ml, and 450\.0 ml .* add refill"):
        sheet(planned(cartridge={"volume_ml": 500}))


def test_a_piece_is_needed() -> None:
    """Several pieces have no one height, and an empty file none at all."""
    for survey in (make_survey(layers=9, pieces=2), make_survey(layers=0)):
        with pytest.raises(PlanError, match="one piece"):
            sheet(planned(survey=survey))


# ---- balance ----

BANDS = st.lists(
    st.tuples(st.floats(1, 40), st.sampled_from(["white", "blue", "red"]), st.booleans()),
    min_size=1,
    max_size=6,
)
LINES = st.fixed_dictionaries(
    {
        "line_ml": st.floats(0, 150),
        "mixing_stages": st.one_of(st.none(), st.floats(1, 60)),
        "plug_part": st.floats(0, 0.9),
        "volume_ml": st.sampled_from([300.0, 480.0, 1200.0]),
        "reserve_ml": st.floats(0, 60),
    }
)


def stacked(drawn: list[tuple[float, str, bool]]) -> list[dict[str, Any]]:
    """Bands on one another; every other one a blend into white."""
    found: list[dict[str, Any]] = []
    top_mm = 0.0
    for tall_mm, clay, blended in drawn:
        top_mm += tall_mm
        kind = {"blend": [clay, "white"], "steps": 3} if blended else {"clay": clay}
        found.append({"to_mm": top_mm, **kind})
    del found[-1]["to_mm"]
    return found


@given(BANDS, LINES, st.floats(0, 60), st.floats(0, 25))
def test_loaded_clay_is_laid_left_in_the_line_or_reserve(
    drawn: list[tuple[float, str, bool]], line: dict[str, Any], purge_ml: float, prime_ml: float
) -> None:
    """In all, and by colour: what is loaded and not laid is in the line, between nothing and all of it."""
    purge = Pause(layer_start(POT, 1), "wait", "", "", prime_ml=purge_ml)
    plan = planned(cartridge=line).adding("test", [purge])
    refill = Refill(RefillSettings(prime_ml=prime_ml))
    plan = plan.adding("refill", refill.plan(POT, plan))
    found = sheet(plan, *stacked(drawn))
    number = len(found.cartridges)
    loaded, laid = found.loaded_ml(), found.laid_ml()
    assert sum(loaded.values()) == pytest.approx(
        plan.total_ml + line["line_ml"] + number * line["reserve_ml"]
    )
    assert sum(laid.values()) == pytest.approx(plan.total_ml)
    at_ml = np.linspace(0, plan.total_ml, 50)
    assert sum(found.shares(at_ml).values()) == pytest.approx(np.ones(50))
    if all(edge.outlet_ml >= 0 for edge in found.edges):
        for clay, ml in found.loaded_ml(reserve=False).items():
            assert -1e-6 <= ml - laid[clay] <= line["line_ml"] + 1e-6


def test_laid_clay_is_the_integral_of_the_shares() -> None:
    """Against adaptive quadrature, for three bands through ten stages."""
    found = sheet(planned(cartridge=MIXED))
    for clay, ml in found.laid_ml().items():
        summed, _ = quad(lambda v, clay=clay: float(found.shares(v)[clay]), 0, 800, limit=400, epsabs=1e-6)
        assert ml == pytest.approx(summed, abs=1e-3)


def test_a_rising_wall_has_its_edges_within_a_turn() -> None:
    """5 ml late are half a turn: 1 mm above the seam's height."""
    survey = make_survey(layers=80, ml_per_layer=10, rising=True)
    found = sheet(planned(survey=survey), {"to_mm": 60, "clay": "white"}, {"clay": "blue"})
    assert found.edges[0].half_mm == pytest.approx(60)
    held = sheet(
        planned(survey=survey, cartridge={"line_ml": 65}),
        {"to_mm": 2, "clay": "white"},
        {"clay": "blue"},
        line_holds="white",
    )
    assert held.edges[0].half_mm == pytest.approx(13)
    assert math.isfinite(held.edges[0].full_mm)
    assert survey.find_clay(65) > Spot(0)
