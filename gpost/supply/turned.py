"""Knobs that were turned by hand, as they are typed, and where in a plan that was."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from gpost.errors import PlanError
from gpost.plan.plan import Plan
from gpost.supply.heights import Heights

LEAST_PERCENT, MOST_PERCENT = 10.0, 400.0
"""What a knob can be turned to."""
HOW = "write what, to how many percent, and from which layer or height on: flow=110@40, speed=90@62.5mm"
_TURN = re.compile(r"(flow|speed)=(\d+(?:\.\d+)?)%?@(\d+(?:\.\d+)?)(mm)?")


class Turn(NamedTuple):
    """A knob that was turned, and left so until the next turn of it."""

    knob: str
    """flow or speed."""
    percent: float
    place: float
    by_height: bool
    """Whether `place` is a nozzle height in mm, as in the summary, and not a layer counted from 1."""

    def __str__(self) -> str:
        return f"{self.knob}={self.percent:g}@{self.place:g}{'mm' * self.by_height}"


def read_turn(text: str) -> Turn:
    """A turn as it is typed. Raises ValueError with a sentence."""
    found = _TURN.fullmatch(text.replace(" ", ""))
    if found is None:
        raise ValueError(f"{text!r} can't be read; {HOW}")
    turn = Turn(found[1], float(found[2]), float(found[3]), found[4] is not None)
    if not LEAST_PERCENT <= turn.percent <= MOST_PERCENT:
        raise ValueError(
            f"{turn.percent:g} % is not from {LEAST_PERCENT:g} to {MOST_PERCENT:g}; 100 is as the file says"
        )
    if not turn.by_height and (turn.place < 1 or turn.place != int(turn.place)):
        raise ValueError(
            f"{turn.place:g} is no layer, which are counted from 1; for a height write mm behind it"
        )
    return turn


def flow_turns(
    plan: Plan, turns: Sequence[Turn], from_ml: float, until_ml: float
) -> tuple[tuple[float, float], ...]:
    """(net clay planned by then, share of it that comes from there on) of each turn of the flow, rising.

    Of two at one place the last counts. From `from_ml` to `until_ml` of net clay the file has run: what was
    turned before goes for all of it. Raises PlanError for a turn that is above that, or where there is no
    flow to turn.
    """
    heights, found = Heights(plan), list[tuple[float, float]]()
    for turn in turns:
        if turn.knob != "flow":
            continue
        if plan.config.clay.metering.unit == "path":
            raise PlanError(f"--turned {turn}: clay is metered by path here, so there is no flow to turn")
        at_ml = heights.reached_ml(turn.place) if turn.by_height else heights.begun_ml(int(turn.place) - 1)
        if at_ml is None or at_ml > until_ml:
            raise PlanError(f"--turned {turn}: the print has stopped below that; say where it was turned")
        found.append((at_ml, turn.percent / 100))
    return tuple((max(at_ml, from_ml), share) for at_ml, share in sorted(found, key=lambda turn: turn[0]))
