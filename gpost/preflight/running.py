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

from gpost.motion import codes
from gpost.motion.follow import Follower
from gpost.motion.lines import numbers_on
from gpost.plan.intentions import Ask, LayClay, Pause, Restart, Wait
from gpost.plan.plan import Plan
from gpost.preflight.model import Finding

_SPINDLE, _VALVE, _PIN = range(3)
_KINDS = {30: _SPINDLE, 40: _SPINDLE, 50: _SPINDLE, 1260: _VALVE, 1270: _VALVE, codes.SET_PIN: _PIN}
_STOPPED_BY = {_SPINDLE: "M5", _VALVE: "M127"}
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
        """One for each thing that is on where the nozzle waits or is away."""
        found = np.concatenate(self._found)
        found = found[plan.stays(found["line"])]
        stops = sorted(_stops(plan)) if len(found) else []
        if stops:
            for thing in _things(found):
                yield from _told(thing, stops, plan)


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
    on = (_STOPS(thing["code_x10"]) == 0) & ~(thing["level"] == 0)
    if not on.any():
        return
    line = np.array([stop.line for stop in stops])
    last = np.searchsorted(thing["line"], line) - 1
    runs = (last >= 0) & on[last] & (line >= plan.since)
    running = [stop for stop, there in zip(stops, runs.tolist(), strict=True) if there]
    if running:
        first = thing[int(last[runs][0])]
        yield Finding("runs-on", "warning", running[0].line, (
            f"{_written(first)} (line {int(first['line']) + 1}) has switched on what may push clay, and "
            f"gpost doesn't switch it off where the nozzle waits or leaves the wall: {_places(running)}. "
            f"If it is your auger, clay runs on there all the while; {_stopping(first)}"
        ), len(running))  # fmt: skip


def _written(command: np.void) -> str:
    """A command as its code, P and S."""
    words = [codes.name_of("M", int(command["code_x10"]))]
    words += [f"{letter}{command[key]:g}" for letter, key in (("P", "pin"), ("S", "level"))
              if not math.isnan(command[key])]  # fmt: skip
    return " ".join(words)


def _stopping(command: np.void) -> str:
    off = _STOPPED_BY.get(_KINDS[int(command["code_x10"])])
    if off is None:
        off = _written(command).rsplit(" S", 1)[0] + " S0"
    return f"stop it by hand at each of them, or let the file say {off} before them"


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
