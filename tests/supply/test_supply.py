"""Which clay is where: cartridges in order, colours by plug flow and through mixing stages."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.api import Config, LayClay, Pause, Plan, Spot, Stroke, Survey
from gpost.clay.mixing import BEGINS, Hose
from gpost.supply.cartridges import (
    cartridges,
    change_spots,
    clay_at,
    colours,
    front_spot,
    running_out,
    shares,
)
from gpost.supply.sure import reach_ml
from gpost.testing import layer_start, make_survey

POT = make_survey(layers=50, ml_per_layer=10, lines_per_layer=10)


def lay(spot: Spot, clay_ml: float) -> LayClay:
    """So much clay beside the piece."""
    return LayClay(spot, (Stroke(((0, 0), (90, 0)), 10, 4, 4, clay_ml),), 600)


def change(layer: int, colour: str | None = None, **more: Any) -> Pause:
    """A pause for a new cartridge at a layer's start."""
    return Pause(layer_start(POT, layer), "swap", "test", "test", new_cartridge=True, colour=colour, **more)


def planned(*wishes: Pause | LayClay, survey: Survey = POT, relieve_ml: float = 0.0, **config: Any) -> Plan:
    """The wishes on the pot; line 60 ml, 1000 ml cartridges with 50 in reserve, density 2."""
    base = {
        "clay": {"wet_density_g_ml": 2.0, "colour": "grey"},
        "cartridge": config,
        "machine": {"pause": {"relieve_ml": relieve_ml}},
    }
    return Plan(survey, Config.model_validate(base)).adding("test", wishes)


def test_insertions_at_one_spot_come_in_the_order_of_wishing() -> None:
    """A purge wished before a pause at the same spot lies before it in the clay, after it behind it."""
    pause, purge = change(1, prime_ml=5), lay(layer_start(POT, 1), 30)
    assert [(i.start_ml, i.clay_ml) for i in planned(purge, pause).insertions] == [(0, 30), (30, 5)]
    assert clay_at(planned(purge, pause), pause) == 30
    assert clay_at(planned(pause, purge), pause) == 0


def test_clay_at_needs_a_pause_of_the_plan() -> None:
    """Another plan's pause is refused."""
    with pytest.raises(ValueError, match="not in the plan"):
        clay_at(planned(), change(3))


@pytest.mark.parametrize(
    ("pause", "line_ml", "spot"),
    [
        (change(11), 60, layer_start(POT, 17)),
        (change(11, prime_ml=20), 60, layer_start(POT, 15)),
        (change(11, prime_ml=20, lay=lay(Spot(0), 35)), 60, Spot(layer_start(POT, 11).line + 5)),
        (change(11, prime_ml=60), 60, layer_start(POT, 11)),
        (change(11, prime_ml=90), 60, layer_start(POT, 11)),
        (change(11), 0, layer_start(POT, 11)),
        (change(11), 62.5, Spot(layer_start(POT, 17).line + 2, 0.5)),
        (change(48), 60, Spot(POT.lines)),
    ],
)
def test_new_clay_shows_one_line_volume_later(pause: Pause, line_ml: float, spot: Spot) -> None:
    """Layers hold 10 ml on 10 lines: 60 ml are 6 layers, less what the pause itself runs out."""
    assert front_spot(planned(pause, line_ml=line_ml), pause) == spot


def test_a_later_prime_pushes_the_front_on() -> None:
    """20 ml run out on the way bring the new clay two layers earlier."""
    pause = change(11)
    plan = planned(pause, Pause(layer_start(POT, 14), "look", "", "", prime_ml=20), line_ml=60)
    assert front_spot(plan, pause) == layer_start(POT, 15)


def test_cartridges_by_hand() -> None:
    """Purge 40, swap to blue at layer 21 (prime 15), refill at layer 31 (prime 10): 240, 115, 210 ml."""
    swap, refill = change(21, "blue", prime_ml=15, load_ml=150), change(31, prime_ml=10)
    uses = cartridges(planned(lay(layer_start(POT, 1), 40), swap, refill, first_ml=350))
    assert [(use.number, use.colour, use.from_spot) for use in uses] == [
        (1, "grey", Spot(0)),
        (2, "blue", layer_start(POT, 21)),
        (3, "blue", layer_start(POT, 31)),
    ]
    assert [use.clay_ml for use in uses] == [240, 115, 210]
    assert [use.wet_g for use in uses] == [480, 230, 420]
    assert [use.usable_ml for use in uses] == [300, 100, 950]
    assert [use.need_ml for use in uses] == [240, 115, 210]
    assert [use.over_ml for use in uses] == [0, 15, 0]


