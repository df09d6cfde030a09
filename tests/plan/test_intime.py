"""Where pauses must stand so that their clay shows in time, and that the plan keeps them there."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.api import Air, Config, LayClay, MovePause, Note, Pause, Plan, ScaleFlow, Spot, Stroke
from gpost.plan.intime import early_spot, in_time, moved, wanted, with_pause
from gpost.testing import layer_start, make_survey
from tests.lookups import answering

POT = make_survey(layers=50, ml_per_layer=10, lines_per_layer=10)


def change(layer: int, shows: int | None, *, keep: bool = True, **more: Any) -> Pause:
    """A new cartridge at one layer, to show at another."""
    shows_at = None if shows is None else layer_start(POT, shows)
    spot = layer_start(POT, layer)
    return Pause(spot, "dye", "", "", new_cartridge=True, shows_at=shows_at, in_time=keep, **more)


def laid(layer: int, clay_ml: float) -> LayClay:
    """So much clay beside the piece at a layer's start."""
    return LayClay(layer_start(POT, layer), (Stroke(((0, 0), (9, 0)), 10, 4, 4, clay_ml),), 600)


def planned(*wishes: Any, keeping: bool = False) -> Plan:
    """The wishes on the pot, with 60 ml of line."""
    config = Config.model_validate({"cartridge": {"line_ml": 60}})
    return Plan(POT, config).adding("test", wishes, keeping=keeping)


def test_a_pause_without_a_colour_has_no_place_to_show() -> None:
    """Asking for it is a fault of the caller."""
    with pytest.raises(ValueError, match="no new colour"):
        wanted(change(5, None))


def test_pauses_that_are_to_be_in_time_are_put_right_and_nothing_else() -> None:
    """One that is two layers late moves; the purged one, the note and the one that is held stay."""
    late, purged, held = change(17, 21), change(30, 30, keep=False), change(43, 47, keep=False)
    plan = planned(late, Note("x"), purged, held)
    found = in_time(plan)
    assert [entry.intention for entry in found.entries[1:]] == [Note("x"), purged, held]
    assert found.entries[0].intention == change(15, 21)
    assert [(index, after.spot) for index, _, after in moved(plan, found)] == [(0, layer_start(POT, 15))]
    assert in_time(found) is found


def test_a_pause_is_replaced_under_its_step() -> None:
    """The entry keeps the name of the step that wished it."""
    plan = with_pause(planned(Note("x"), change(5, 11)), 1, change(6, 11))
    assert plan.entries[1].step == "test"
    assert plan.pauses == [change(6, 11)]


def test_clay_inserted_on_the_way_counts() -> None:
    """30 ml laid beside the piece at layer 19 push the new clay on: the pause comes 3 layers later."""
    assert early_spot(planned(laid(19, 30)), change(1, 21)) == layer_start(POT, 18)
    assert early_spot(planned(), change(1, 21)) == layer_start(POT, 15)


def test_what_runs_out_in_the_pause_itself_needs_no_print() -> None:
    """Of 60 ml of line 20 are primed and 30 laid, so that the pause comes one layer ahead; or none."""
    assert early_spot(planned(), change(1, 21, prime_ml=20, lay=laid(1, 30))) == layer_start(POT, 20)
    assert early_spot(planned(), change(1, 21, prime_ml=60)) == layer_start(POT, 21)


def test_the_plan_keeps_a_pause_in_time_whatever_is_added_later() -> None:
    """30 ml at layer 19 push it on by 3 layers; whose step that was, and why, stands in the plan."""
    plan = planned(change(1, 21), keeping=True)
    assert plan.pauses[0].spot == layer_start(POT, 15)
    assert not plan.moved
    later = plan.adding("glaze", [laid(19, 30)])
    assert later.pauses[0].spot == layer_start(POT, 18)
    ((step, move),) = later.moved
    assert (step, move.old.spot, move.new) == ("glaze", layer_start(POT, 15), later.pauses[0])
    assert move.why == "more or less clay runs on the way"


@pytest.mark.parametrize(
    ("added", "why"),
    [
        (
            Pause(layer_start(POT, 19), "look", "", "", prime_ml=30),
            "the primes of looks on the way push its clay on",
        ),
        (
            Pause(layer_start(POT, 19), "dye", "", "", prime_ml=30, new_cartridge=True, colour="red"),
            "the dye to red pushes its clay on",
        ),
        (
            ScaleFlow(layer_start(POT, 1).line, layer_start(POT, 51 - 1).line, 2.0),
            "more or less clay runs on the way",
        ),
    ],
)
def test_it_is_said_what_pushes_a_pause_on(added: Any, why: str) -> None:
    """By the pause's own word and colour; with twice the clay 60 ml are only three layers."""
    later = planned(change(15, 21)).adding("other", [added])
    assert later.pauses[0].spot == layer_start(POT, 18) or later.pauses[1].spot == layer_start(POT, 18)
    assert [move.why for _, move in later.moved] == [why]


