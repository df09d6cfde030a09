"""The step that brings clay of another colour to a height.

The pot lays 10 ml a layer of 2 mm on 10 lines, so clay, layers and lines follow from each other.
"""

from __future__ import annotations

from typing import Any

import pydantic
import pytest
from gpost_plugins.purge import Purge, PurgeSettings
from gpost_plugins.swap import Swap, SwapSettings, gpost_steps
from hypothesis import assume, given
from hypothesis import strategies as st

from gpost.api import Note, Pause, Plan, PlanError, Spot, Step, Survey
from gpost.clay.mixing import Hose
from gpost.plan.beside import piece_box
from gpost.supply.cartridges import cartridges, clay_at, colours, front_spot, shares
from gpost.supply.fronts import lag_ml
from gpost.testing import layer_start, make_survey, run_step

POT = make_survey(layers=100, ml_per_layer=10, layer_mm=2, lines_per_layer=10)


def swapped(config: dict[str, Any] | None = None, before: Any = (), **settings: Any) -> Plan:
    """The swap on the pot; line 60 ml unless said otherwise."""
    cartridge = {"line_ml": 60, **(config or {})}
    return run_step(Swap, settings, POT, {"cartridge": cartridge, "clay": {"colour": "grey"}}, before)


def step(**settings: Any) -> Swap:
    """A swap that comes before the one under test."""
    return Swap(SwapSettings(**settings))


def pause_of(plan: Plan, colour: str = "second clay") -> Pause:
    """The pause for a colour."""
    (pause,) = [pause for pause in plan.pauses if pause.colour == colour]
    return pause


def test_the_module_offers_the_step() -> None:
    """The hook names the class, and nothing else."""
    assert list(gpost_steps()) == [Swap]


@pytest.mark.parametrize(
    ("prime_ml", "line_ml", "pause_layer", "front"),
    [
        (0, 60, 25, layer_start(POT, 31)),  # 300 - 60 = 240 ml
        (10, 60, 26, layer_start(POT, 31)),  # the prime does 10 of the 60
        (3, 60, 25, Spot(layer_start(POT, 30).line + 7)),  # 243 is nearest to 240: 3 ml early
        (0, 64, 25, Spot(layer_start(POT, 31).line + 4)),  # 236 is nearest to 240: 4 ml late
        (60, 60, 31, layer_start(POT, 31)),  # the prime alone empties the hose
        (80, 60, 31, layer_start(POT, 31)),
        (0, 0, 31, layer_start(POT, 31)),
    ],
)
def test_early_by_hand(prime_ml: float, line_ml: float, pause_layer: int, front: Spot) -> None:
    """The pause comes one hose volume, less its own prime, before 300 ml, at the nearest layer's start."""
    plan = swapped({"line_ml": line_ml}, at_layer=31, prime_ml=prime_ml)
    pause = pause_of(plan)
    assert pause.spot == layer_start(POT, pause_layer)
    assert pause.shows_at == layer_start(POT, 31)
    assert front_spot(plan, pause) == front
    assert (pause.kind, pause.new_cartridge, pause.prime_ml, pause.lay) == ("swap", True, prime_ml, None)


def test_exact_splits_the_move() -> None:
    """300 - (63.25 - 5) = 241.75 ml: 1 line and three quarters into layer 25."""
    plan = swapped({"line_ml": 63.25}, at_layer=31, prime_ml=5, where="exact")
    pause = pause_of(plan)
    assert pause.spot == Spot(layer_start(POT, 25).line + 1, pytest.approx(0.75))
    assert pause.within_layer
    assert front_spot(plan, pause) == layer_start(POT, 31)


