"""The step that counts the clay."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

import pytest
from gpost_plugins.purge import Purge, PurgeSettings
from gpost_plugins.refill import Refill, RefillSettings
from gpost_plugins.swap import Swap, SwapSettings
from gpost_plugins.tally import Tally, gpost_steps

from gpost.api import Intention, Note, Pause, Plan, PlanError, Settings, Step, Survey
from gpost.supply.cartridges import shares
from gpost.testing import layer_start, make_survey, run_step

POT = make_survey(layers=100, ml_per_layer=10, layer_mm=2, lines_per_layer=10)


def tallied(*before: Step[Any], survey: Any = POT, cartridge: Any = None, **settings: Any) -> Plan:
    """The tally after other steps; grey clay of density 2, line 60 ml."""
    config = {
        "clay": {"colour": "grey", "wet_density_g_ml": 2.0},
        "cartridge": {"line_ml": 60, **(cartridge or {})},
    }
    return run_step(Tally, settings, survey, config, before)


def texts(plan: Plan, *, warning: bool = False) -> list[str]:
    """What it says or warns of."""
    notes = [entry.intention for entry in plan.entries if entry.step == "tally"]
    return [note.text for note in notes if isinstance(note, Note) and note.warning == warning]


def swap(**settings: Any) -> Swap:
    """A swap to blue without a prime."""
    return Swap(SwapSettings(**{"prime_ml": 0, "colour": "blue", **settings}))


def test_the_module_offers_the_step() -> None:
    """The hook names the class, and nothing else."""
    assert list(gpost_steps()) == [Tally]


@pytest.mark.parametrize(
    "spread", [{}, {"metering": {"unit": "filament", "diameter_mm": 1.75, "spread_percent": 4}}]
)
def test_a_cartridge_has_one_number(spread: dict[str, Any]) -> None:
    """What refill and tally say of each is one amount; what of it comes back is said beside it."""
    config = {"clay": {"colour": "grey", **spread}, "cartridge": {"volume_ml": 1000, "line_ml": 60}}
    steps = [swap(at_layer=51), Refill(RefillSettings())]
    plan = run_step(Tally, {}, POT, config, steps)
    (none,) = [
        entry.intention.text
        for entry in plan.entries
        if entry.step == "refill" and isinstance(entry.intention, Note)
    ]
    by_refill = re.findall(r"cartridge (\d+) gives ([\d.]+) of the", none)
    by_tally = [re.match(r"cartridge (\d+) \(.*?\)[^:]*: ([\d.]+) ml", text) for text in texts(plan)]
    assert by_refill == [found.groups() for found in by_tally if found]
    assert [number for number, _ in by_refill] == ["1", "2"]


def test_it_changes_nothing() -> None:
    """Notes alone, and no clay added."""
    plan = tallied()
    assert all(isinstance(entry.intention, Note) for entry in plan.entries)
    assert plan.total_ml == POT.clay_ml


def test_cartridges_bands_and_colours_by_hand() -> None:
    """Purge 40; blue asked for at layer 51, so it is loaded at layer 45: 480 ml of grey, 560 of blue.

    500 ml of the piece are grey, as 60 of them are in the line when the cartridges change. The 6 minutes that
    the line takes, and the seconds at the park, leave 53.8 of the 60: 53 are told.
    """
    plan = tallied(Purge(PurgeSettings(volume_ml=40)), swap(at_layer=51), bands_mm=60)
    assert texts(plan) == [
        "cartridge 1 (grey): 480.0 ml, 960 g wet, of 950.0 ml that can be counted on",
        "cartridge 2 (blue), loaded at layer 45 (90.0 mm): 560.3 ml, 1121 g wet, 0.3 ml of which are drawn "
        "back again, of 950.0 ml that can be counted on",
        "the piece: 2000 g wet, 1500 g dry, 500 g of water to dry off",
        "layers 1 to 30, up to 60.0 mm: 300.0 ml, 600 g wet (grey)",
        "layers 31 to 60, up to 120.0 mm: 300.0 ml, 600 g wet (grey 200.0 ml, blue 100.0 ml)",
        "layers 61 to 90, up to 180.0 mm: 300.0 ml, 600 g wet (blue)",
        "layers 91 to 100, up to 200.0 mm: 100.0 ml, 200 g wet (blue)",
        "grey: 480.0 ml leave the cartridges, 500.0 ml are in the piece, 40.0 ml are run out beside it",
        "blue: 560.0 ml leave the cartridges, 500.0 ml are in the piece, 0.0 ml are run out beside it",
        "blue is expected from layer 51 (102.0 mm) on",
        "clay is up to 6 min out of its cartridge when it is laid (layer 45 (90.0 mm)), of the 60 min that it "
        "can be worked; waiting is not counted",
        "the swap pause at layer 45 (90.0 mm) may last 53 min if no other waits, as clay ages in the hose",
    ]


@pytest.mark.parametrize(
    ("settings", "count"), [({}, 4), ({"bands": 1}, 1), ({"bands": 7}, 7), ({"bands_mm": 30}, 7)]
)
def test_the_number_of_bands(settings: dict[str, Any], count: int) -> None:
    """Four of one height out of the box; 200 mm make seven bands of 30 mm, the last one lower."""
    assert sum(text.startswith("layer") for text in texts(tallied(**settings))) == count


@pytest.mark.parametrize(("minutes", "words"), [(30, "30 min that it can be worked;"), (29, "too old from")])
def test_clay_that_gets_too_old_is_told_with_its_layer(minutes: float, words: str) -> None:
    """5 ml a layer and minute, and 150 ml in the hose: from layer 30 on clay is half an hour in it."""
    config = {"clay": {"working_min": minutes}, "cartridge": {"line_ml": 150}}
    plan = run_step(Tally, {}, make_survey(layers=99, ml_per_layer=5), config)
    (text,) = [text for text in texts(plan) if text.startswith("clay is up to 30 min out of its cartridge")]
    assert words in text
    assert "too old from layer 30 (60.0 mm)" in text or minutes == 30


def test_pieces_one_after_the_other_have_no_bands() -> None:
    """A height is not one place then, but cartridges are counted."""
    plan = tallied(survey=make_survey(layers=9, pieces=3))
    assert not any(text.startswith("layer") for text in texts(plan))
    assert any("cartridge 1" in text for text in texts(plan))


def test_a_piece_that_needs_more_than_its_cartridges_is_warned_of() -> None:
    """1000 ml out of 950: it runs out in layer 96, and one more cartridge is needed."""
    (text,) = texts(tallied(), warning=True)
    assert "cartridge 1 (grey) runs out in layer 96 (192.0 mm): 1000.0 ml are asked of it" in text
    assert "At least 1 more cartridge and a pause for each are needed; add refill" in text


@pytest.mark.parametrize(("volume_ml", "more"), [(550, 1), (549, 2), (300, 3)])
def test_it_says_how_many_cartridges_are_missing(volume_ml: float, more: int) -> None:
    """1000 ml from cartridges of 500, 499 or 250 to count on: 2, 3 or 4 in all."""
    (text,) = texts(tallied(cartridge={"volume_ml": volume_ml}), warning=True)
    assert f"At least {more} more" in text


def test_a_short_cartridge_after_a_swap_is_named() -> None:
    """Blue from 440 ml on has 200 ml to count on, less the 0.3 that the pause drew back: to 639.7, layer 64."""
    (text,) = texts(tallied(swap(at_layer=51, load_ml=250)), warning=True)
    assert "cartridge 2 (blue) runs out in layer 64 (128.0 mm): 560.3 ml" in text


@pytest.mark.parametrize(
    "before", [(Refill(RefillSettings()),), (swap(at_layer=51), Refill(RefillSettings()))]
)
def test_with_refills_nothing_runs_short(before: tuple[Step[Any], ...]) -> None:
    """No warning, and a refill is named as a cartridge of the same clay."""
    plan = tallied(*before)
    assert not texts(plan, warning=True)
    assert sum("cartridge" in text and "loaded at" in text for text in texts(plan)) == 1


class TooLate(Step[Settings]):
    """Loads blue where 50 ml are left to lay, too few for the line's 60."""

    name = "late"
    Settings = Settings

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """One pause, at layer 96."""
        spot = layer_start(survey, 96)
        return [Pause(spot, "swap", "", "", new_cartridge=True, colour="blue")]


