"""Names of clays that are nearly alike."""

from __future__ import annotations

import pytest

from gpost.supply.names import alike, doubt


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
