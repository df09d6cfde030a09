"""What to load so that colours show where they are wished.

The pot lays 10 ml a layer of 2 mm, so clay and height follow from each other: 5 ml a mm.
"""

from __future__ import annotations

import dataclasses
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
from gpost.clay.mixing import BEGINS, FULL, Hose
from gpost.config.colours import Bands
from gpost.supply.cartridges import cartridges, shares
from gpost.supply.loading import LoadingSheet, loading_sheet
from gpost.supply.slugs import bore
from gpost.testing import layer_start, make_survey, with_layers

POT = make_survey(layers=80, ml_per_layer=10, layer_mm=2, lines_per_layer=10)
THREE = ({"to_mm": 60, "clay": "white"}, {"to_mm": 100, "clay": "blue"}, {"clay": "red"})


def planned(*steps: Step[Any], cartridge: Any = None, survey: Any = POT, relieve_ml: float = 0.0) -> Plan:
    """The steps on the pot; density 2, line 60 ml, reserve 50, and no pause draws anything back."""
    config = {
        "clay": {"wet_density_g_ml": 2.0},
        "cartridge": {"line_ml": 60, "reserve_ml": 50, **(cartridge or {})},
        "machine": {"pause": {"relieve_ml": relieve_ml}},
    }
    plan = Plan(survey, Config.model_validate(config))
    for step in steps:
        plan = plan.adding(step.name, step.plan(survey, plan))
    return plan


def sheet(plan: Plan, *entries: dict[str, Any], **more: Any) -> LoadingSheet:
    """The loading sheet for those bands."""
    bands = Bands.model_validate({"bands": list(entries or THREE), **more})
    config = plan.config.model_copy(update={"colours": bands})
    return loading_sheet(dataclasses.replace(plan, config=config))


def listed(found: LoadingSheet, cartridge: int) -> list[tuple[str, float]]:
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


def test_what_is_drawn_back_is_loaded_with_the_rest() -> None:
    """2 ml that a pause draws back come out of the next cartridge, before all else; 30 at the end out of its last.

    What goes into each is what the summary says must be in it at least.
    """
    survey = make_survey(layers=80, ml_per_layer=10, layer_mm=2, lines_per_layer=10, drawn_back_ml=30)
    refill = Refill(RefillSettings(prime_ml=20))
    plan = planned(refill, cartridge={"volume_ml": 550}, survey=survey, relieve_ml=2)
    found = sheet(plan)
    # blue shows from layer 30 on, 290 ml, red from layer 50, 490 ml; both leave 60 earlier
    assert listed(found, 1) == [("white", 230), ("blue", 200), ("red", 70), ("red*", 50)]
    assert listed(found, 2) == [("red", 2 + 20 + 300), ("red*", 50)]
    loads = [use.need_ml + 50 for use in cartridges(plan)]
    assert [sum(slug.clay_ml for slug in found.of(number)) for number in (1, 2)] == pytest.approx(loads)


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
    """`show` says which; ten equal tanks of 60 ml together pass 5 % at 32.55 ml and half at 58.01 ml.

    Computed from the chi-squared table: 20 degrees of freedom have 10.851 at 5 % and 19.337 at half (from
    memory), and n tanks in series are half of 2 n degrees in units of one tank's volume.
    """
    half, begins = sheet(planned(cartridge=MIXED)), sheet(planned(cartridge=MIXED), show="start")
    assert half.edges[0].outlet_ml == pytest.approx(290 - 60 / 10 * 19.337 / 2, abs=2e-3)
    assert begins.edges[0].outlet_ml == pytest.approx(290 - 60 / 10 * 10.851 / 2, abs=2e-3)
    assert half.edges[0].start_mm < half.edges[0].half_mm < half.edges[0].full_mm


def test_an_edge_that_mixing_makes_impossible_is_told_with_the_sharpest() -> None:
    """The hose mixes over 61 ml, 12 mm of the pot: 3 mm can't be, 20 can."""
    for edge_mm, count in ((3, 1), (20, 0)):
        found = sheet(
            planned(cartridge=MIXED), {"to_mm": 60, "clay": "white"}, {"clay": "blue", "edge_mm": edge_mm}
        )
        assert len(found.warnings) == count
    (text,) = sheet(
        planned(cartridge=MIXED), {"to_mm": 60, "clay": "white"}, {"clay": "blue", "edge_mm": 3}
    ).warnings
    width = Hose(60, 10).width_ml
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


