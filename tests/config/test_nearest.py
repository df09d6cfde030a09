"""Offers for a mistyped word: the forgotten unit first."""

import pytest

from gpost.config.model import Cartridge, Clay, Machine
from gpost.config.nearest import did_you_mean, nearest


@pytest.mark.parametrize(
    ("word", "known", "first"),
    [
        ("volume", Cartridge.model_fields, "volume_ml"),
        ("line", Cartridge.model_fields, "line_ml"),
        ("Reserve-ml", Cartridge.model_fields, "reserve_ml"),
        ("volum_ml", Cartridge.model_fields, "volume_ml"),
        ("volume_l", Cartridge.model_fields, "volume_ml"),
        ("travel_feed", Machine.model_fields, "travel_feed_mm_min"),
        ("travel feed", Machine.model_fields, "travel_feed_mm_min"),
        ("acceleration", Machine.model_fields, "acceleration_mm_s2"),
        ("ceiling", Machine.model_fields, "ceiling_mm"),
        ("shrinkage", Clay.model_fields, "shrinkage_percent"),
        ("color", Clay.model_fields, "colour"),
        ("density", Clay.model_fields, "wet_density_g_ml"),
    ],
)
def test_the_key_that_was_meant_comes_first(word: str, known: dict[str, object], first: str) -> None:
    """A key without its unit, or with a slip of the finger, finds the key that was meant."""
    assert nearest(word, known)[0] == first


def test_a_part_of_several_keys_offers_them() -> None:
    """A word that is a part of several keys offers these, in their alphabetical order."""
    keys = ("travel_feed_mm_min", "lift_feed_mm_min", "ceiling_mm")
    assert did_you_mean("feed", keys) == "did you mean lift_feed_mm_min or travel_feed_mm_min?"


@pytest.mark.parametrize("word", ["", "qqq", "volume_ml" * 100_000])
def test_nothing_near_offers_nothing(word: str) -> None:
    """A word unlike any other, or a giant one, gets no offer."""
    assert did_you_mean(word, Cartridge.model_fields) == ""
