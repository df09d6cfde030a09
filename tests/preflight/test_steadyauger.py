"""A bead's section is what the auger pushes in a time over the way in it: at 60 % of the feed, 1 / 0.6 of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import pytest

from gpost.api import Intention, Plan, ScaleFeed, Settings, Step, Survey
from gpost.preflight.model import Finding

Check = Callable[..., dict[str, Finding]]
AUGER = {"machine": {"auger": {"on": "M3 S<level>", "off": "M5"}}, "clay": {"metering": {"unit": "path"}}}


class Slows(Step[Settings]):
    """Feeds of the second ring changed by a factor."""

    name = "slows"
    Settings = Settings

    def __init__(self, factor: float) -> None:
        super().__init__(Settings())
        self.factor = factor

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """From line 10 on."""
        return [ScaleFeed(9, survey.lines, self.factor)]


def rings(e: str = "") -> str:
    """Two rings of a square, the auger on along each."""
    lines = ["G28", "G90", "M83"]
    for z_mm in (2, 4):
        lines += [f"G0 X100 Y100 Z{z_mm} F1200", "M3 S600"]
        lines += [f"G1 X{x} Y{y}{e} F1200" for x, y in ((140, 100), (140, 140), (100, 140), (100, 100))]
        lines += ["M5"]
    return "\n".join([*lines, ""])


@pytest.mark.parametrize(("factor", "said"), [(0.6, "1.7 times as thick"), (0.5, "2 times as thick"), (1.25, "1.2 times as thin")])
def test_a_changed_feed_is_told_with_what_comes_of_it(check: Check, factor: float, said: str) -> None:
    """One layer of the two, with its share of the feed, and how much thicker or thinner it gets."""
    finding = check(rings(), AUGER, [Slows(factor)])["steady-auger"]
    assert finding.severity == "warning"
    assert f"1 layer is laid at another feed (layer 2 at {100 * factor:.0f} %)" in finding.text
    assert said in finding.text


@pytest.mark.parametrize("factor", [0.97, 1.0, 1.04])
def test_what_nobody_sees_is_not_told(check: Check, factor: float) -> None:
    """Within 5 % of the bead."""
    assert "steady-auger" not in check(rings(), AUGER, [Slows(factor)])


def test_where_e_moves_it(check: Check) -> None:
    """E slows down with the feed: the bead stays what it was. So it does where no auger is named."""
    config: dict[str, Any] = {"machine": AUGER["machine"], "clay": {"metering": {"unit": "mm3"}}}
    assert "steady-auger" not in check(rings(" E40"), config, [Slows(0.6)])
    assert "steady-auger" not in check(rings(), {"clay": AUGER["clay"]}, [Slows(0.6)])