BLUE_AFTER_BLEND = (
    {"to_mm": 60, "clay": "white"},
    {"to_mm": 120, "blend": ["white", "blue"], "steps": 3},
    {"to_mm": 130, "clay": "blue"},
    {"clay": "red"},
)


def test_purity_counts_what_the_blend_below_brings() -> None:
    """The share that is told is the most of blue that the whole line ever gives, by a fine grid."""
    survey = make_survey(layers=80, ml_per_layer=3, layer_mm=2, lines_per_layer=10)
    line = {"mixing_stages": 8, "plug_part": 0.3, "line_ml": 55}
    found = sheet(planned(cartridge=line, survey=survey), *BLUE_AFTER_BLEND)
    best = float(found.shares(np.linspace(0, 240, 80_001))["blue"].max())
    (text,) = [text for text in found.warnings if "never purer" in text]
    assert text.startswith(f"the band of blue from 120.0 mm on is never purer than {best * 100:.0f} %")
    assert 0.7 < best < 0.9


def test_a_band_that_goes_on_in_the_same_clay_is_one_band() -> None:
    """White to 60 and white to 64 mm is white to 64 mm: one slug, one edge, and nothing impure."""
    parted = sheet(
        planned(cartridge=MIXED),
        {"to_mm": 60, "clay": "white"},
        {"to_mm": 64, "clay": "white"},
        {"clay": "blue"},
    )
    whole = sheet(planned(cartridge=MIXED), {"to_mm": 64, "clay": "white"}, {"clay": "blue"})
    assert parted.warnings == whole.warnings == ()
    assert parted.slugs == whole.slugs
    assert [edge.half_mm for edge in parted.edges] == [edge.half_mm for edge in whole.edges]


def test_purity_is_looked_at_on_the_piece_alone() -> None:
    """Blue is pure while 200 ml run out in the pause, but the piece has 10 ml of it: two thirds at best."""
    wait = Pause(layer_start(POT, 31), "wait", "", "", prime_ml=200)
    plan = planned(cartridge={**MIXED, "volume_ml": 2000}).adding("test", [wait])
    found = sheet(plan, {"to_mm": 60, "clay": "white"}, {"to_mm": 62, "clay": "blue"}, {"clay": "white"})
    assert any("blue from 60.0 mm on is never purer" in text for text in found.warnings)


@pytest.mark.parametrize("show", ["half", "start"])
@given(st.lists(st.tuples(st.floats(1, 40), st.sampled_from("abc")), min_size=2, max_size=5))
def test_a_band_is_never_said_to_be_less_pure_than_its_layers_are(
    show: str, drawn: list[tuple[float, str]]
) -> None:
    """For bands in any order, against the shares of every layer that lies well within the band."""
    tops = np.cumsum([tall_mm for tall_mm, _ in drawn])
    entries = [{"to_mm": float(top_mm), "clay": clay} for top_mm, (_, clay) in zip(tops, drawn, strict=True)]
    found = sheet(planned(cartridge=MIXED), *entries, show=show)
    line, middles_ml = Hose(60, 10), np.arange(80) * 10 + 5.0
    shares_there = found.shares(middles_ml)
    for text in found.warnings:
        if "never purer" not in text:
            continue
        clay, told = text.split()[3], float(text.split(" %")[0].split()[-1])
        from_mm = float(text.split(" from ")[1].split()[0])
        outs = [edge.outlet_ml for edge in found.edges if abs(edge.wish.from_mm - from_mm) < 0.06] or [-1e9]
        after = [edge.outlet_ml for edge in found.edges if edge.outlet_ml > outs[0]] or [1e9]
        within = (middles_ml >= outs[0] + line.pushed_ml(BEGINS)) & (
            middles_ml <= after[0] + line.pushed_ml(FULL)
        )
        if within.any():
            assert shares_there[clay][within].max() * 100 <= told + 0.51


# ---- what is left out ----


def test_a_band_thinner_than_a_layer_is_told() -> None:
    """Level layers lie at 60 and 62 mm: none is at 60.5 to 61.5, and blue would go without a word."""
    found = sheet(
        planned(), {"to_mm": 60.5, "clay": "white"}, {"to_mm": 61.5, "clay": "blue"}, {"clay": "red"}
    )
    assert found.clays == ["white", "red"]
    assert found.warnings == (
        "the band of blue from 60.5 to 61.5 mm is left out: no layer begins there, for layers are 2 mm high. "
        "Make it at least as high as a layer, or leave it out of the bands",
    )