@given(st.floats(0, 250), st.floats(0, 60), st.integers(27, 100))
def test_exact_arrives_exactly(line_ml: float, prime_ml: float, layer: int) -> None:
    """Whatever line and prime, the front is at the layer's start; by layer it is at most half one off."""
    exact = swapped({"line_ml": line_ml}, at_layer=layer, prime_ml=prime_ml, where="exact")
    assert POT.clay_before(front_spot(exact, pause_of(exact))) == pytest.approx((layer - 1) * 10, abs=1e-5)
    near = swapped({"line_ml": line_ml}, at_layer=layer, prime_ml=prime_ml)
    assert abs(POT.clay_before(front_spot(near, pause_of(near))) - (layer - 1) * 10) <= 5 + 1e-6


@pytest.mark.parametrize(("height_mm", "layer"), [(62, 31), (61, 31), (60.1, 31), (60, 30)])
def test_a_height_means_the_first_layer_at_or_above_it(height_mm: float, layer: int) -> None:
    """Layers are 2 mm high, so 61 mm is reached with layer 31."""
    assert pause_of(swapped(at_height_mm=height_mm)).shows_at == layer_start(POT, layer)


def test_the_note_says_where_the_front_is_expected() -> None:
    """Pause, front and what was asked for, by layer and height."""
    (note,) = swapped(at_layer=31, prime_ml=3, colour="blue").of(Note)
    assert note.text == (
        "blue: the pause is at layer 25 (50.0 mm), and the new clay is expected at layer 30 "
        "(60.0 mm), 3.0 ml earlier than asked for, which was from layer 31 (62.0 mm) on"
    )


def test_the_note_is_short_where_the_front_is_as_asked() -> None:
    """Nothing but where the pause and the front are."""
    (note,) = swapped(at_layer=31, prime_ml=0, colour="blue").of(Note)
    assert note.text == (
        "blue: the pause is at layer 25 (50.0 mm), and the new clay is expected at layer 31 "
        "(62.0 mm), as asked"
    )


@pytest.mark.parametrize("onto", ["bed", "park"])
@pytest.mark.parametrize("cartridge", [{}, {"mixing_stages": 8.0, "plug_part": 0.3}])
def test_after_a_purge_the_colour_is_neither_early_nor_late(onto: str, cartridge: dict[str, Any]) -> None:
    """It runs out of the nozzle while the machine purges, so it is there when printing goes on."""
    plan = swapped(cartridge, at_layer=31, clear="purge", onto=onto, colour="blue")
    note, run_out = plan.of(Note)
    assert note.text.startswith(
        "blue: the pause is at layer 31 (62.0 mm), and the new clay is expected at layer 31 (62.0 mm), as asked"
    )
    assert run_out.text.startswith(
        f"{pause_of(plan, 'blue').clay_ml:.0f} ml are run out beside the piece for blue"
    )
    assert lag_ml(plan, pause_of(plan, "blue")) == 0


@pytest.mark.parametrize(
    ("stages", "percent", "ml"),
    # chi-square quantiles of 2n degrees of freedom over 2n, times 60 ml (NIST/SEMATECH e-Handbook, 1.3.6.7.4:
    # 5.991 at 0.95 and 9.210 at 0.99 for 2; 15.507 at 0.95 and 13.362 at 0.90 for 8)
    [
        (1.0, 95.0, 5.991 / 2 * 60),
        (1.0, 99.0, 9.210 / 2 * 60),
        (4.0, 95.0, 15.507 / 8 * 60),
        (4.0, 90.0, 13.362 / 8 * 60),
    ],
)
@pytest.mark.parametrize("onto", ["bed", "park"])
def test_a_purge_runs_out_what_makes_the_colour_full(
    stages: float, percent: float, ml: float, onto: str
) -> None:
    """In a hose of tanks in series the share of the new clay is a gamma distribution's; extra_ml adds to that."""
    given = {"at_layer": 31, "clear": "purge", "onto": onto, "clear_percent": percent, "stack": 9}
    plan = swapped({"mixing_stages": stages}, **given)
    pause = pause_of(plan, "second clay")
    assert pause.clay_ml == pytest.approx(ml, abs=0.02)
    assert f"{ml:.0f} ml are run out" in plan.of(Note)[1].text
    assert f"it is then {percent:g} % second clay" in plan.of(Note)[1].text
    at_ml = clay_at(plan, pause) + pause.clay_ml
    assert shares(plan, at_ml)["second clay"] == pytest.approx(percent / 100, abs=1e-4)
    more = pause_of(swapped({"mixing_stages": stages}, **given, extra_ml=7), "second clay")
    assert more.clay_ml == pytest.approx(ml + 7, abs=0.02)