@pytest.mark.parametrize(("held_ml", "usable_ml"), [(None, 950), (400, 350)])
def test_how_far_a_cartridge_does(held_ml: float | None, usable_ml: float) -> None:
    """Its clay less the reserve; of one that is loaded in a pause, less what it gives again."""
    pause = change(3, load_ml=held_ml)
    plan = planned(pause, first_ml=held_ml, relieve_ml=1.5)
    assert (reach_ml(plan, None), reach_ml(plan, pause)) == (usable_ml, usable_ml - 1.5)


TAPERED = make_survey(layers=50, ml_per_layer=10, lines_per_layer=10, drawn_back_ml=30)
"""At the end 30 ml are drawn back: 500 have passed, 470 are left."""


@pytest.mark.parametrize(
    ("wishes", "clay_ml", "need_ml"),
    [
        ([], [470], [500]),
        ([change(21)], [200, 270], [200, 302]),
        ([change(21, prime_ml=5)], [200, 275], [200, 307]),
        ([lay(layer_start(POT, 1), 40), change(50)], [530, -20], [530, 12]),
        ([change(50), lay(Spot(POT.lines), 5)], [490, -15], [490, 12]),
        ([lay(Spot(POT.lines), 45)], [515], [515]),
        ([change(1, prime_ml=7)], [0, 477], [0, 509]),
        ([lay(layer_start(POT, 9), 3), change(9), lay(layer_start(POT, 9), 4)], [83, 394], [83, 426]),
    ],
)
def test_what_is_drawn_back_must_be_there_first(
    wishes: list[Pause | LayClay], clay_ml: list[float], need_ml: list[float]
) -> None:
    """The highest sum counts, not the last; and the 2 ml that a pause draws back come out of the next one."""
    uses = cartridges(planned(*wishes, survey=TAPERED, relieve_ml=2))
    assert [use.clay_ml for use in uses] == pytest.approx(clay_ml)
    assert [use.need_ml for use in uses] == pytest.approx(need_ml)


def test_without_e_a_pause_draws_nothing_back() -> None:
    """There is nothing to draw back by."""
    config = Config.model_validate({"clay": {"metering": {"unit": "path"}}})
    assert cartridges(Plan(POT, config).adding("test", [change(21)]))[1].need_ml == 300


def test_where_a_cartridge_runs_out() -> None:
    """500 ml pass, 480 can be counted on: in layer 49, though no more than 470 are left in the end."""
    plan = planned(survey=TAPERED, volume_ml=530)
    ((use, spot),) = running_out(plan, 0.05)
    assert (use.over_ml, spot) == (20, layer_start(POT, 49))


def test_colours_by_hand() -> None:
    """Blue from layer 21 with 60 ml of line: grey holds 260 ml of the piece, blue 240.

    A purge of 50 ml at layer 41 is blue and no part of the piece.
    """
    plan = planned(change(21, "blue"), lay(layer_start(POT, 41), 50), line_ml=60)
    assert colours(plan) == pytest.approx({"grey": 260, "blue": 240})
    assert colours(plan, purges=True) == pytest.approx({"grey": 260, "blue": 290})
    assert colours(plan, layer_start(POT, 26), layer_start(POT, 28)) == pytest.approx(
        {"grey": 10, "blue": 10}
    )


def test_a_purge_of_the_line_at_the_swap_keeps_the_old_colour_out_of_the_piece() -> None:
    """With the line's 60 ml laid aside, blue begins where the pause is."""
    plan = planned(change(21, "blue", prime_ml=10, lay=lay(Spot(0), 50)), line_ml=60)
    assert colours(plan) == pytest.approx({"grey": 200, "blue": 300})
    assert colours(plan, purges=True) == pytest.approx({"grey": 260, "blue": 300})


