"""The step that pauses where the cartridge runs out.

The pot lays 10 ml a layer on 10 lines. A cartridge holds 1000 ml, 50 of them reserve, unless said
otherwise; a refill primes 10 ml.
"""

from __future__ import annotations

from typing import Any

import pytest
from gpost_plugins.purge import Purge, PurgeSettings
from gpost_plugins.refill import Refill, gpost_steps
from gpost_plugins.swap import Swap, SwapSettings
from hypothesis import assume, given
from hypothesis import strategies as st

from gpost.api import Note, Pause, Plan, PlanError, Spot, Survey
from gpost.supply.cartridges import cartridges, front_spot
from gpost.supply.display import Messages
from gpost.testing import layer_start, make_survey, run_step


def pot(layers: int = 100, **more: Any) -> Survey:
    """So many layers of 10 ml on 10 lines."""
    return make_survey(layers=layers, ml_per_layer=10, lines_per_layer=10, **more)


def refilled(survey: Survey, before: Any = (), config: dict[str, Any] | None = None, **settings: Any) -> Plan:
    """The refill on the pot; line 60 ml, and nothing drawn back at pauses unless the config says so."""
    cartridge = {"line_ml": 60, **(config or {})}
    machine = {"pause": {"relieve_ml": cartridge.pop("relieve_ml", 0)}}
    config = {"cartridge": cartridge, "clay": {"colour": "grey"}, "machine": machine}
    return run_step(Refill, settings, survey, config, before)


def swap(**settings: Any) -> Swap:
    """A swap to blue that comes before, without a prime unless given."""
    return Swap(SwapSettings(**{"prime_ml": 0, "colour": "blue", **settings}))


def purge(clay_ml: float) -> Purge:
    """A purge that comes before."""
    return Purge(PurgeSettings(volume_ml=clay_ml, stack=3))


def layers_of(plan: Plan, kind: str = "refill") -> list[int]:
    """Layers, counted from 1, at whose start pauses of a kind are."""
    first = plan.survey.layers["first_line"].tolist()
    return [first.index(pause.spot.line) + 1 for pause in plan.pauses if pause.kind == kind]


def warnings(plan: Plan) -> list[str]:
    """Texts of the warnings."""
    return [note.text for note in plan.of(Note) if note.warning]


def test_the_module_offers_the_step() -> None:
    """The hook names the class, and nothing else."""
    assert list(gpost_steps()) == [Refill]


@pytest.mark.parametrize(
    ("layers", "before", "config", "settings", "expected"),
    [
        (95, [], {}, {}, []),  # 950 ml, just enough
        (96, [], {}, {}, [96]),  # 950 ml before layer 96
        (300, [], {}, {}, [96, 190, 284]),  # then 940 + 10 each: 950, 1890, 2830
        (300, [], {}, {"prime_ml": 0}, [96, 191, 286]),
        (300, [], {}, {"prime_ml": 45}, [96, 186, 276]),  # 905 ml reach 90 layers
        (100, [purge(60)], {}, {}, [90]),  # 890 ml of print beside the purge
        (100, [purge(55)], {}, {}, [90]),  # 895 ml: not all of layer 90
        (100, [], {"first_ml": 500}, {}, [46]),  # 450 ml
        (100, [], {"first_ml": 65}, {}, [2, 96]),  # 15 ml reach one layer; then 940 more
        (60, [], {"volume_ml": 250, "reserve_ml": 0}, {}, [26, 50]),  # 250, then 240
    ],
)
def test_full_by_hand(
    layers: int, before: list[Purge], config: dict[str, Any], settings: dict[str, Any], expected: list[int]
) -> None:
    """Each pause comes at the last layer's start that the clay in hand reaches."""
    assert layers_of(refilled(pot(layers), before, config, **settings)) == expected