def test_a_hose_that_does_not_mix_is_clear_after_its_volume() -> None:
    """Whatever share is asked for."""
    plan = swapped(at_layer=31, clear="purge", clear_percent=99)
    assert pause_of(plan, "second clay").clay_ml == pytest.approx(60)
    assert "60 ml are run out beside the piece for second clay, of the 60 ml that the hose holds" in [
        note.text for note in plan.of(Note)
    ]


def test_a_late_colour_is_told_as_later() -> None:
    """A line of 64 ml: 4 ml more than six layers."""
    (note,) = swapped({"line_ml": 64}, at_layer=31, prime_ml=0).of(Note)
    assert ", 4.0 ml later than asked for, which was from layer 31 (62.0 mm) on" in note.text


def warned(plan: Plan) -> list[str]:
    """Texts of the warnings."""
    return [note.text for note in plan.of(Note) if note.warning]


def test_a_swap_to_the_clay_that_is_loaded_is_warned_of() -> None:
    """From grey to grey costs a pause and shows nothing; a refill is what is meant, or another name."""
    (text,) = warned(swapped(at_layer=31, prime_ml=0, colour="grey"))
    assert text.startswith("grey is loaded already when the swap to it comes at layer 25 (50.0 mm)")
    assert "use refill" in text


@pytest.mark.parametrize(("first", "second"), [(31, 61), (61, 31)])
def test_two_swaps_to_one_clay_are_warned_of_in_any_order(first: int, second: int) -> None:
    """The upper one changes nothing. Two with a third clay between them are as they should be."""
    plan = swapped(before=[step(at_layer=first, colour="blue")], at_layer=second, colour="blue")
    (text,) = warned(plan)
    assert "blue is loaded already when the swap to it comes at layer 56 (112.0 mm)" in text
    more = [step(at_layer=layer, colour="blue") for layer in (31, 61)]
    assert len(warned(swapped(before=more, at_layer=81, colour="blue"))) == 2
    between = [step(at_layer=31, colour="blue"), step(at_layer=61, colour="red")]
    assert warned(swapped(before=between, at_layer=81, colour="blue")) == []


def test_an_earlier_purge_does_not_shift_a_swap_above_it() -> None:
    """What is laid before both the pause and the height moves neither."""
    before = [Purge(PurgeSettings(volume_ml=40))]
    assert pause_of(swapped(before=before, at_layer=31, prime_ml=0)).spot == layer_start(POT, 25)


@pytest.mark.parametrize(("layer", "have"), [(2, "10.0"), (6, "50.0")])
@pytest.mark.parametrize("before", [[], [Purge(PurgeSettings(volume_ml=60))]])
def test_too_low_a_height_is_refused_with_the_lowest_that_works(
    layer: int, have: str, before: list[Purge]
) -> None:
    """60 ml must pass and 10 go into a layer, so layer 7 is the lowest; a purge before layer 1 is no help."""
    with pytest.raises(PlanError, match=rf"only {have} ml .* 60\.0 ml must pass .*layer 7 \(14\.0 mm\)"):
        swapped(before=before, at_layer=layer, prime_ml=0)
    assert pause_of(swapped(before=before, at_layer=7, prime_ml=0)).spot == layer_start(POT, 1)


