"""What the file has switched on and may be its auger, and what runs on while the nozzle waits or is away."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.common.among import among
from gpost.config.auger import AugerCommands
from gpost.motion import codes
from gpost.motion.follow import Follower
from gpost.plan.intentions import Ask, LayClay, Pause, Restart, Wait
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding
from gpost.preflight.switches import DTYPE, Switches, advice, by, starts, switches_in, things, written

SHOWN = 5
"""Steps, with their places, that a sentence names."""
_GAIN = "it is off there and runs again at the wall"


class _Stop(NamedTuple):
    """Where the nozzle leaves the wall, or stands still on it."""

    line: int
    who: str


class Running:
    """Remembers what switches a spindle, a pin or a valve that isn't the studio's blower."""

    def __init__(self) -> None:
        self._found: list[Switches] = [np.zeros(0, DTYPE)]

    def observe(self, follower: Follower, _clay_ml: NDArray[np.float64]) -> None:
        """Look at one block."""
        found = switches_in(follower)
        if len(found):
            self._found.append(found)

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """One for each thing that is on where the nozzle waits or is away.

        Where the studio says what its auger is, of that alone, where the file leaves it on by itself.
        """
        machine = plan.config.machine
        if machine.auger is not None:
            yield from _left_on(plan, machine.auger)
            return
        found = np.concatenate(self._found)
        found = found[plan.stays(found["line"])]
        stops = sorted(_stops(plan)) if len(found) else []
        for thing in things(found, machine.pushes_no_clay) if stops or plan.restart else ():
            yield from _told(thing, stops, plan)


def _left_on(plan: Plan, auger: AugerCommands) -> Iterator[Finding]:
    """One for those of the file's own waits at which it leaves the auger on, one if it ends so."""
    survey = plan.survey
    on, off = (survey.lines_with("M", (code,)) for code in (codes.CLAY_ON, codes.CLAY_OFF))
    switched = np.sort(np.concatenate([on, off]))
    switched = switched[plan.stays(switched)]
    own = [pause for pause in plan.own_pauses if pause.line >= plan.since]
    last = np.searchsorted(switched, [pause.line for pause in own]) - 1
    runs = [at >= 0 and bool(among(switched[at : at + 1], on)[0]) for at in last.tolist()]
    running = [pause for pause, there in zip(own, runs, strict=True) if there]
    if running:
        lines = ", ".join(str(pause.line + 1) for pause in running[:SHOWN])
        yield Finding("runs-on", "warning", running[0].line, (
            f"the file leaves the auger on where it waits itself, by {running[0].command} (line {lines}"
            f"{' and more' if len(running) > SHOWN else ''}): clay runs out there; let the file say "
            f"{auger.off} before that and {auger.on} after it"
        ), len(running))  # fmt: skip
    if len(switched) and among(switched[-1:], on)[0]:
        yield Finding("runs-on", "warning", int(switched[-1]), (
            "the file never switches the auger off after this line: clay runs on when the piece is done; "
            f"let it say {auger.off} at its end"
        ))  # fmt: skip


def _stops(plan: Plan) -> Iterator[_Stop]:
    for entry in plan.entries:
        wish = entry.intention
        if isinstance(wish, Pause | LayClay | Wait | Ask) and not isinstance(wish, Restart):
            yield _Stop(wish.spot.line, entry.step)
    yield from (_Stop(pause.line, f"the file's own {pause.command}") for pause in plan.own_pauses)


def _told(thing: Switches, stops: list[_Stop], plan: Plan) -> Iterator[Finding]:
    on = [(stop, _on_at(thing, stop.line)) for stop in stops if stop.line >= plan.since]
    running = [(stop, at) for stop, at in on if at is not None]
    begins = None if plan.restart is None else _on_at(thing, plan.since)
    if begins is not None:
        yield _not_begun(thing[begins], plan.since)
    elif running:
        first, at = running[0][0], running[0][1]
        yield Finding("runs-on", "warning", first.line, (
            f"{by(thing[at])} has switched on what may push clay, and gpost doesn't switch it off where "
            f"the nozzle waits or leaves the wall: {_places([stop for stop, _ in running])}. If it is your "
            f"auger, clay runs on there all the while: {advice(thing[at], _GAIN)}"
        ), len(running))  # fmt: skip


def _not_begun(command: np.void, line: int) -> Finding:
    """What the file had on where a stopped print goes on; at later waits it is as in the whole print."""
    return Finding("runs-on", "warning", line, (
        f"{by(command)} had switched on what may push clay where the print goes on, and gpost neither "
        "switches it on there nor off where the nozzle waits later. If it is your auger, no clay comes at "
        f"first: write {written(command)} into the rest, behind the line `; gpost: resume ends`. For other "
        f"prints, {advice(command, _GAIN)}"
    ))  # fmt: skip


def _on_at(thing: Switches, line: int) -> int | None:
    """Which command has it on before a line; None: it is off."""
    at = int(np.searchsorted(thing["line"], line)) - 1
    return at if at >= 0 and starts(thing[at : at + 1])[0] else None


def _places(stops: list[_Stop]) -> str:
    """`swap (line 302), refill (line 400, first of 2)`."""
    lines: dict[str, list[int]] = {}
    for stop in stops:
        lines.setdefault(stop.who, []).append(stop.line + 1)
    said = [
        f"{who} (line {at[0]}{f', first of {len(at)}' if len(at) > 1 else ''})" for who, at in lines.items()
    ]
    more = [f"{len(said) - SHOWN} more"] if len(said) > SHOWN else []
    return ", ".join(chain(said[:SHOWN], more))