@pytest.mark.parametrize(
    ("relieve_ml", "share", "expected"),
    [(0, "full", [96, 190, 284]), (2, "full", [96, 189, 282]), (2, "even", [77, 152, 226])],
)
def test_what_a_pause_draws_back_comes_out_of_the_next_cartridge(
    relieve_ml: float, share: str, expected: list[int]
) -> None:
    """2 ml are drawn back before each wait and given again after it: 938 ml of a refill reach 93 layers.

    Evenly: 3000 ml, 3 primes and 3 reliefs over 4 cartridges, 759 each.
    """
    plan = refilled(pot(300), [], {"relieve_ml": relieve_ml}, share=share)
    assert layers_of(plan) == expected
    assert all(use.over_ml == 0 for use in cartridges(plan))


@pytest.mark.parametrize(
    ("layers", "expected"), [(95, []), (96, [96])]
)  # 950 ml are reached either way, though 940 are left of them
def test_what_is_drawn_back_at_the_end_must_be_there_first(layers: int, expected: list[int]) -> None:
    """A last pull back of 10 ml makes a job of 960 ml one of 950, and yet one cartridge doesn't do for it."""
    plan = refilled(pot(layers, drawn_back_ml=10))
    assert layers_of(plan) == expected
    assert plan.total_ml == layers * 10 - 10 + 10 * len(expected)


def test_the_sources_own_prime_counts() -> None:
    """25 ml of lead-in leave 925, so the pause is 3 layers earlier."""
    assert layers_of(refilled(pot(lead_in_ml=25))) == [93]


def test_a_refill_is_a_new_cartridge_with_a_prime_at_the_park() -> None:
    """And it says how far it does; how much to load is said with what to load: 50 ml of print, 10 of prime."""
    (pause,) = refilled(pot(), prime_ml=10, message="More clay").pauses
    assert (pause.kind, pause.message, pause.prime_ml) == ("refill", "More clay", 10)
    assert (pause.new_cartridge, pause.colour, pause.lay, pause.shows_at) == (True, None, None, None)
    assert pause.reason == "cartridge 2 follows (grey), which lasts to the end"


@pytest.mark.parametrize(
    ("settings", "messages"),
    [
        ({}, ["grey ", "blue ", "blue "]),
        ({"message": "Refill"}, ["Refill", "blue ", "Refill"]),
        ({"message": ""}, ["", "blue ", ""]),
    ],
)
def test_the_display_says_which_clay_is_due(settings: dict[str, Any], messages: list[str]) -> None:
    """Before the swap the first clay, behind it the new one; a message of one's own stays as it is."""
    plan = refilled(pot(250), [swap(at_layer=121)], **settings)
    said = [Messages(plan).of(pause) for pause in plan.pauses]
    assert all(text.startswith(message) for text, message in zip(said, messages, strict=True))
    assert [len(text) <= 20 for text in said] == [True] * 3


def test_where_none_is_needed_it_says_what_is_left() -> None:
    """A note, and no pause."""
    (note,) = refilled(pot(50)).of(Note)
    assert note.text == ("none is needed; cartridge 1 gives 500.0 of the 950.0 ml that can be counted on")


@pytest.mark.parametrize(
    ("layers", "config", "settings", "expected"),
    [
        # 3000 + 3 primes over 4 cartridges: 757.5 each, so 757.5, 1505 and 2252.5 ml, halves go up or even
        (300, {}, {}, [77, 152, 226]),
        (96, {}, {"prime_ml": 0}, [49]),  # 480 of 960
        (96, {}, {"prime_ml": 20}, [50]),  # 490 from the first, 470 + 20 from the second
        (150, {"first_ml": 250}, {}, [21, 86]),  # 200 from the first, 650 + 10 from each other
        (95, {}, {}, []),
    ],
)
def test_even_by_hand(
    layers: int, config: dict[str, Any], settings: dict[str, Any], expected: list[int]
) -> None:
    """As few cartridges as with full ones, all used alike, primes counted."""
    assert layers_of(refilled(pot(layers), [], config, share="even", **settings)) == expected


