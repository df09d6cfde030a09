"""Where swaps must stop so that their colours arrive in time."""

from __future__ import annotations

from typing import Any

import pytest
from gpost_plugins.fronts import clears_early, early_spot, lag_ml, moved, settled, wanted, with_pause

from gpost.api import Config, LayClay, Note, Pause, Plan, Spot, Stroke
from gpost.testing import layer_start, make_survey

POT = make_survey(layers=50, ml_per_layer=10, lines_per_layer=10)


def change(layer: int, shows: int | None, **more: Any) -> Pause:
    """A new cartridge at one layer, to show at another."""
    shows_at = None if shows is None else layer_start(POT, shows)
    return Pause(layer_start(POT, layer), "swap", "", "", new_cartridge=True, shows_at=shows_at, **more)


def planned(*wishes: Any) -> Plan:
    """The wishes on the pot, with 60 ml of line."""
    return Plan(POT, Config.model_validate({"cartridge": {"line_ml": 60}})).adding("test", wishes)


LAY = LayClay(Spot(0), (Stroke(((0, 0), (9, 0)), 10, 4, 4, 60),), 600)


@pytest.mark.parametrize(
    ("pause", "early"),
    [
        (change(5, 11), True),
        (change(11, 11, lay=LAY), False),
        (change(5, None), False),
        (Pause(Spot(60), "look", "", "", shows_at=Spot(90)), False),
    ],
)
def test_only_a_swap_that_waits_for_the_print_to_clear_the_line_is_early(pause: Pause, early: bool) -> None:
    """A purged one, a refill and a mere look hang on nothing."""
    assert clears_early(pause) is early


def test_a_pause_without_a_colour_has_no_place_to_show() -> None:
    """Asking for it is a fault of the caller."""
    with pytest.raises(ValueError, match="no new colour"):
        wanted(change(5, None))


@pytest.mark.parametrize(("layer", "lag"), [(15, 0), (14, -10), (17, 20)])
def test_lag_by_hand(layer: int, lag: float) -> None:
    """For layer 21 the pause belongs to layer 15; each layer later is 10 ml late."""
    pause = change(layer, 21)
    assert lag_ml(planned(pause), pause) == pytest.approx(lag)


@pytest.mark.parametrize(("laid_ml", "prime_ml", "lag"), [(60, 0, 0), (90, 0, 0), (40, 20, 0), (30, 10, 20)])
def test_clay_that_runs_out_at_the_pause_itself_is_in_time(
    laid_ml: float, prime_ml: float, lag: float
) -> None:
    """With 60 ml of line: what purge and prime leave in it is late, and more than it holds is not early."""
    lay = LayClay(Spot(0), (Stroke(((0, 0), (9, 0)), 10, 4, 4, laid_ml),), 600)
    pause = change(21, 21, lay=lay, prime_ml=prime_ml)
    assert lag_ml(planned(pause), pause) == pytest.approx(lag)


def test_settled_puts_every_early_swap_right_and_nothing_else() -> None:
    """One that is two layers late moves; the purged one, the note and the one to leave stay."""
    late, purged, left = change(17, 21), change(30, 30, lay=LAY), change(43, 47)
    plan = planned(late, Note("x"), purged, left)
    found = settled(plan, leave={3})
    assert [entry.intention for entry in found.entries[1:]] == [Note("x"), purged, left]
    assert found.entries[0].intention == change(15, 21)
    assert [(index, after.spot) for index, _, after in moved(plan, found)] == [(0, layer_start(POT, 15))]
    assert settled(found, leave={3}) is found


def test_a_pause_is_replaced_under_its_step() -> None:
    """The entry keeps the name of the step that wished it."""
    plan = with_pause(planned(Note("x"), change(5, 11)), 1, change(6, 11))
    assert plan.entries[1].step == "test"
    assert plan.pauses == [change(6, 11)]


def test_clay_inserted_on_the_way_counts() -> None:
    """30 ml laid beside the piece at layer 19 push the new clay on: the pause comes 3 layers later."""
    lay = LayClay(layer_start(POT, 19), (Stroke(((0, 0), (9, 0)), 10, 4, 4, 30),), 600)
    assert early_spot(planned(lay), change(1, 21)) == layer_start(POT, 18)
    assert early_spot(planned(), change(1, 21)) == layer_start(POT, 15)
