"""The dialect's smallest steps, and what it refuses."""

from __future__ import annotations

from typing import Any

import pytest

from gpost.demo.style import SliceStyle
from gpost.errors import ConfigError


@pytest.mark.parametrize(
    ("style", "e_words"),
    [
        (SliceStyle(), 463.2135953557),
        (SliceStyle(inches=True), 463.2135953557 / 25.4),
        (SliceStyle(e_unit="mm3"), 1114.1592653590),
    ],
    ids=["strand", "strand in inches", "volume"],
)
def test_e_counts_a_strand_or_the_volume(style: SliceStyle, e_words: float) -> None:
    """A bead 6 x 2 over 100 mm, 1114.159 mm^3, is 463.2136 mm of a strand 1.75 thick (computed)."""
    assert 1114.1592653590 / (style.e_step_mm3 * 10**style.e_decimals) == pytest.approx(e_words, rel=1e-10)


def test_the_smallest_step_is_one_of_the_last_decimal() -> None:
    """Three decimals say thousandths of a millimetre, or of an inch of 25.4 mm."""
    assert SliceStyle().step_mm == pytest.approx(0.001)
    assert SliceStyle(inches=True).step_mm == pytest.approx(0.0254)


@pytest.mark.parametrize(
    ("changes", "words"), [({"decimals": 10}, "0 to 9 decimals"), ({"feed_mm_min": 0.0}, "above 0")]
)
def test_a_style_that_cannot_be_written_is_refused(changes: dict[str, Any], words: str) -> None:
    """Impossible decimals and feeds are refused, with the reason."""
    with pytest.raises(ConfigError, match=words):
        SliceStyle(**changes)