@pytest.mark.parametrize(
    ("pieces", "refills"), [([50, 22, 22], 0), ([22, 50, 22], 0), ([50, 50], 1), ([50, 22, 22, 50], 1)]
)
def test_one_cartridge_does_a_large_vase_and_two_small_ones(pieces: list[int], refills: int) -> None:
    """Never two large ones (common practice, no source): 500 + 2 x 220 <= 950 < 2 x 500."""
    assert len(refilled(pot(sum(pieces), pieces=len(pieces))).pauses) == refills


def test_a_first_cartridge_that_the_purge_empties_is_refused() -> None:
    """30 ml that can be counted on don't do for a purge of 40."""
    with pytest.raises(PlanError, match=r"40\.0 ml are run out before layer 1 .* only 30\.0 ml"):
        refilled(pot(), [purge(40)], {"first_ml": 80})


def test_a_first_cartridge_that_does_not_reach_layer_2_is_refused() -> None:
    """There is no pause at the very start: a fuller cartridge is needed."""
    with pytest.raises(PlanError, match="the first cartridge runs out in layer 1"):
        refilled(pot(), [], {"first_ml": 55})


def test_a_prime_that_takes_the_whole_cartridge_is_refused() -> None:
    """Nothing would be left to print with."""
    with pytest.raises(PlanError, match=r"prime_ml can't be 950\.0: a cartridge has only 950 ml"):
        refilled(pot(), prime_ml=950)


def test_a_layer_bigger_than_a_cartridge_needs_leave_to_pause_inside_it() -> None:
    """Layers of 600 ml on 10 lines, cartridges of 500: refused, or split where the clay runs out."""
    survey = make_survey(layer_ml=[600, 600], lines_per_layer=10)
    config = {"volume_ml": 500, "reserve_ml": 0}
    with pytest.raises(PlanError, match=r"runs out in layer 1 .*within_layer: true"):
        refilled(survey, [], config)
    plan = refilled(survey, [], config, within_layer=True, prime_ml=0)
    first, second, third = plan.pauses
    assert first.spot == Spot(10 + 8, pytest.approx(1 / 3))
    assert second.spot == layer_start(survey, 2)
    assert survey.clay_before(third.spot) == pytest.approx(1100)
    assert all(use.over_ml < 1e-6 for use in cartridges(plan))


def test_a_swap_starts_a_fresh_cartridge() -> None:
    """From the swap at layer 51 on, 950 ml more: the next pause is at layer 146."""
    plan = refilled(pot(200), [swap(at_layer=51, clear="purge", onto="park", prime_ml=0)])
    assert layers_of(plan, "swap") == [51]
    assert layers_of(plan) == [51 + 89]  # 60 ml of the new cartridge are run out at the swap


def test_a_swaps_own_load_counts() -> None:
    """200 ml loaded are 150 to print with; the refill prime follows."""
    plan = refilled(pot(80), [swap(at_layer=37, load_ml=200)])
    assert layers_of(plan, "swap") == [31]
    assert layers_of(plan) == [46]


def test_a_refill_well_before_a_swap_stays_apart_and_says_how_far_it_does() -> None:
    """Due at layer 96, swap at 103: 70 ml of print, 10 of prime."""
    plan = refilled(pot(150), [swap(at_layer=103, clear="purge", onto="park")])
    assert (layers_of(plan), layers_of(plan, "swap")) == ([96], [103])
    assert plan.pauses[0].reason == (
        "cartridge 2 follows (grey), which lasts until the swap to blue at layer 103 (206.0 mm)"
    )
    assert cartridges(plan)[1].need_ml == pytest.approx(80)


