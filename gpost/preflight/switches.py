"""What a file switches that may be its auger: the spindle, a valve, a pin.

M3 to M5: NISTIR 6556, section 3.6.2. M42, M126 and M127, M101 to M103: common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator

import numpy as np
from numpy.typing import NDArray

from gpost.motion import codes
from gpost.motion.follow import Follower
from gpost.read.block import Block

_SPINDLE, _VALVE, _PIN, _CLAY = range(4)
_CLAY_M = (codes.CLAY_ON, codes.CLAY_ON_REVERSE, codes.CLAY_OFF)
_KINDS = {30: _SPINDLE, 40: _SPINDLE, 50: _SPINDLE, 1260: _VALVE, 1270: _VALVE, codes.SET_PIN: _PIN}
_KINDS |= dict.fromkeys(_CLAY_M, _CLAY)
SWITCHING_M = frozenset(_KINDS)
"""All codes that may switch an auger, times ten."""
_STOPPED_BY = {_SPINDLE: "M5", _VALVE: "M127", _CLAY: "M103"}
_ALIKE = ({"M3", "M4", "M5"}, {"M126", "M127"}, {"M101", "M102", "M103"})
"""Codes that switch one thing."""
_SWITCHES, _STOPS = codes.CodeTable(_KINDS), codes.CodeTable({50, 1270, *_CLAY_M[1:]})
_FOLLOWED = codes.CodeTable(_CLAY_M)
DTYPE = np.dtype([("line", "i8"), ("code_x10", "i4"), ("pin", "f8"), ("level", "f8")])
Switches = NDArray[np.void]
"""Commands in the order of the file, with their P and S; NaN for what isn't said."""


def switches_in(follower: Follower, *, by_path: bool = False) -> Switches:
    """Those of a block that aren't the studio's blower's.

    `by_path`: and M101 to M103, which are followed but where clay is metered by the path.
    """
    if not (_SWITCHES(follower.m) > 0).any():
        return np.zeros(0, DTYPE)
    commands = follower.commands  # in which the blower's stand as M106 and M107
    pick = (commands["letter"] == b"M") & (_SWITCHES(commands["code_x10"]) > 0)
    found = np.zeros(int(np.count_nonzero(pick)), DTYPE)
    found["line"], found["code_x10"] = commands["line"][pick], commands["code_x10"][pick]
    inside = found["line"] - follower.block.chunk.first_line
    found["pin"], found["level"] = (_said(follower.block, inside, letter) for letter in "PS")
    of_pin = found["code_x10"] == codes.SET_PIN
    found["pin"][~of_pin] = math.nan
    switches = ~(of_pin & np.isnan(found["level"]))  # without a level it switches none
    return np.asarray(found[switches if by_path else switches & (_FOLLOWED(found["code_x10"]) == 0)])


def _said(block: Block, line: NDArray[np.int64], letter: str) -> NDArray[np.float64]:
    """The value of a letter on some lines; NaN where it doesn't stand there, or without a number."""
    at, value = block.said(letter)
    column = np.full(block.lines, np.nan)
    column[at] = value
    return column[line]


def things(found: Switches, none: Collection[str]) -> Iterator[Switches]:
    """What switches each thing; `none`: codes, and pins, of which the studio says that they push no clay."""
    kind = np.array([_KINDS[code] for code in found["code_x10"].tolist()])
    pin = np.where(np.isnan(found["pin"]), -1.0, found["pin"])
    for one in dict.fromkeys(zip(kind.tolist(), pin.tolist(), strict=True)):
        thing = found[(kind == one[0]) & (pin == one[1])]
        name = codes.name_of("M", int(thing["code_x10"][0]))
        alike = next((names for names in _ALIKE if name in names), {name, _with_pin(thing[0])})
        if alike.isdisjoint(none):
            yield thing


def starts(thing: Switches) -> NDArray[np.bool_]:
    """Which of the commands switch it on."""
    return np.asarray((_STOPS(thing["code_x10"]) == 0) & (thing["level"] != 0))


def by(command: np.void) -> str:
    """A command with its line, for a sentence."""
    return f"{written(command)} (line {int(command['line']) + 1})"


def written(command: np.void) -> str:
    """A command as its code, P and S."""
    words = [codes.name_of("M", int(command["code_x10"]))]
    words += [f"{letter}{command[key]:g}" for letter, key in (("P", "pin"), ("S", "level"))
              if not math.isnan(command[key])]  # fmt: skip
    return " ".join(words)


def advice(command: np.void, gain: str) -> str:
    """Which key to write for what a command switches on; `gain`: what comes of it."""
    which = _with_pin(command)
    level = "" if math.isnan(command["level"]) else " S<level>"
    off = _STOPPED_BY.get(_KINDS[int(command["code_x10"])], f"{which} S0")
    # of its pin alone, since another one may be the auger's
    return (
        f'say under `machine:` `auger: {{on: "{which}{level}", off: "{off}"}}`, and {gain}; '
        f"if it is none, `pushes_no_clay: [{which}]`"
    )


def _with_pin(command: np.void) -> str:
    """A command as its code, and the pin that it sets."""
    pin = "" if math.isnan(command["pin"]) else f" P{command['pin']:g}"
    return codes.name_of("M", int(command["code_x10"])) + pin
