"""Wet density from fillings of a measure, and its spread."""

from __future__ import annotations

import math

import pytest

from gpost.config.model import Config
from gpost.workbook.trial.measures import Measures, measures
from gpost.workbook.trial.weighed import measures_lines, measures_text


def filled(*grams: float, spread: float | None = None) -> Measures:
    """100 ml that held so many grams each."""
    config = Config.model_validate({"clay": {"wet_density_spread_percent": spread}})
    return measures([(100, each) for each in grams], config)


def test_by_hand() -> None:
    """185, 186 and 187 g: 1.86 on average, deviation 0.01; t for 2 degrees is 4.303 (tables)."""
    found = filled(185, 186, 187)
    percent = 100 * 4.303 * 0.01 / math.sqrt(3) / 1.86
    assert found.density_g_ml == pytest.approx(1.86)
    assert found.reach_percent == pytest.approx(percent, rel=1e-4)
    assert found.spread_percent == pytest.approx(percent / 1.959964, rel=1e-4)
    assert measures_lines(found) == [
        "clay:",
        "  wet_density_g_ml: 1.86",
        f"  wet_density_spread_percent: {percent / 1.959964:.2g}",
    ]


def test_no_finer_than_the_scale() -> None:
    """Three that agree to the gram are off by 1 / sqrt(12) g each all the same (JCGM 100:2008, F.2.2.1)."""
    percent = 100 * 4.303 / math.sqrt(12) / math.sqrt(3) / 186
    assert filled(186, 186, 186).reach_percent == pytest.approx(percent, rel=1e-4)


def test_the_config_s_spread_from_batch_to_batch_is_kept() -> None:
    """One batch can't narrow it; where it is finer than the fillings tell, the config is left alone."""
    assert filled(185, 186, 187, spread=2).spread_percent == 2
    assert "the config knows better" in filled(185, 186, 187, spread=0.1).no_line


@pytest.mark.parametrize(
    ("grams", "words"),
    [
        ((186.0,), "1 filling can't say"),
        ((150.0, 186.0, 220.0), "must be to +-5 %"),
        ((186.0, 186.1, 186.0, 240.0, 185.9), "filling 4 does not agree"),
    ],
)
def test_no_line_from_what_teaches_nothing(grams: tuple[float, ...], words: str) -> None:
    """The words alone."""
    assert words in filled(*grams).no_line
    assert "wet_density_g_ml:" not in measures_text(filled(*grams))