def test_from_layer_1_on_needs_no_swap() -> None:
    """The sentence says to load the new colour from the start."""
    with pytest.raises(PlanError, match="load blue from the start"):
        swapped(at_layer=1, colour="blue", clear="purge")


@pytest.mark.parametrize("place", [{"at_layer": 101}, {"at_height_mm": 200.1}])
@pytest.mark.parametrize("manner", [{}, {"where": "exact"}, {"clear": "purge", "onto": "park"}])
def test_above_the_top_a_swap_is_refused_or_skipped(place: dict[str, Any], manner: dict[str, Any]) -> None:
    """A colour that never shows is no small thing, so it is refused; a recipe for a folder may say skip."""
    with pytest.raises(PlanError, match=r"is above the piece, .* or say if_shorter: skip$"):
        swapped(**place, **manner)
    plan = swapped(**place, **manner, if_shorter="skip", colour="blue")
    assert not plan.pauses
    (note,) = plan.of(Note)
    assert note.text.startswith("blue: ")
    assert note.text.endswith("which ends with layer 100 at 200.0 mm; there is no swap")
    assert not note.warning


@pytest.mark.parametrize("place", [{"at_layer": 100}, {"at_height_mm": 200}])
def test_at_the_top_a_swap_that_may_be_skipped_is_done(place: dict[str, Any]) -> None:
    """The last layer is still a place."""
    assert len(swapped(**place, if_shorter="skip").pauses) == 1


def test_a_swap_below_one_that_is_skipped_is_done_as_if_alone() -> None:
    """And so is one that is listed after it."""
    alone = swapped(at_layer=40, colour="blue")
    skipped = step(at_layer=150, colour="red", if_shorter="skip")
    assert swapped(before=[skipped], at_layer=40, colour="blue").pauses == alone.pauses


def test_a_purge_at_the_height_empties_the_line_beside_the_piece() -> None:
    """Prime and beads together are the hose volume and the extra; the front is at the pause."""
    plan = swapped(at_layer=31, clear="purge", prime_ml=5, extra_ml=12, colour="blue")
    pause = pause_of(plan, "blue")
    assert pause.spot == pause.shows_at == front_spot(plan, pause) == layer_start(POT, 31)
    assert pause.lay is not None
    assert pause.lay.clay_ml == pytest.approx(60 + 12 - 5)
    piece = piece_box(plan).grown(20)
    for stroke in pause.lay.strokes:
        for x, y in stroke.points_mm:
            assert not (piece.a_min < x < piece.a_max and piece.b_min < y < piece.b_max)
    assert colours(plan) == pytest.approx({"grey": 300, "blue": 700})


def test_at_the_park_the_line_is_run_out_as_a_prime() -> None:
    """No beads then, and the prime is the whole of it."""
    pause = pause_of(swapped(at_layer=31, clear="purge", onto="park", prime_ml=5, extra_ml=12))
    assert (pause.spot, pause.prime_ml, pause.lay) == (layer_start(POT, 31), 72, None)


def test_a_prime_that_empties_the_line_leaves_nothing_to_lay() -> None:
    """With 60 ml of line a prime of 60 does it all."""
    pause = pause_of(swapped(at_layer=31, clear="purge", prime_ml=60))
    assert (pause.prime_ml, pause.lay) == (60, None)


def test_two_swaps_push_each_other() -> None:
    """Colours from 500 and 530 ml, line 60, primes 10: pauses at 460 and 480 ml, fronts just there.

    The second prime runs out while the first new clay is still in the line, so the first pause comes
    10 ml later than it would alone (450).
    """
    assert pause_of(swapped(at_layer=51, prime_ml=10)).spot == layer_start(POT, 46)
    plan = swapped(
        before=[step(at_layer=51, prime_ml=10, colour="blue")], at_layer=54, prime_ml=10, colour="white"
    )
    blue, white = pause_of(plan, "blue"), pause_of(plan, "white")
    assert (blue.spot, white.spot) == (layer_start(POT, 47), layer_start(POT, 49))
    assert front_spot(plan, blue) == layer_start(POT, 51)
    assert front_spot(plan, white) == layer_start(POT, 54)
    assert colours(plan) == pytest.approx({"grey": 500, "blue": 30, "white": 470})
    assert [(name, move.old.colour) for name, move in plan.moved] == [("swap", "blue")]


