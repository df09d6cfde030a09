"""What switches clay beside E, M101 or the studio's auger: off while the nozzle is away, then as it was."""

from __future__ import annotations

from functools import cached_property

import numpy as np

from gpost.motion import codes
from gpost.motion.state import NOT_SAID, MachineState
from gpost.plan.inblocks import in_blocks
from gpost.plan.plan import Plan
from gpost.write.script import Script
from gpost.write.sent import Sender, Sent

_CLAY = Sent("clay", "M101"), Sent("clay", "M103")


class Auger:
    """Writes, for one plan, what starts and stops clay that the file itself switches."""

    def __init__(self, plan: Plan, sender: Sender) -> None:
        self._plan, self._sender, self._auger = plan, sender, plan.config.machine.auger
        self._starts = plan.survey.lines_with("M", (codes.CLAY_ON,))
        self.switched = len(self._starts) + len(plan.survey.lines_with("M", (codes.CLAY_OFF,))) > 0
        """Whether the file switches clay at all."""

    def stop(self, state: MachineState, script: Script) -> None:
        """Off, if it is on by the file where the nozzle is."""
        if self._auger is not None and state.auger_runs:
            self._off(script)
        elif state.laying:
            script.command("M103", _CLAY[1])

    def go_on(self, state: MachineState, script: Script) -> None:
        """As the file has it where the nozzle is, to the last digit."""
        if self._auger is not None and state.auger_runs:
            self._start(state.auger_number, script)
        elif state.laying:
            script.command("M101", _CLAY[0])

    def quiet(self, script: Script) -> None:
        """Off, whoever has switched it on."""
        if self.switched and self._auger is not None:
            self._off(script)
        elif self.switched:
            script.command("M103", _CLAY[1])

    def push(self, state: MachineState, script: Script) -> None:
        """On, for clay that E pushes beside the piece and that doesn't come without the auger."""
        if len(self._starts):
            said = state.auger_number
            self._start(self._first_number if said == NOT_SAID else said, script)

    def rest(self, script: Script) -> None:
        """Off again after that."""
        if len(self._starts):
            self._off(script)

    def _start(self, number: float, script: Script) -> None:
        if self._auger is not None:
            script.command(self._auger.at(number), self._sender.sent(self._auger.on, "auger.on"))

    def _off(self, script: Script) -> None:
        if self._auger is not None:
            script.command(self._auger.off, self._sender.sent(self._auger.off, "auger.off"))

    @cached_property
    def _first_number(self) -> float:
        """The number with which the file starts it first."""
        for _, follower, inside in in_blocks(self._plan.survey, self._starts[:1]):
            if follower.auger is not None:
                at = int(np.searchsorted(follower.auger.line, inside[0], side="right")) - 1
                return float(follower.auger.number[max(at, 0)])
        return NOT_SAID