def test_the_lead_in_is_no_part_of_the_piece() -> None:
    """The source's own prime counts as run out, not as piece."""
    survey = make_survey(layers=5, lead_in_ml=7)
    plan = Plan(survey, Config())
    assert sum(colours(plan).values()) == pytest.approx(50)
    assert sum(colours(plan, Spot(0), purges=True).values()) == pytest.approx(57)


WISHES = st.lists(
    st.tuples(st.integers(1, 50), st.sampled_from(["blue", "white", None]), st.floats(0, 80), st.booleans()),
    max_size=6,
)


@given(WISHES, st.floats(0, 200), st.one_of(st.none(), st.floats(1, 50)), st.floats(0, 0.9))
def test_nothing_is_lost(
    wishes: list[tuple[int, str | None, float, bool]], line_ml: float, stages: float | None, plug: float
) -> None:
    """Cartridges add up to the job; colours add up to the piece, and with purges to the job."""
    plan = planned(
        *(
            change(layer, colour, prime_ml=ml) if is_pause else lay(layer_start(POT, layer), ml)
            for layer, colour, ml, is_pause in wishes
        ),
        line_ml=line_ml,
        mixing_stages=stages,
        plug_part=plug,
    )
    assert sum(use.clay_ml for use in cartridges(plan)) == pytest.approx(plan.total_ml)
    assert sum(colours(plan).values()) == pytest.approx(POT.clay_ml)
    assert sum(colours(plan, Spot(0), purges=True).values()) == pytest.approx(plan.total_ml)


# ---- a line that mixes ----

MIXED = {"line_ml": 60.0, "mixing_stages": 5.0, "plug_part": 0.4}


def test_a_change_begins_early_and_is_full_late() -> None:
    """Blue goes in at 200 ml; 5, 50 and 95 % come where five tanks behind a plug have them, inside a move.

    The plug is 0.4 of 60 ml, the tanks hold 36 ml. Computed from the chi-squared table: 10 degrees of freedom
    have 3.940, 9.342 and 18.307 there (from memory), and n tanks are half of 2 n degrees in tanks of 7.2 ml.
    """
    pause = change(21, "blue")
    plan = planned(pause, **MIXED)
    found = [POT.clay_before(spot) - 200 for spot in change_spots(plan, pause)]
    assert found == pytest.approx([24 + 7.2 * chi / 2 for chi in (3.940, 9.342, 18.307)], abs=3e-3)
    assert front_spot(plan, pause) == change_spots(plan, pause)[1]


def test_the_share_that_counts_as_showing_is_the_pause_s() -> None:
    """A swap that minds the first trace has its front where that is."""
    pause = change(21, "blue", shows_share=BEGINS)
    plan = planned(pause, **MIXED)
    assert front_spot(plan, pause) == change_spots(plan, pause)[0]


def test_shares_by_height() -> None:
    """Grey until the plug has passed, then ever more blue, then as much white; together always all."""
    plan = planned(change(11, "blue"), change(31, "white"), **MIXED)
    found = shares(plan, [0, 100, 123, 160, 280, 324.5, 500])
    assert list(found) == ["grey", "blue", "white"]
    assert sum(found.values()) == pytest.approx(np.ones(7))
    assert found["grey"][:3] == pytest.approx([1, 1, 1])
    assert found["blue"][3] == pytest.approx(float(Hose(60, 5, 0.4).new_share(60)))
    assert found["blue"][4] > 0.999
    assert found["white"][-1] > 0.999


def test_a_refill_of_the_same_colour_mixes_with_itself() -> None:
    """One colour stays all there is."""
    assert shares(planned(change(11), **MIXED), [150, 170])["grey"] == pytest.approx([1, 1])


def test_colours_are_the_integral_of_the_shares() -> None:
    """Clay of each colour in the piece, against a sum over a thousand slices of the print."""
    plan = planned(change(21, "blue"), **MIXED)
    middles_ml = np.arange(0.125, 500, 0.25)
    summed = {colour: float(share.sum() * 0.25) for colour, share in shares(plan, middles_ml).items()}
    assert colours(plan) == pytest.approx(summed, abs=1e-2)
