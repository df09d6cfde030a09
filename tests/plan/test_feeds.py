"""What a ScaleFeed makes of a feed."""

from __future__ import annotations

import numpy as np
import pytest

from gpost.plan.feeds import scaled_mm_min


@pytest.mark.parametrize(
    ("feed", "factor", "floor", "scaled"),
    [
        (1000, 0.5, 0, 500),
        (1000, 0.5, 600, 600),
        (1000, 0.5, 2000, 1000),
        (400, 0.5, 600, 400),
        (1000, 1.5, 2000, 1500),
        (1000, 1.0, 600, 1000),
    ],
)
def test_the_floor_holds_a_feed_up_and_makes_none_faster(feed: float, factor: float, floor: float, scaled: float) -> None:
    """Slowed no further than to the floor; what is below it already stays; what is made faster knows no floor."""
    assert scaled_mm_min(np.array([float(feed)]), factor, floor).tolist() == [scaled]
