"""Slugs that are too thin to keep their shape on the way out of the cartridge, and what is made of blends then."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from gpost.api import Config, Plan
from gpost.supply.loading import LoadingSheet, loading_sheet
from gpost.testing import make_survey

POT = make_survey(layers=90, ml_per_layer=10, layer_mm=1)
BORE_MM = 60.0
ML_PER_MM = math.pi / 4 * BORE_MM**2 / 1000


def sheet(
    *bands: dict[str, Any], line_ml: float = 0.0, line_holds: str | None = None, **cartridge: Any
) -> LoadingSheet:
    """The bands on a pot of 90 mm and 10 ml for each, out of one cartridge with a bore of 60 mm."""
    known = {"volume_ml": 1000, "reserve_ml": 50, "line_ml": line_ml, "bore_mm": BORE_MM, **cartridge}
    wanted = {"bands": bands, "line_holds": line_holds}
    return loading_sheet(Plan(POT, Config.model_validate({"cartridge": known, "colours": wanted})))


BLEND = {"blend": ["white", "blue"]}


@pytest.mark.parametrize(
    ("to_mm", "least_slug_mm", "words"),
    [
        (
            5.0,
            None,
            "1 slug is thinner than 15 mm (42 ml; cartridge: least_slug_mm), the thinnest 14.1 mm of white",
        ),
        (6.0, None, None),  # 50 ml are 17.7 mm
        (6.0, 20.0, "1 slug is thinner than 20 mm (57 ml"),
        (5.0, 14.0, None),
        (5.0, 0.0, None),
    ],
)
def test_a_thin_slug_is_warned_of(to_mm: float, least_slug_mm: float | None, words: str | None) -> None:
    """Below 5 mm lie four layers of 10 ml, which fill 3.54 mm each of a bore of 60 mm; a quarter of the bore is the least, or what the config says."""
    found = sheet({"clay": "white", "to_mm": to_mm}, {"clay": "blue"}, least_slug_mm=least_slug_mm)
    assert len(found.warnings) == (words is not None)
    assert words is None or found.warnings[0].startswith(words)


def test_what_goes_on_in_the_reserve_is_not_thin() -> None:
    """The last 20 ml of blue have 50 more of it behind them."""
    assert sheet({"clay": "white", "to_mm": 88}, {"clay": "blue"}).warnings == ()


def test_without_a_bore_it_is_not_known() -> None:
    """Nothing is said of slugs whose thickness nobody asks for; whoever does is told what is missing."""
    bands = ({"clay": "white", "to_mm": 4}, {"clay": "blue"})
    assert sheet(*bands, bore_mm=None).warnings == ()
    (warning,) = sheet(*bands, bore_mm=None, least_slug_mm=10).warnings
    assert "(cartridge: bore_mm)" in warning


@pytest.mark.parametrize(("high_mm", "made"), [(50, 10), (41, 10), (40, 9), (13, 3), (8, 1), (3, 1)])
def test_a_blend_has_no_thinner_steps(high_mm: float, made: int) -> None:
    """14.1 mm are 39.9 ml, so that each step needs four layers: 40 of them lie below 41 mm, 12 below 13 mm.

    Below 40 mm the first of ten steps of 4 mm has three layers alone; of nine none has less than four.
    """
    found = sheet({**BLEND, "steps": 10, "to_mm": high_mm}, {"clay": "blue"}, least_slug_mm=14.1)
    mixes = [slug.mix for slug in found.slugs if len(slug.mix) == 2]
    assert len(mixes) == made
    said = [warning for warning in found.warnings if "instead of 10" in warning]
    assert bool(said) == (made < 10)
    if said:
        assert f"is made of {made} step" in said[0]


@given(st.integers(1, 50), st.integers(1, 89), st.floats(1, 60), st.integers(0, 30))
def test_steps_are_thick_enough_or_one(steps: int, high_mm: int, least_slug_mm: float, low_mm: int) -> None:
    """However many are asked for; and there are never more."""
    bands = [{"clay": "white", "to_mm": low_mm}] if low_mm else []
    bands += [{**BLEND, "steps": steps, "to_mm": low_mm + high_mm}, {"clay": "blue"}]
    assume(low_mm + high_mm > 1)  # or there is no layer in it
    found = sheet(*bands, least_slug_mm=least_slug_mm)
    mixed = [slug for slug in found.slugs if len(slug.mix) == 2 and not slug.reserve]
    assert 1 <= len(mixed) <= steps
    if len(mixed) > 1 and low_mm + high_mm <= 90:
        assert min(slug.clay_ml for slug in mixed) >= least_slug_mm * ML_PER_MM - 1e-6


def test_clays_one_behind_another_in_the_hose_are_warned_of() -> None:
    """100 ml of hose under 40 of white: nobody can put blue behind white in it; a hose that holds one clay can be."""
    bands = ({"clay": "white", "to_mm": 4}, {"clay": "blue"})
    (warning,) = [text for text in sheet(*bands, line_ml=100).warnings if "hose" in text]
    assert warning.startswith("the hose would have to hold white, then blue, which can't be loaded by hand")
    assert "shows up to 11.0 mm" in warning  # layers 1 to 10
    bands = ({"clay": "white", "to_mm": 12}, {"clay": "blue"})
    assert not any("by hand" in text for text in sheet(*bands, line_ml=100, line_holds="white").warnings)
