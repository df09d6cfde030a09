"""Names of clays that are nearly alike."""

from __future__ import annotations

from typing import Any

import pytest

from gpost.config.model import Config
from gpost.plan.intentions import Pause
from gpost.plan.plan import Plan
from gpost.supply.names import alike, clay_doubts, doubt, names_of
from gpost.testing import layer_start, make_survey


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("white", "whit"),
        ("white", "White"),
        ("white", "white stoneware"),
        ("white stoneware", "white stonware"),
        ("white stoneware", "white-stoneware"),
        ("sky blue", "skyblue"),
        ("blue", "bleu"),
        ("grey", "gray"),
    ],
)
def test_a_slip_of_the_pen_is_found(first: str, second: str) -> None:
    """Either way round: a letter, a capital, a space, or a word that is left out behind."""
    assert list(alike([first, second])) == [(first, second)]
    assert list(alike([second, first])) == [(second, first)]


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("white", "white"),
        ("grey", "green"),
        ("red clay", "blue clay"),
        ("light blue", "dark blue"),
        ("red", "dark red"),
        ("marl 1", "marl 2"),
        ("white", "white 2"),
        ("first clay", "second clay"),
        ("", "white"),
        ("...", "white"),
    ],
)
def test_two_clays_are_left_alone(first: str, second: str) -> None:
    """Names that a potter may well give to two clays, and one name given twice."""
    assert list(alike([first, second])) == []
    assert list(alike([second, first])) == []


def test_the_doubt_names_both() -> None:
    """And asks, for only the potter knows."""
    assert "white and whit count as two clays: are these two clays, or is one misspelt?" in doubt(
        "white", "whit"
    )


POT = make_survey(layers=50, ml_per_layer=10)
STUDIO = [{"name": "white"}, {"name": "cobalt blue"}, {"name": "marl 1"}]


def asked(*swaps: str, **config: Any) -> list[str]:
    """What is asked about the names of a job with those swaps."""
    pauses = [
        Pause(layer_start(POT, 10 + 5 * number), "swap", "", "", new_cartridge=True, colour=colour)
        for number, colour in enumerate(swaps)
    ]
    return clay_doubts([names_of(Plan(POT, Config.model_validate(config)).adding("swap", pauses))])


def test_a_swap_to_a_name_that_is_nearly_a_known_one_is_asked_about() -> None:
    """Misspelt, it would count as a third clay; clays that are merely of one kind are left alone."""
    grey = {"colour": "grey"}
    (text,) = asked("blue", "gray", clay=grey)
    assert "grey and gray count as two clays: are these two clays, or is one misspelt?" in text
    assert asked("blue", "green", clay=grey) == []
    assert asked("blue") == []


def test_names_are_held_against_the_studio_s() -> None:
    """A near one is asked about with the one that it may be, another is said to be unknown; bands count too."""
    assert asked("cobalt blue", clays=STUDIO, clay={"colour": "white"}) == []
    (text,) = asked("cobalt bleu", clays=STUDIO, clay={"colour": "white"})
    assert text.startswith("cobalt blue and cobalt bleu count as two clays")
    (text,) = asked("celadon", clays=STUDIO)
    assert text.startswith("celadon is none of the studio's clays (clays): white, cobalt blue, marl 1")
    bands = {"bands": [{"to_mm": 50, "clay": "white"}, {"clay": "celadon"}], "line_holds": "whit"}
    assert [text.split()[0] for text in asked(clays=STUDIO, colours=bands)] == ["white", "celadon"]


def test_two_clays_of_the_studio_may_be_as_near_as_they_like() -> None:
    """Whoever lists both means both."""
    both = [{"name": "grey"}, {"name": "gray"}]
    assert asked("gray", clays=both, clay={"colour": "grey"}) == []
