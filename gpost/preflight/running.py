"""What the file has switched on and may be its auger, and what runs on while the nozzle waits or is away.

M3 to M5: NISTIR 6556, section 3.6.2. M42, M126 and M127: common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import chain
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.common.among import among
from gpost.config.auger import AugerCommands
from gpost.motion import codes
from gpost.motion.follow import Follower
from gpost.motion.lines import numbers_on
from gpost.plan.intentions import Ask, LayClay, Pause, Restart, Wait
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding

_SPINDLE, _VALVE, _PIN = range(3)
_KINDS = {30: _SPINDLE, 40: _SPINDLE, 50: _SPINDLE, 1260: _VALVE, 1270: _VALVE, codes.SET_PIN: _PIN}
_STOPPED_BY = {_SPINDLE: "M5", _VALVE: "M127"}
_ALIKE = ({"M3", "M4", "M5"}, {"M126", "M127"})
"""Codes that switch one thing."""
_SWITCHES, _STOPS = codes.CodeTable(_KINDS), codes.CodeTable({50, 1270})
SHOWN = 5
"""Steps, with their places, that a sentence names."""
_DTYPE = np.dtype([("line", "i8"), ("code_x10", "i4"), ("pin", "f8"), ("level", "f8")])
Switches = NDArray[np.void]


class _Stop(NamedTuple):
    """Where the nozzle leaves the wall, or stands still on it."""

    line: int
    who: str


class Running:
    """Remembers what switches a spindle, a pin or a valve that isn't the studio's blower."""

    def __init__(self) -> None:
        self._found: list[Switches] = [np.zeros(0, _DTYPE)]

    def observe(self, follower: Follower, _clay_ml: NDArray[np.float64]) -> None:
        """Look at one block."""
        if not (_SWITCHES(follower.m) > 0).any():
            return
        commands = follower.commands  # in which the blower's own stand as M106 and M107
        pick = (commands["letter"] == b"M") & (_SWITCHES(commands["code_x10"]) > 0)
        found = np.zeros(int(np.count_nonzero(pick)), _DTYPE)
        found["line"], found["code_x10"] = commands["line"][pick], commands["code_x10"][pick]
        inside = found["line"] - follower.block.chunk.first_line
        found["pin"], found["level"] = (numbers_on(follower.block, inside, letter) for letter in "PS")
        of_pin = found["code_x10"] == codes.SET_PIN
        found["pin"][~of_pin] = math.nan
        self._found.append(found[~(of_pin & np.isnan(found["level"]))])  # without a level it switches none

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
        for thing in _things(found) if stops or plan.restart else ():
            name = codes.name_of("M", int(thing["code_x10"][0]))
            alike = next((names for names in _ALIKE if name in names), {name})
            if alike.isdisjoint(machine.pushes_no_clay):
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


def _things(found: Switches) -> Iterator[Switches]:
    """What switches each thing: the spindle, the valve, each pin."""
    kind = np.array([_KINDS[code] for code in found["code_x10"].tolist()])
    pin = np.where(np.isnan(found["pin"]), -1.0, found["pin"])
    for one in dict.fromkeys(zip(kind.tolist(), pin.tolist(), strict=True)):
        yield found[(kind == one[0]) & (pin == one[1])]


def _told(thing: Switches, stops: list[_Stop], plan: Plan) -> Iterator[Finding]:
    on = [(stop, _on_at(thing, stop.line)) for stop in stops if stop.line >= plan.since]
    running = [(stop, at) for stop, at in on if at is not None]
    begins = None if plan.restart is None else _on_at(thing, plan.since)
    if begins is not None:
        yield _not_begun(thing[begins], plan.since)
    elif running:
        first, at = running[0][0], running[0][1]
        yield Finding("runs-on", "warning", first.line, (
            f"{_by(thing[at])} has switched on what may push clay, and gpost doesn't switch it off where "
            f"the nozzle waits or leaves the wall: {_places([stop for stop, _ in running])}. If it is your "
            f"auger, clay runs on there all the while: {_advice(thing[at])}"
        ), len(running))  # fmt: skip


def _not_begun(command: np.void, line: int) -> Finding:
    """What the file had on where a stopped print goes on; at later waits it is as in the whole print."""
    return Finding("runs-on", "warning", line, (
        f"{_by(command)} had switched on what may push clay where the print goes on, and gpost neither "
        "switches it on there nor off where the nozzle waits later. If it is your auger, no clay comes at "
        f"first: write {_written(command)} into the rest, behind the line `; gpost: resume ends`. For other "
        f"prints, {_advice(command)}"
    ))  # fmt: skip


def _by(command: np.void) -> str:
    return f"{_written(command)} (line {int(command['line']) + 1})"


def _on_at(thing: Switches, line: int) -> int | None:
    """Which command has it on before a line; None: it is off."""
    at = int(np.searchsorted(thing["line"], line)) - 1
    if at < 0 or _STOPS(thing["code_x10"][at : at + 1])[0] or thing["level"][at] == 0:
        return None
    return at


def _written(command: np.void) -> str:
    """A command as its code, P and S."""
    words = [codes.name_of("M", int(command["code_x10"]))]
    words += [f"{letter}{command[key]:g}" for letter, key in (("P", "pin"), ("S", "level"))
              if not math.isnan(command[key])]  # fmt: skip
    return " ".join(words)


def _advice(command: np.void) -> str:
    """Which key to write."""
    name, pin = codes.name_of("M", int(command["code_x10"])), float(command["pin"])
    which = "" if math.isnan(pin) else f" P{pin:g}"
    level = "" if math.isnan(command["level"]) else " S<level>"
    off = _STOPPED_BY.get(_KINDS[int(command["code_x10"])], f"{name}{which} S0")
    return (
        f'say under `machine:` `auger: {{on: "{name}{which}{level}", off: "{off}"}}`, and it is off there '
        f"and runs again at the wall; if it is none, `pushes_no_clay: [{name}]`"
    )


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