@pytest.mark.parametrize(("layer", "join_layers", "joins"), [(99, 3, True), (100, 3, False), (97, 0, False)])
def test_a_refill_near_a_swap_is_joined_with_it(layer: int, join_layers: int, joins: bool) -> None:
    """The refill is due at layer 96: one pause does for both up to so many layers on."""
    before = [swap(at_layer=layer, clear="purge", onto="park")]
    plan = refilled(pot(150), before, join_layers=join_layers)
    assert layers_of(plan) == ([] if joins else [96])
    assert layers_of(plan, "swap") == [96 if joins else layer]


def test_a_joined_early_swap_says_how_much_earlier_the_colour_shows() -> None:
    """Blue is asked for at layer 104, so it stops at 98; joined at 96 it shows at layer 102."""
    plan = refilled(pot(150), [swap(at_layer=104)])
    (pause,) = plan.pauses
    assert (pause.spot, pause.kind, pause.colour) == (layer_start(pot(), 96), "swap", "blue")
    assert front_spot(plan, pause) == layer_start(pot(150), 102)
    assert "joined with the refill" in pause.reason
    assert [note.text for note in plan.of(Note)][-1] == (
        "the swap to blue moves from layer 98 (196.0 mm) to layer 96 (192.0 mm), joined with the "
        "refill that is due there; blue is expected at layer 102 (204.0 mm), 2 layers earlier than asked"
    )
    assert not warnings(plan)
    assert len(plan.moved) == 1


def test_a_refill_between_a_swap_and_its_height_moves_the_swap() -> None:
    """Blue from 500 ml, line 60; its cartridge has 40 ml, so a refill with 10 ml of prime comes on the way.

    The swap then stops at 450 instead of 440 ml: 40 of its own, 10 of prime, 10 more.
    """
    plan = refilled(pot(), [swap(at_layer=51, load_ml=90)])
    assert layers_of(plan, "swap") == [46]
    assert layers_of(plan) == [50]
    blue = plan.pauses[0]
    assert front_spot(plan, blue) == layer_start(pot(), 51)
    assert [(name, move.old.spot) for name, move in plan.moved] == [("refill", layer_start(pot(), 45))]
    assert "primes of refills" in plan.moved[0][1].why
    assert not warnings(plan)


def test_an_exact_swap_stays_exact_when_it_is_moved() -> None:
    """As before with 7 ml of prime: 447 ml, inside a layer."""
    plan = refilled(pot(), [swap(at_layer=51, load_ml=90, where="exact")], prime_ml=7)
    blue = plan.pauses[0]
    assert pot().clay_before(blue.spot) == pytest.approx(447)
    assert front_spot(plan, blue) == layer_start(pot(), 51)


def test_a_swap_that_no_place_brings_in_time_is_warned_of() -> None:
    """Stopping at 440 ml the refill is due at 490 ml, its 30 ml come on the way and blue is 30 ml early.

    Stopping at 470 ml it is due at 520 ml, its clay does not come on the way and blue is 30 ml late.
    """
    plan = refilled(pot(), [swap(at_layer=51, load_ml=105, where="exact")], prime_ml=30)
    blue = plan.pauses[0]
    assert (blue.spot, front_spot(plan, blue)) == (layer_start(pot(), 45), layer_start(pot(), 50))
    (text,) = warnings(plan)
    assert "blue can't be brought to layer 51 (102.0 mm)" in text


CASES = {
    "layer_ml": st.lists(st.floats(2, 30), min_size=20, max_size=60),
    "volume_ml": st.floats(120, 600),
    "first": st.one_of(st.none(), st.floats(0.4, 1)),
    "prime_ml": st.floats(0, 20),
}


def fewest(layer_ml: list[float], first_ml: float, refill_ml: float) -> int:
    """Fewest refills at layers' starts, by trying each number: reachable layers, breadth first."""
    sums = [0.0]
    for ml in layer_ml:
        sums.append(sums[-1] + ml)
    reach = {0}
    for refills in range(len(layer_ml)):
        have_ml = refill_ml if refills else first_ml
        reach = {j for i in reach for j in range(i, len(sums)) if sums[j] - sums[i] <= have_ml + 1e-6}
        if len(layer_ml) in reach:
            return refills
    raise AssertionError("no number of refills does")