def test_swaps_may_be_listed_from_the_top_down() -> None:
    """The plan is the same as from the bottom up."""
    low = {"at_layer": 51, "prime_ml": 10, "colour": "blue"}
    high = {"at_layer": 54, "prime_ml": 10, "colour": "white"}
    up, down = swapped(before=[step(**low)], **high), swapped(before=[step(**high)], **low)
    assert [(p.spot, p.colour) for p in up.pauses] == [(p.spot, p.colour) for p in down.pauses]


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ({"at_layer": 51, "prime_ml": 10}, {"at_layer": 51, "prime_ml": 10}),
        ({"at_layer": 51, "prime_ml": 10}, {"at_layer": 52, "prime_ml": 10}),
        ({"at_layer": 51, "clear": "purge"}, {"at_layer": 54, "prime_ml": 0}),
        ({"at_layer": 51, "clear": "purge"}, {"at_layer": 51, "clear": "purge"}),
    ],
)
def test_swaps_that_would_stop_at_one_place_are_refused(
    first: dict[str, Any], second: dict[str, Any]
) -> None:
    """Two pauses at one layer's start leave no clay for the colour between them."""
    with pytest.raises(PlanError, match="same place, or the later one first"):
        swapped(before=[step(**first, colour="blue")], **second, colour="white")


@given(
    st.lists(st.integers(10, 100), min_size=2, max_size=4, unique=True),
    st.floats(0, 80),
    st.lists(st.sampled_from([0.0, 2.5, 10.0]), min_size=4, max_size=4),
)
def test_several_exact_swaps_all_arrive_or_are_refused(
    layers: list[int], line_ml: float, primes_ml: list[float]
) -> None:
    """In any order of listing, every front is exactly at its layer's start."""
    steps = [
        step(at_layer=layer, colour=str(layer), where="exact", prime_ml=prime_ml)
        for layer, prime_ml in zip(layers, primes_ml, strict=False)
    ]
    try:
        plan = swapped({"line_ml": line_ml}, before=steps[:-1], **steps[-1].settings.model_dump())
    except PlanError:
        assume(False)
    for layer in layers:
        front = front_spot(plan, pause_of(plan, str(layer)))
        assert POT.clay_before(front) == pytest.approx((layer - 1) * 10, abs=1e-4)


def test_what_is_loaded_counts_without_its_reserve() -> None:
    """300 ml with 50 in reserve are 250 to print with."""
    plan = swapped(at_layer=31, load_ml=300)
    assert (pause_of(plan).load_ml, cartridges(plan)[1].usable_ml) == (300, 250)
    assert pause_of(swapped(at_layer=31)).load_ml is None


@pytest.mark.parametrize(("load_ml", "words"), [(50, "all reserve"), (1000.5, "more than the 1000 ml")])
def test_what_no_cartridge_can_hold_is_refused(load_ml: float, words: str) -> None:
    """All reserve, or more than the cartridge's volume."""
    with pytest.raises(PlanError, match=f"load_ml can't be {load_ml:.1f}: it is {words}"):
        swapped(at_layer=31, load_ml=load_ml)


def test_the_message_is_gpost_s_unless_another_is_given() -> None:
    """The step says none of its own: what is to be put on is known when all is planned."""
    assert pause_of(swapped(at_layer=31, colour="blue"), "blue").message is None
    assert pause_of(swapped(at_layer=31, colour="blue", message="Now!"), "blue").message == "Now!"


