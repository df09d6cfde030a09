"""Colour by height as a potter asks for it."""

from __future__ import annotations

from typing import Any

import pydantic
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.colours import Bands
from gpost.supply.bands import ColourWish, above_top, name_of, same, wishes


def bands(*entries: dict[str, Any], **more: Any) -> Bands:
    """The bands as a file gives them."""
    return Bands.model_validate({"bands": list(entries), **more})


def test_bands_by_hand() -> None:
    """A foot, a blend of two steps, a rim: a third of blue from 40, two thirds from 60 mm."""
    found = wishes(
        bands(
            {"to_mm": 40, "clay": "white"},
            {"to_mm": 80, "blend": ["white", "blue"], "steps": 2, "edge_mm": 3},
            {"clay": "blue"},
        ),
        100,
    )
    assert [wish.from_mm for wish in found] == [0, 40, 60, 80]
    assert [wish.mix.get("blue", 0) for wish in found] == pytest.approx([0, 1 / 3, 2 / 3, 1])
    assert [wish.edge_mm for wish in found] == [None, 3, None, None]
    assert [wish.plain for wish in found] == [True, False, False, True]


def test_what_lies_above_the_piece_is_left_out() -> None:
    """A low piece shows the lower bands alone, and always the first."""
    asked = bands({"to_mm": 40, "clay": "white"}, {"to_mm": 60, "clay": "blue"}, {"clay": "red"})
    assert [wish.mix for wish in wishes(asked, 50)] == [{"white": 1}, {"blue": 1}]
    assert [wish.mix for wish in wishes(asked, 30)] == [{"white": 1}]


def test_steps_of_a_blend_above_the_piece_are_counted() -> None:
    """Of four steps of 25 mm the upper two begin at 50 and 75 mm; a band above is told by itself."""
    asked = bands({"to_mm": 100, "blend": ["white", "blue"], "steps": 4}, {"clay": "red"})
    blend, band = above_top(asked, 50)
    assert blend.startswith("of the blend from white to blue from 0.0 mm on 2 of 4 steps are left out: ")
    assert band.startswith("the band of red from 100.0 mm on is left out: the piece is 50.0 mm high")
    assert list(above_top(asked, 120)) == []


@pytest.mark.parametrize(("other", "found"), [({"b": 2 / 3, "a": 1 - 2 / 3}, True), ({"a": 1.0}, False)])
def test_mixtures_are_the_same_but_for_rounding(other: dict[str, float], found: bool) -> None:
    """In whatever order the clays stand."""
    assert same({"a": 1 / 3, "b": 2 / 3}, other) is found


@given(st.integers(1, 50), st.floats(1, 500))
def test_a_blend_rises_evenly_between_its_neighbours(steps: int, top_mm: float) -> None:
    """Shares add up to 1, grow from step to step by the same, and the steps are of one height."""
    found = wishes(bands({"blend": ["white", "blue"], "steps": steps}), top_mm)
    assert len(found) == steps
    for number, wish in enumerate(found):
        assert sum(wish.mix.values()) == pytest.approx(1)
        assert wish.mix["blue"] == pytest.approx((number + 1) / (steps + 1))
        assert wish.from_mm == pytest.approx(top_mm * number / steps)


def test_a_blend_of_a_clay_with_itself_is_that_clay() -> None:
    """No clay is named twice."""
    assert wishes(bands({"blend": ["white", "white"], "steps": 1}), 10)[0].mix == {"white": 1}


@pytest.mark.parametrize(
    ("mix", "name"), [({"blue": 1.0}, "blue"), ({"white": 0.75, "blue": 0.25}, "75 % white, 25 % blue")]
)
def test_a_mixture_has_a_name(mix: dict[str, float], name: str) -> None:
    """Pure clays by their name, mixtures by their parts."""
    assert name_of(mix) == name


@pytest.mark.parametrize(
    ("entries", "text"),
    [
        ([], "at least 1"),
        ([{"to_mm": 5}], "exactly one of clay and blend"),
        ([{"clay": "a", "blend": ["a", "b"]}], "exactly one of clay and blend"),
        ([{"clay": "a"}, {"clay": "b"}], "every band but the last"),
        ([{"to_mm": 9, "clay": "a"}, {"to_mm": 9, "clay": "b"}], "ends below where it begins"),
        ([{"to_mm": 9, "clay": "a"}, {"to_mm": 5, "clay": "b"}, {"clay": "c"}], "ends below"),
        ([{"clay": "a\nM104"}], "printable"),
    ],
)
def test_bands_that_cannot_be_are_refused(entries: list[dict[str, Any]], text: str) -> None:
    """When the file is read, with a sentence."""
    with pytest.raises(pydantic.ValidationError, match=text):
        bands(*entries)


def test_a_wish_of_no_band_has_the_number_nought() -> None:
    """Bands count from 1; what fills the hose is none of them."""
    assert ColourWish(0.0, {"white": 1.0}, None, True).band == 0
    assert [wish.band for wish in wishes(Bands.model_validate({"bands": [{"clay": "white"}]}), 50.0)] == [1]