@given(
    **CASES,
    share=st.sampled_from(["full", "even"]),
    relieve_ml=st.sampled_from([0, 0.3, 2]),
    drawn_back_ml=st.sampled_from([0, 15]),
)
def test_no_cartridge_is_asked_for_more_than_it_has(
    layer_ml: list[float],
    volume_ml: float,
    first: float | None,
    prime_ml: float,
    share: str,
    relieve_ml: float,
    drawn_back_ml: float,
) -> None:
    """And the refills are as few as any choice of layers allows, at layers' starts, whatever is drawn back."""
    survey = make_survey(layer_ml=layer_ml, lines_per_layer=7, drawn_back_ml=drawn_back_ml)
    first_ml = None if first is None else first * volume_ml
    config = {"volume_ml": volume_ml, "reserve_ml": 10, "first_ml": first_ml, "relieve_ml": relieve_ml}
    plan = refilled(survey, [], config, share=share, prime_ml=prime_ml)
    assert all(use.over_ml < 1e-5 for use in cartridges(plan))
    assert {pause.spot.line for pause in plan.pauses} <= set(survey.layers["first_line"].tolist())
    refill_ml = volume_ml - 10 - relieve_ml - prime_ml
    assert len(plan.pauses) == fewest(layer_ml, (first_ml or volume_ml) - 10, refill_ml)


@given(**CASES)
def test_even_shares_never_ask_more_of_the_hardest_used_cartridge(
    layer_ml: list[float], volume_ml: float, first: float | None, prime_ml: float
) -> None:
    """Than full shares do, but for the rounding to layers' starts."""
    survey = make_survey(layer_ml=layer_ml, lines_per_layer=7)
    config = {
        "volume_ml": volume_ml,
        "reserve_ml": 10,
        "first_ml": None if first is None else first * volume_ml,
    }
    most_ml = {
        share: max(
            use.clay_ml for use in cartridges(refilled(survey, [], config, share=share, prime_ml=prime_ml))
        )
        for share in ("full", "even")
    }
    assert most_ml["even"] <= most_ml["full"] + max(layer_ml) + 1e-6


@given(
    at=st.lists(st.integers(15, 60), min_size=1, max_size=3, unique=True),
    load_ml=st.floats(90, 200),
    volume_ml=st.floats(120, 400),
    refill_prime_ml=st.floats(0, 20),
    swap_prime_ml=st.floats(0, 20),
    share=st.sampled_from(["full", "even"]),
)
def test_swaps_and_refills_together_come_out_right(
    at: list[int],
    load_ml: float,
    volume_ml: float,
    refill_prime_ml: float,
    swap_prime_ml: float,
    share: str,
) -> None:
    """No cartridge runs out, and each colour is at its height, or was joined, or is warned of."""
    survey = pot(60)
    steps = [
        swap(at_layer=layer, load_ml=load_ml, prime_ml=swap_prime_ml, colour=str(layer))
        for layer in sorted(at)
    ]
    try:
        plan = refilled(
            survey, steps, {"volume_ml": volume_ml, "reserve_ml": 40}, share=share, prime_ml=refill_prime_ml
        )
    except PlanError:
        assume(False)
    if any("can't be brought" in text for text in warnings(plan)):
        return
    assert all(use.over_ml < 1e-5 for use in cartridges(plan))
    for pause in plan.pauses:
        if pause.colour is not None and "joined" not in pause.reason:
            assert_shows_in_time(plan, pause)


def assert_shows_in_time(plan: Plan, pause: Pause) -> None:
    """The front is at most one layer off."""
    assert pause.shows_at is not None
    off_ml = plan.survey.clay_before(front_spot(plan, pause)) - plan.survey.clay_before(pause.shows_at)
    assert abs(off_ml) <= 10 + 1e-6
