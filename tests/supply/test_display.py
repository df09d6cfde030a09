"""What the display says at a pause: which clay, how much, cut to what it shows."""

from __future__ import annotations

from typing import Any

import pytest

from gpost.config.model import Config
from gpost.plan.intentions import Pause
from gpost.plan.plan import Plan
from gpost.supply.display import Messages
from gpost.testing import layer_start, make_survey

POT = make_survey(layers=50, ml_per_layer=10)
"""500 ml: with a change at layer 21 the second cartridge gives 300, and must hold 50 more."""


def said(letters: int = 20, *, clays: Any = (), **wish: Any) -> str:
    """The message of a change at layer 21; density 2."""
    config = {
        "machine": {"display_letters": letters, "pause": {"relieve_ml": 0}},
        "clay": {"wet_density_g_ml": 2.0, **({"colour": "grey"} if wish.pop("named", True) else {})},
        "cartridge": {"reserve_ml": 50},
        "clays": clays,
        "colours": wish.pop("colours", None),
    }
    pause = Pause(layer_start(POT, 21), "swap", "", **{"new_cartridge": True, **wish})
    plan = Plan(POT, Config.model_validate(config)).adding("test", [pause])
    return Messages(plan).of(plan.pauses[0])


@pytest.mark.parametrize(
    ("letters", "colour", "text"),
    [
        (40, "blue", "Load 2: blue 350 ml, 700 g"),
        (26, "blue", "Load 2: blue 350 ml, 700 g"),
        (25, "blue", "Load blue 350 ml 700 g"),
        (20, "blue", "blue 350ml 700g"),
        (14, "blue", "blue 350ml"),
        (8, "blue", "bl 350ml"),
        (20, "cobalt blue porcelain", "cobalt blue po 350ml"),
        (40, None, "Refill 2: grey 350 ml, 700 g"),
        (20, None, "grey 350ml 700g"),
    ],
)
def test_the_longest_that_is_shown_whole(letters: int, colour: str | None, text: str) -> None:
    """300 ml are asked of it and 50 stay behind; what has to be cut is the name, never the amount."""
    assert said(letters, colour=colour) == text
    assert len(text) <= letters


def test_a_single_clay_without_a_name_is_not_named() -> None:
    """`Refill first clay` would make one look for a second."""
    assert said(named=False) == "Refill 350 ml 700 g"
    assert said(40, named=False) == "Refill 2: 350 ml, 700 g"


def test_a_message_of_one_s_own_stays_as_it_is() -> None:
    """However long, and also if it says nothing."""
    assert said(message="Fetch the potter, and no jokes") == "Fetch the potter, and no jokes"
    assert said(message="") == ""
    assert said(new_cartridge=False) == "Swap"


def test_how_much_was_asked_for_is_said() -> None:
    """Of a cartridge that is to be part-filled; a clay of the studio weighs what it weighs."""
    assert said(colour="blue", load_ml=400.0) == "blue 400ml 800g"
    heavy = [{"name": "grey"}, {"name": "blue", "wet_density_g_ml": 1.5}]
    assert said(colour="blue", clays=heavy) == "blue 350ml 525g"


def test_bands_say_how_many_slugs() -> None:
    """Where a cartridge holds several; of one clay, which."""
    bands = {"bands": [{"to_mm": 70, "clay": "white"}, {"clay": "blue"}], "line_holds": "white"}
    assert said(40, colours=bands) == "Refill 2: 3 slugs 350 ml, 700 g"
    below = {"bands": [{"to_mm": 20, "clay": "white"}, {"clay": "blue"}]}
    assert said(40, colours=below) == "Refill 2: blue 350 ml, 700 g"


def test_a_pause_of_another_plan_is_refused() -> None:
    """Nobody could say what goes in."""
    plan = Plan(POT, Config())
    with pytest.raises(ValueError, match="not in the plan"):
        Messages(plan).of(Pause(layer_start(POT, 3), "swap", "", new_cartridge=True))


def first(letters: int, number: int | None = None, *, colours: Any = None, first_ml: float | None = None) -> Any:
    """What is asked for at the start of a pot of 500 ml."""
    config = {
        "machine": {"display_letters": letters},
        "clay": {"colour": "porcelain"},
        "cartridge": {"reserve_ml": 50, "line_ml": 60, "first_ml": first_ml},
        "colours": colours,
    }
    return Messages(Plan(POT, Config.model_validate(config))).at_start(number)


SLUGS = {"line_holds": "grey", "bands": [{"to_mm": 40, "clay": "grey"}, {"clay": "blue"}]}


@pytest.mark.parametrize(
    ("letters", "number", "texts"),
    [
        (40, None, ("Hose and cartridge: porcelain 550 ml",)),
        (20, None, ("In: porcelain 550 ml",)),
        (14, None, ("porcelai 550ml",)),
        (40, 3, ("Hose and cartridge 3: porcelain 550 ml",)),
        (19, 3, ("3: porcelain 550 ml",)),
        (14, 3, ("3: porce 550ml",)),
    ],
)
def test_the_clay_at_the_start(letters: int, number: int | None, texts: tuple[str, ...]) -> None:
    """500 ml are asked of the cartridge and 50 stay behind; the name is cut, never amount or number."""
    assert first(letters, number) == texts
    assert all(len(text) <= letters for text in texts)


def test_what_the_config_has_in_the_first_cartridge_is_asked_for() -> None:
    """More may be in it than this piece takes; full ml, not more than there are."""
    assert first(40, first_ml=700.7) == ("Hose and cartridge: porcelain 700 ml",)


def test_hose_and_slugs_are_asked_for_one_by_one_unless_both_are_shown_whole() -> None:
    """Two waits on a small display, one on a large one."""
    assert first(40, 2, colours=SLUGS) == ("Hose: grey, cartridge 2: 3 slugs 550 ml",)
    assert first(20, 2, colours=SLUGS) == ("In the hose: grey", "2: 3 slugs 550 ml")
    assert first(12, colours=SLUGS) == ("Hose: grey", "3 slug 550ml")
