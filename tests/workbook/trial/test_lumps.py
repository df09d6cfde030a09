"""Lumps that dry, bars that shrink, slips that are weighed."""

from __future__ import annotations

import pytest

from gpost.errors import ConfigError
from gpost.workbook.trial.lumps import dried, shrunk, slip


def test_several_lumps_count_by_their_mass() -> None:
    """By hand: 1000 g with 250 of water and 500 g with 100 hold 350 in 1500; each is kept for the spread."""
    found = dried([(1000, 750), (500, 400)])
    assert found.water_percent == pytest.approx(100 * 350 / 1500)
    assert found.each_percent == [25, 20]
    assert (found.wet_density_g_ml, found.slip) == (None, None)


@pytest.mark.parametrize(
    ("wet", "dry", "solid", "density"),
    [(100, 75, 2.6, 1.8571428571), (100, 78, 2.6, 1.9230769231), (100, 75, 2.65, 1.8761061947)],
)
def test_dry_density_gives_the_wet(wet: float, dry: float, solid: float, density: float) -> None:
    """Computed from 1 / ((1 - w) / G + w), and the density gives the water back."""
    found = dried([(wet, dry)], solid)
    assert found.wet_density_g_ml == pytest.approx(density, abs=5e-11)
    assert slip(density, solid).water_percent == pytest.approx(wet - dry, abs=1e-8)


def test_a_slip_holds_its_published_dry_matter() -> None:
    """A litre of 1750 g with solids of 2.5 g/ml has 1250 g dry (S. Altmann, mailing list, Apr 1998, seen)."""
    assert slip(1.75, 2.5).dry_g_per_litre == pytest.approx(1250, rel=1e-12)
    assert slip(1.75, 2.5).water_percent == pytest.approx(100 * 500 / 1750, rel=1e-12)


def test_a_bar() -> None:
    """Computed: 100 mm wet, 94 dry, 86.5 fired, on either basis for the fire; volume from 1 - 0.865^3."""
    found = shrunk([(100, 94, 86.5)])
    assert found.total_percent == pytest.approx(13.5)
    assert found.drying_percent == pytest.approx(6)
    assert found.firing_percent == pytest.approx(7.9787234, abs=5e-8)
    assert found.firing_of_wet_percent == pytest.approx(7.5)
    assert found.volume_percent == pytest.approx(100 * (1 - 0.865**3))


def test_several_bars_count_alike_however_long() -> None:
    """The mean of 10 and 14 % is 12 %, though the second bar is twice as long."""
    found = shrunk([(100, 95, 90), (200, 190, 172)])
    assert found.each_percent == pytest.approx([10, 14])
    assert found.total_percent == pytest.approx(12)


@pytest.mark.parametrize(
    ("lump", "words"),
    [
        ((5, 6), "no less than wet"),
        ((5, 5), "no less than wet"),
        ((-1, 2), "more than 0 g"),
        ((1, 0), "more than 0 g"),
        ((1e308, 9e307), "no lump of clay is so"),
        ((1e6, 1), "no lump of clay is so"),
    ],
)
def test_lumps_that_cannot_be(lump: tuple[float, float], words: str) -> None:
    """Each with its numbers, and what to write."""
    with pytest.raises(ConfigError, match=words):
        dried([(100, 75), lump])


@pytest.mark.parametrize(
    ("bar", "words"),
    [
        ((100, 101, 90), "the dry bar is longer than the wet one"),
        ((100, 95, 101), "the fired bar is longer than the wet one"),
        ((100, 0, 90), "longer than 0 mm"),
        ((100, 95, 8.6), "by more than 50 %"),
        ((1e308, 9e307, 9e307), "write lengths in mm"),
    ],
)
def test_bars_that_cannot_be(bar: tuple[float, float, float], words: str) -> None:
    """Clay shrinks, and not to nothing."""
    with pytest.raises(ConfigError, match=words):
        shrunk([(100, 94, 86.5), bar])


@pytest.mark.parametrize(
    ("density", "words"),
    [(1.0, "can't weigh 1 g"), (2.7, "can't weigh 2.7 g"), (1.0001, "nothing but water")],
)
def test_slips_that_cannot_be(density: float, words: str) -> None:
    """Lighter than water, heavier than its solids, or all but water."""
    with pytest.raises(ConfigError, match=words):
        slip(density, 2.6)
    with pytest.raises(ConfigError, match=words):
        dried([(100, 75)], 2.6, density)