def test_a_pause_moved_elsewhere_on_purpose_stays_there() -> None:
    """Who really wants another place says that it need not be in time any more."""
    plan = planned(change(15, 21), keeping=True)
    there = dataclasses.replace(plan.pauses[0], spot=layer_start(POT, 12), in_time=False)
    held = plan.adding("join", [MovePause(plan.pauses[0], there, "joined")]).adding("glaze", [laid(19, 30)])
    assert held.pauses == [there]
    assert [(step, move.why) for step, move in held.moved] == [("join", "joined")]


def test_to_hold_a_pause_where_it_stands_is_no_move() -> None:
    """Nothing is told of it, as nothing in the file changes."""
    plan = planned(change(15, 21), keeping=True)
    still = dataclasses.replace(plan.pauses[0], in_time=False)
    assert not plan.adding("join", [MovePause(plan.pauses[0], still, "held")]).moved


def test_what_changes_no_clay_moves_nothing() -> None:
    """Words, air and a mere look leave a pause even where it is not in time."""
    plan = planned(change(17, 21))
    look = Pause(layer_start(POT, 30), "look", "", "")
    assert plan.adding("other", [Note("x"), Air(Spot(3), 0.5), look]).pauses[0] == change(17, 21)


def test_a_trial_keeps_nothing() -> None:
    """So that a step can lay pauses out round others as they stand."""
    plan = planned(change(15, 21), keeping=True)
    assert plan.adding("trial", [laid(19, 30)], keeping=False).pauses == plan.pauses


@given(
    st.lists(st.integers(12, 50), min_size=1, max_size=4, unique=True),
    st.lists(st.tuples(st.integers(2, 50), st.floats(0.5, 40)), max_size=5),
    st.randoms(),
)
def test_the_order_in_which_clay_is_added_cannot_be_seen(
    shows: list[int], lays: list[tuple[int, float]], random: Any
) -> None:
    """Exact pauses come to the same spots if clay is added before or after them, in any order; each in time."""
    pauses = [change(1, layer, within_layer=True) for layer in sorted(shows)]
    extra = [laid(layer, ml) for layer, ml in lays]
    first = planned(*extra).adding("dye", pauses)
    second = planned(*pauses, keeping=True)
    random.shuffle(extra)
    for lay in extra:
        second = second.adding("other", [lay])
    there = [[p.spot.line + p.spot.fraction for p in plan.pauses] for plan in (first, second)]
    assert there[0] == pytest.approx(there[1], abs=1e-6)


def test_a_pause_that_can_only_stand_before_its_place_is_not_moved_again() -> None:
    """Its place is inside an arc and its prime empties the hose: it stands before the arc, and that is that."""
    arcs = answering(POT, stands_at=lambda spot, arcs=False: Spot(spot.line))
    inside = dataclasses.replace(change(1, 21, within_layer=True, prime_ml=60), shows_at=Spot(215, 0.5))
    plan = dataclasses.replace(planned(), survey=arcs).adding("dye", [inside])
    assert plan.pauses[0].spot == Spot(215)
    later = plan.adding("glaze", [laid(3, 30)])
    assert (later.pauses, later.moved) == (plan.pauses, ())


def test_a_file_without_layers_has_nothing_to_keep() -> None:
    """A pause there stays where its step wants it."""
    pause = Pause(Spot(3), "dye", "", "", new_cartridge=True, shows_at=Spot(5), in_time=True)
    assert Plan(make_survey(layers=0), Config()).adding("dye", [pause]).pauses == [pause]


@pytest.mark.parametrize(
    ("line_ml", "spot"),
    [
        (60, layer_start(POT, 15)),
        (60.0000005, layer_start(POT, 15)),
        (60.5, Spot(layer_start(POT, 15).line - 1, pytest.approx(0.5))),  # type: ignore[arg-type]
        (57, Spot(layer_start(POT, 15).line + 3)),
    ],
)
def test_an_exact_place_a_hair_from_a_layer_s_start_is_that_start(line_ml: float, spot: Spot) -> None:
    """Half a millionth of a millilitre is rounding; half a millilitre is half a line."""
    plan = Plan(POT, Config.model_validate({"cartridge": {"line_ml": line_ml}}))
    assert early_spot(plan, change(1, 21, within_layer=True)) == spot