@pytest.mark.parametrize(
    "settings",
    [
        {},
        {"at_layer": 3, "at_height_mm": 20},
        {"at_layer": 0},
        {"at_layer": 30, "clear": "purge", "where": "exact"},
        {"at_layer": 30, "extra_ml": 5},
        {"at_layer": 30, "colour": "blue\nM104"},
    ],
)
def test_settings_that_contradict_each_other_are_refused(settings: dict[str, Any]) -> None:
    """When the config is read, before any file is."""
    with pytest.raises(pydantic.ValidationError):
        swapped(**settings)


def test_several_pieces_are_refused() -> None:
    """A height is not one place then."""
    with pytest.raises(PlanError, match="2 pieces"):
        run_step(Swap, {"at_layer": 30}, make_survey(layers=40, pieces=2))


def test_a_rising_wall_changes_colour_at_the_seam() -> None:
    """From 60 mm on: the turn that starts at 60 mm, the 31st."""
    survey = make_survey(layers=100, rising=True, lines_per_layer=10)
    plan = run_step(Swap, {"at_height_mm": 60, "prime_ml": 0}, survey)
    assert plan.pauses[0].shows_at == layer_start(survey, 31)
    assert plan.pauses[0].spot == layer_start(survey, 25)


MIXED = {"line_ml": 60.0, "mixing_stages": 6.0, "plug_part": 0.5}


@pytest.mark.parametrize(("show", "share"), [("half", 0.5), ("start", 0.05)])
def test_through_a_line_that_mixes_half_or_start_comes_to_the_height(show: str, share: float) -> None:
    """The pause comes by as much clay early as the line needs to that share of the new."""
    plan = swapped(MIXED, at_layer=51, prime_ml=5, where="exact", show=show)
    ahead_ml = Hose(60, 6, 0.5).pushed_ml(share) - 5
    assert POT.clay_before(pause_of(plan).spot) == pytest.approx(500 - ahead_ml)
    assert front_spot(plan, pause_of(plan)).line == layer_start(POT, 51).line


def test_the_note_gives_start_half_and_full_of_a_mixed_change() -> None:
    """Where the hose mixes; a plug has one front alone."""
    (note,) = swapped(MIXED, at_layer=51, prime_ml=0, where="exact").of(Note)
    assert "it starts to show (5 %) at layer 49 (98.0 mm), is half at layer 51 (102.0 mm), " in note.text
    (plain,) = swapped(at_layer=51, prime_ml=0, where="exact").of(Note)
    assert "starts to show" not in plain.text


@given(st.floats(1, 80), st.floats(0, 60), st.integers(27, 100), st.sampled_from(["half", "start"]))
def test_exact_arrives_exactly_through_a_line_that_mixes(
    stages: float, prime_ml: float, layer: int, show: str
) -> None:
    """As for a plug: the share that counts is reached at the layer's start, or behind the prime."""
    line = {"line_ml": 120.0, "mixing_stages": stages, "plug_part": 0.2}
    plan = swapped(line, at_layer=layer, prime_ml=prime_ml, where="exact", show=show)
    front = front_spot(plan, pause_of(plan))
    assert POT.clay_before(front) == pytest.approx((layer - 1) * 10, abs=1e-5)


def test_a_fresh_cartridge_of_the_same_clay_is_no_swap() -> None:
    """Another step's pause for one has no place to show; swaps beside it are in order as without it."""

    class Fresh(Step[Any]):
        """Brings a fresh cartridge at layer 10."""

        name = "fresh"

        def plan(self, survey: Survey, plan: Plan) -> list[Pause]:
            return [Pause(layer_start(POT, 10), "fresh", "", "", new_cartridge=True)]

    fresh, red = Fresh(None), step(at_layer=40, colour="red")
    plan = swapped(before=[fresh, red], at_layer=60, colour="blue", prime_ml=0)
    assert pause_of(plan, "blue").spot == layer_start(POT, 54)
