"""The blower: its levels as commands, off while the machine waits, and as it was before from then on."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from gpost.common.among import among
from gpost.config.commands import LEVEL
from gpost.motion import codes
from gpost.motion.state import MachineState
from gpost.plan.intentions import Air, AirInPause, Pause, Restart, Silence
from gpost.plan.plan import Plan
from gpost.spot import Spot
from gpost.write.script import Script, number
from gpost.write.sent import Sender, Sent

PART = 50_000
"""So many commands are looked at together: there may be millions."""


class Blower:
    """Answers, for one plan, how hard the blower blows at a place, and writes what switches it."""

    def __init__(self, plan: Plan, sender: Sender) -> None:
        self._plan, self._sender, self._air = plan, sender, plan.config.machine.air
        self._intentions = [entry.intention for entry in plan.entries]
        rests = [at for at, wish in enumerate(self._intentions) if isinstance(wish, AirInPause)]
        self.rest_entry = rests[-1] if rests and plan.of(AirInPause)[-1].off else None
        """Index of the plan's entry that has the blower rest while the machine waits; None: it doesn't."""
        self._source_blows = not _silences_air(plan)
        airs = [(air.spot, at, air.level) for at, air in enumerate(self._intentions) if isinstance(air, Air)]
        self._levels = sorted(airs)

    def blow(self, level: float, script: Script) -> None:
        """The command for a level, 0 (off) to 1 (full)."""
        level = self._air.sent(level)
        if level <= 0:
            script.command(self._air.off, self._sender.sent(self._air.off, "air.off"))
        else:
            code = self._air.on.replace(LEVEL, number(level * self._air.full, self._air.decimals))
            script.command(code, self._sender.sent(self._air.on, "air.on"))

    def quiet(self, script: Script) -> None:
        """Off, whoever has switched it on."""
        self.blow(0.0, script)
        if self._source_blows and self._air.off != "M107":
            script.command("M107", Sent("air", "M107"))
        if self._source_blows:
            _others_off(script.state, script)

    def go_on(self, restart: Restart, state: MachineState, script: Script) -> None:
        """As the whole job has it where a stopped print goes on; `state`: as the source has it there."""
        level = None if self._source_blew_last(restart) else self._level_at_pause(restart)
        if level is None and self._source_blows:
            self._source_on(state, script)
        elif level:
            self.blow(level, script)

    def rest_in(self, pause: Pause, state: MachineState, script: Script) -> Callable[[], None]:
        """Off, if it is to rest in a step's pause; returns what lets it blow as before."""
        if self.rest_entry is None:
            return lambda: None
        return self._rest(self._level_at_pause(pause), state, script, script)

    def may_blow(self, line: int) -> bool:
        """Whether there is anything to switch off at a wait on a line of the source."""
        level = self._level_before(Spot(line), len(self._intentions))
        if level is None:
            return self._source_blows and self._source_switches_on
        return level > 0

    def rest_at(self, line: int, state: Callable[[], MachineState], before: Script, after: Script) -> None:
        """Off before a wait that stands on a line of the source, and after it as before."""
        level = self._level_before(Spot(line), len(self._intentions))
        # to follow the source up to there takes time
        there = state() if level is None and self._source_blows else MachineState()
        self._rest(level, there, before, after)()

    def _rest(
        self, level: float | None, state: MachineState, before: Script, after: Script
    ) -> Callable[[], None]:
        if level is None and self._source_blows:
            # the source's own blower, so in the source's own words
            if state.air > 0:
                before.command("M107", Sent("air", "M107"))
            _others_off(state, before)
            if state.studio_air > 0:
                self.blow(0.0, before)
            return lambda: self._source_on(state, after)
        if not level:
            return lambda: None
        self.blow(0.0, before)
        return lambda: self.blow(level, after)

    def _level_at_pause(self, pause: Pause) -> float | None:
        """The level that the plan has set by then; at one spot what is earlier in the plan is done first."""
        places = (at for at, intention in enumerate(self._intentions) if intention is pause)
        return self._level_before(pause.spot, next(places, len(self._intentions)))

    def _level_before(self, spot: Spot, entry: int) -> float | None:
        found = bisect_left(self._levels, (spot, entry, -1.0))
        return self._levels[found - 1][2] if found else None

    @cached_property
    def _source_switches_on(self) -> bool:
        return len(self._plan.survey.lines_with("M", [codes.AIR_ON])) > 0

    def _source_blew_last(self, restart: Restart) -> bool:
        """Whether the source's own command is the last that has set the blower by then."""
        lines = self._plan.survey.lines_with("M", (codes.AIR_ON, codes.AIR_OFF))
        own = lines[(lines < restart.spot.line) & self._plan.stays(lines)]
        planned = [spot.line for spot, _, _ in self._levels if spot < restart.spot]
        return bool(len(own)) and int(own[-1]) >= max(planned, default=-1)

    def _source_on(self, state: MachineState, script: Script) -> None:
        """The source's own levels, to the last digit, of what it lets blow."""
        if state.air > 0:
            script.command("M106 S" + number(state.air, 6), Sent("air", f"M106 S{LEVEL}"))
        for pin, level in state.other_air:
            script.command(f"M106 P{pin} S" + number(level, 6), Sent("air", f"M106 P{pin} S{LEVEL}"))
        if state.studio_air > 0:
            code = self._air.on.replace(LEVEL, number(state.studio_air, 6))
            script.command(code, self._sender.sent(self._air.on, "air.on"))


def _others_off(state: MachineState, script: Script) -> None:
    """Off, each of the source's blowers with a number that blows there."""
    for pin, _ in state.other_air:
        code = f"M106 P{pin} S0"
        script.command(code, Sent("air", code))


def _silences_air(plan: Plan) -> bool:
    """Whether the plan takes the source's own blower commands out."""
    silenced = plan.of(Silence)
    own = plan.survey.lines_with("M", (codes.AIR_ON, codes.AIR_OFF)) if silenced else np.zeros(0, np.int64)
    return any(
        _meet(part, intention.lines)
        for intention in silenced
        for part in np.array_split(own, 1 + len(own) // PART)
    )


def _meet(some: NDArray[np.int64], lines: NDArray[np.int64]) -> bool:
    """Whether any of some ascending lines is among others."""
    return len(some) > 0 and bool(among(some, lines[(lines >= some[0]) & (lines <= some[-1])]).any())