def test_steps_of_a_blend_thinner_than_a_layer_are_told_once() -> None:
    """Steps begin every mm from 60 to 69, layers lie at 60, 62, ... 70: four have none that begins in them."""
    found = sheet(
        planned(), {"to_mm": 60, "clay": "white"}, {"to_mm": 70, "blend": ["white", "blue"], "steps": 10}
    )
    assert found.warnings[1:] == (
        "of the blend from white to blue from 60.0 mm on 4 of 10 steps are left out: no layer begins there, "
        "for layers are 2 mm high. Give it fewer steps, or make it higher",
    )


@pytest.mark.parametrize(("to_mm", "told"), [(157.9, True), (158, False), (160, False), (300, False)])
def test_bands_that_end_below_the_top_are_told(to_mm: float, told: bool) -> None:
    """The piece is 160 mm high in layers of 2 mm: what is above the last band is of its clay, and it is said."""
    found = sheet(planned(), {"to_mm": 60, "clay": "white"}, {"to_mm": to_mm, "clay": "red"})
    assert found.clays == ["white", "red"]
    said = (
        "the bands end at 157.9 mm, and the piece is 160.0 mm high: what is above is red too. Say with one "
        "more band what it is to be, or leave the last to_mm out"
    )
    assert found.warnings == ((said,) if told else ())


def test_a_last_blend_that_ends_below_the_top_goes_on_with_its_last_step() -> None:
    """It is said which clay is above."""
    found = sheet(planned(), {"to_mm": 60, "clay": "white"}, {"to_mm": 120, "blend": ["white", "red"]})
    assert "what is above is the last step of the blend from white to red too" in found.warnings[0]


def test_bands_above_the_top_are_told() -> None:
    """The piece is 160 mm high; a band that ends above it is cut off, one that begins there is left out."""
    found = sheet(planned(), {"to_mm": 300, "clay": "white"}, {"clay": "red"})
    assert found.clays == ["white"]
    assert found.warnings == (
        "the band of red from 300.0 mm on is left out: the piece is 160.0 mm high. Let what lies below end "
        "lower (to_mm), or slice it higher",
    )


def test_where_all_bands_show_nothing_is_told() -> None:
    """A band of just one layer, and a last one that is asked for up to above the top."""
    assert (
        sheet(
            planned(),
            {"to_mm": 60, "clay": "white"},
            {"to_mm": 62, "clay": "blue"},
            {"to_mm": 900, "clay": "red"},
        ).warnings
        == ()
    )


@pytest.mark.parametrize(
    ("entries", "more", "pair"),
    [
        (({"to_mm": 60, "clay": "white"}, {"clay": "whit"}), {}, ("white", "whit")),
        (({"blend": ["blue", "bleu"]},), {}, ("blue", "bleu")),
        (({"clay": "white"},), {"line_holds": "White"}, ("White", "white")),
        (
            ({"to_mm": 60, "clay": "white"}, {"to_mm": 60.5, "clay": "whit"}, {"clay": "red"}),
            {},
            ("white", "whit"),
        ),
    ],
)
def test_names_that_are_nearly_alike_are_asked_about(
    entries: tuple[dict[str, Any], ...], more: dict[str, Any], pair: tuple[str, str]
) -> None:
    """One of them may be misspelt, and would be loaded as a clay of its own."""
    found = sheet(planned(), *entries, **more)
    assert f"{pair[0]} and {pair[1]} count as two clays" in found.warnings[0]


def test_the_config_s_own_clay_is_compared_if_it_has_a_name() -> None:
    """A line of white against white stoneware; without a name in the config there is nothing to compare."""
    plan = Plan(POT, Config.model_validate({"clay": {"colour": "white stoneware"}}))
    (text,) = sheet(plan, {"clay": "white"}, line_holds="white").warnings
    assert "white stoneware and white count as two clays" in text
    assert sheet(planned(), {"clay": "first"}).warnings == ()


# ---- what is in the line ----


