"""Whether the blower can be set to the levels that steps ask for: a relay knows off and on."""

from __future__ import annotations

from collections.abc import Iterator

from gpost.config.commands import LEVEL
from gpost.config.machine import AirCommands
from gpost.plan.intentions import Air
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.spot import START

MOST_BESIDE = 0.05
"""A level that is sent so far from what was asked, or less, is as good (common practice, no source)."""
MOST_NONE = 0.01
"""So little air is none: the first layers of a long ramp may ask for it (common practice, no source)."""


class AirLevel:
    """Asks the plan for the levels, and the config for what of each can be said."""

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """One warning for all levels that come out as others."""
        air = plan.config.machine.air
        lost = [(wish, step) for wish, step in _to_come(plan) if _is_lost(air, wish.level)]
        if lost:
            wish, step = lost[0]
            text = (
                f"step {step} asks the blower for {100 * wish.level:.3g} %, and the machine is sent "
                f"{100 * air.sent(wish.level):.3g} %, since {_why(air)}"
            )
            yield Finding("air-level", "warning", wish.spot.line, text, len(lost))


def _to_come(plan: Plan) -> list[tuple[Air, str]]:
    """The levels, in order, each with its step; of a stopped print's rest what it goes on with, too."""
    asked = [(entry.intention, entry.step) for entry in plan.entries if isinstance(entry.intention, Air)]
    asked.sort(key=lambda each: each[0].spot)
    begins = START if plan.restart is None else plan.restart.spot
    been = sum(wish.spot <= begins for wish, _ in asked)
    return asked[max(been - 1, 0) :]


def _is_lost(air: AirCommands, level: float) -> bool:
    """Whether it comes out as off, or as another level that can be felt."""
    sent = air.sent(level)
    return abs(sent - level) > (MOST_BESIDE if sent > 0 else MOST_NONE)


def _why(air: AirCommands) -> str:
    """What of the studio's `air` makes it so, and what to do."""
    relay = "for a relay, which is on or off, ask for 0 and 100 % alone"
    if LEVEL not in air.on:
        return f"{air.on} (`machine: air: on`) says no level; {relay}"
    decimals = f"{air.decimals} decimals" if air.decimals else "whole numbers"
    return (
        f"its levels are {decimals} from 0 to {air.full:g} (`machine: air`); {relay}; for a blower that "
        f"can be set to levels between, say `decimals: {_enough(air)}` there"
    )


def _enough(air: AirCommands) -> int:
    """Decimals by which a level is sent to a percent, or as nearly as can be."""
    return next((decimals for decimals in range(3) if air.full * 10**decimals >= 100), 3)