def test_a_colour_that_never_shows_is_warned_of() -> None:
    """What is loaded too late stays in the line."""
    (text,) = texts(tallied(TooLate(Settings())), warning=True)
    assert text == "blue never reaches the nozzle; swap earlier, or use clear: purge"


def test_a_file_without_layers_is_refused() -> None:
    """There is nothing to count."""
    with pytest.raises(PlanError, match="no clay is laid"):
        tallied(survey=make_survey(layers=0))


def test_a_mixed_change_is_told_with_its_start_and_end() -> None:
    """Beside where the colour is expected, where it is 5, 50 and 95 %."""
    plan = tallied(swap(at_layer=51), cartridge={"mixing_stages": 8})
    (text,) = [text for text in texts(plan) if "is expected from" in text]
    assert "it starts to show (5 %) at layer 47 (94.0 mm)" in text
    assert "is full (95 %) at layer 54 (108.0 mm)" in text


def test_a_mixed_change_is_told_height_by_height() -> None:
    """What shows in some of its layers, as the line gives it on their middles; a plug needs no such note."""
    plan = tallied(swap(at_layer=51), cartridge={"mixing_stages": 8})
    (text,) = [text for text in texts(plan) if text.startswith("blue by height: ")]
    blue = float(shares(plan, 505)["blue"])
    assert f"; at 102 mm: {blue * 100:.0f} % blue, {100 - blue * 100:.0f} % grey; " in text
    assert not any("by height" in text for text in texts(tallied(swap(at_layer=51))))