def test_a_line_that_holds_another_clay_is_told() -> None:
    """White from the bottom is impossible while the hose holds grey: the first 60 ml are grey."""
    found = sheet(planned(), line_holds="grey")
    assert listed(found, 0) == [("grey", 60)]
    assert listed(found, 1)[0] == ("white", 230)
    assert "white from 0.0 mm on is impossible: the hose still holds grey" in found.warnings[0]
    assert found.edges[0].half_mm == pytest.approx(14)


def test_a_line_that_holds_the_first_clay_is_as_if_filled() -> None:
    """Unless a band begins within the hose's clay: then that comes later than wished."""
    assert sheet(planned(), line_holds="white").slugs == sheet(planned()).slugs
    found = sheet(planned(), {"to_mm": 8, "clay": "white"}, {"clay": "blue"}, line_holds="white")
    assert "blue from 8.0 mm on is impossible" in found.warnings[0]
    assert found.edges[0].half_mm == pytest.approx(14)


# ---- when cartridges are due ----


def test_each_cartridge_has_its_place_and_time() -> None:
    """550 ml less 50 of reserve do for 50 layers: the second is due at layer 51, the pause's own place."""
    plan = planned(Refill(RefillSettings(prime_ml=20)), cartridge={"volume_ml": 550})
    first, second = sheet(plan).due
    assert (first.cartridge, first.layer, first.height_mm, first.clock_s) == (1, 0, 0, 0)
    assert (second.cartridge, second.layer, second.height_mm) == (2, 51, 102)
    assert second.clock_s == pytest.approx(plan.clock_before(layer_start(POT, 51).line))
    assert second.clock_s > 0


def test_a_cartridge_due_within_a_layer_has_its_height_there() -> None:
    """On a rising wall, 505 ml are the middle of turn 51: 101 mm, and half its time."""
    survey = make_survey(layers=80, ml_per_layer=10, rising=True, lines_per_layer=10)
    pause = Pause(survey.find_clay(505), "refill", "", "", new_cartridge=True, within_layer=True)
    plan = planned(survey=survey).adding("test", [pause])
    due = sheet(plan).due[1]
    assert (due.layer, due.height_mm) == (51, pytest.approx(101))
    start_s, end_s = (plan.clock_before(layer_start(survey, layer).line) for layer in (51, 52))
    assert start_s < due.clock_s < end_s


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


@given(
    BANDS,
    LINES,
    st.floats(0, 60),
    st.floats(0, 25),
    st.sampled_from([0.0, 0.3]),
    st.sampled_from([0.0, 12.0]),
)
def test_loaded_clay_is_laid_left_in_the_line_drawn_back_or_reserve(
    drawn: list[tuple[float, str, bool]],
    line: dict[str, Any],
    purge_ml: float,
    prime_ml: float,
    relieve_ml: float,
    drawn_back_ml: float,
) -> None:
    """In all, and by colour: what is loaded and not laid is in the line, between nothing and all of it, or drawn back."""
    survey = make_survey(
        layers=80, ml_per_layer=10, layer_mm=2, lines_per_layer=10, drawn_back_ml=drawn_back_ml
    )
    purge = Pause(layer_start(survey, 1), "wait", "", "", prime_ml=purge_ml)
    plan = planned(cartridge=line, survey=survey, relieve_ml=relieve_ml).adding("test", [purge])
    refill = Refill(RefillSettings(prime_ml=prime_ml))
    plan = plan.adding("refill", refill.plan(survey, plan))
    found = sheet(plan, *stacked(drawn))
    number = len(found.cartridges)
    loaded, laid = found.loaded_ml(), found.laid_ml()
    back_ml = drawn_back_ml + (number - 1) * relieve_ml
    exact_ml = plan.total_ml + line["line_ml"] + number * line["reserve_ml"] + back_ml
    assert -1e-6 <= sum(loaded.values()) - exact_ml < number  # each in whole ml
    for cartridge in found.cartridges:
        load_ml = sum(slug.clay_ml for slug in found.of(cartridge))
        assert load_ml == pytest.approx(round(load_ml))
    assert sum(laid.values()) == pytest.approx(plan.total_ml)
    at_ml = np.linspace(0, plan.total_ml, 50)
    assert sum(found.shares(at_ml).values()) == pytest.approx(np.ones(50))
    if all(edge.outlet_ml >= 0 for edge in found.edges):
        for clay, ml in loaded.items():
            reserve_ml = sum(slug.mix.get(clay, 0.0) * slug.clay_ml for slug in found.slugs if slug.reserve)
            assert -1e-6 <= ml - reserve_ml - laid[clay] <= line["line_ml"] + back_ml + 1e-6


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


