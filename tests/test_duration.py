"""How long something takes, in words."""

from __future__ import annotations

import pytest

from gpost.common.duration import lasting


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (0.5, "0.5 s"),
        (10.0, "10 s"),
        (119.0, "119 s"),
        (120.0, "2 min"),
        (481.0, "8.02 min"),
        (99_999.0, "1667 min"),
    ],
)
def test_seconds_and_from_two_minutes_on_minutes(seconds: float, said: str) -> None:
    """Three digits, and no exponent."""
    assert lasting(seconds) == said