def test_where_each_edge_shows_is_said_with_how_sure() -> None:
    """Prints drawn: slugs weighed in one after the other, hose and E off by chance; 95 of 100 are within.

    The density's error is one for all slugs, so those before an edge add up; E's counts for all that is pushed.
    """
    spreads = {"line_spread_ml": 6.0}
    config = {
        "clay": {"metering": {"unit": "mm3", "spread_percent": 3}, "wet_density_spread_percent": 1.5},
        "cartridge": {"line_ml": 60, "reserve_ml": 50, **spreads},
    }
    survey = make_survey(layers=800, ml_per_layer=1, layer_mm=0.2, lines_per_layer=4)
    found = sheet(Plan(survey, Config.model_validate(config)))
    rng, prints = np.random.default_rng(11), 20_000
    metered, density = 1 + rng.normal(0, 0.03, prints), 1 + rng.normal(0, 0.015, prints)
    hose_ml = rng.normal(60, 6, prints)
    slugs_ml = np.cumsum([slug.clay_ml for slug in found.of(1)])
    for edge, behind_ml in zip(found.edges, slugs_ml, strict=False):
        shows_mm = (behind_ml / density + hose_ml) / metered * 0.2
        assert edge.low_mm is not None
        assert edge.high_mm is not None
        inside = (shows_mm >= edge.low_mm) & (shows_mm <= edge.high_mm)
        assert inside.mean() == pytest.approx(0.95, abs=0.01)


def test_an_edge_that_lies_in_the_hose_hangs_on_its_part_of_the_hose() -> None:
    """Blue from 40 ml on, behind 20 ml of white in a hose of 60: only 40 ml of it are pushed through."""
    config = {"cartridge": {"line_ml": 60, "line_spread_ml": 6.0, "reserve_ml": 50}}
    survey = make_survey(layers=800, ml_per_layer=1, layer_mm=0.2, lines_per_layer=4)
    plan = Plan(survey, Config.model_validate(config))
    [edge] = sheet(plan, {"to_mm": 8, "clay": "white"}, {"clay": "blue"}).edges
    assert edge.outlet_ml == pytest.approx(-20, abs=1.01)
    assert edge.low_mm == pytest.approx(8 - 1.96 * 4 * 0.2, abs=0.3)
    assert edge.high_mm == pytest.approx(8 + 1.96 * 4 * 0.2, abs=0.3)


def test_without_spreads_an_edge_is_at_one_height() -> None:
    """Nothing is known, and nothing is said."""
    assert {(edge.low_mm, edge.high_mm) for edge in sheet(planned()).edges} == {(None, None)}


def test_a_band_is_told_of_though_a_step_of_a_blend_goes_on_in_its_clay() -> None:
    """It is one band with it, in whichever order they come."""
    step = {"blend": ["blue", "blue"], "steps": 1}
    for first, second in (({"clay": "blue"}, step), (step, {"clay": "blue"})):
        entries = ({"to_mm": 60, "clay": "white"}, {"to_mm": 62, **first}, {"to_mm": 64, **second}, {"clay": "white"})
        (text,) = [text for text in sheet(planned(cartridge=MIXED), *entries).warnings if "never purer" in text]
        assert text.startswith("the band of blue from 60.0 mm on")


def test_a_band_that_begins_in_a_turn_which_leans_is_warned_of() -> None:
    """Turns of 2 mm that lean by 40: from 60 mm on is layer 21, from 40 to 82 mm, which counts from 60 mm on."""
    rise = make_survey(layers=80, ml_per_layer=10, layer_mm=2, lines_per_layer=10, rising=True)
    leaning = with_layers(rise, height_mm=rise.layers["height_mm"] + 40)
    bands = ({"to_mm": 60, "clay": "white"}, {"clay": "blue"})
    found = sheet(planned(survey=leaning), *bands)
    (text,) = [text for text in found.warnings if "tilts" in text]
    assert text.startswith("blue: asked for at 60 mm, it comes in layer 21, which goes from 40.0 to 82.0 mm")
    assert found.edges[0].risen_mm[1] == pytest.approx(60)
    assert not [text for text in sheet(planned(survey=rise), *bands).warnings if "tilts" in text]
