"""What each code means to the motion: the tables of the NIST RS274/NGC groups and of printing usage.

Codes are held times ten (G38.2 is 382). Groups: NISTIR 6556, section 3.4. M codes of printing:
common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

MOVES = (0, 10, 20, 30)
MOTION_OFF = 800
UNITS = {200: 25.4, 210: 1.0}
DISTANCE = {900: False, 910: True}
PLANES = {170: 17, 180: 18, 190: 19}

DWELL, HOME, PROBE, SET_REGISTER, CLEAR_OFFSETS = 40, 280, 290, 920, 921
RELIEVE, UNRELIEVE = 100, 110

HARMLESS_G = frozenset({400, 490, 540, 610, 611, 640, 911, 940, 980, 990})
"""Codes that change nothing which gpost follows: compensation off, first coordinate system, path modes."""

MODAL_G = frozenset(UNITS) | frozenset(DISTANCE) | frozenset(PLANES) | HARMLESS_G | {MOTION_OFF}
"""Codes that may share a line with an implicit move: they use no axis words (NIST section 3.3.7)."""

ONE_TIME_G = frozenset({DWELL, RELIEVE, UNRELIEVE, HOME, SET_REGISTER, CLEAR_OFFSETS})
"""Codes that act on their own line only (section 3.4, group 0; G11 is printing usage)."""

KNOWN_G = frozenset(MOVES) | MODAL_G | ONE_TIME_G | {PROBE}
USES_AXES_G = frozenset({SET_REGISTER, HOME, PROBE})
STILL_G = ONE_TIME_G - {SET_REGISTER, CLEAR_OFFSETS} | {PROBE}
"""Codes at which the machine stands still."""

_OTHER_SYSTEM = "another coordinate system, whose origin gpost does not know"
_CUTTER, _TOOL_LENGTH = "cutter compensation", "a tool length offset that gpost does not know"
_SUBPROGRAM = "a subprogram"

REFUSED_G = {
    50: "a spline move",
    51: "a spline move",
    70: "diameters instead of radii",
    160: "polar coordinates",
    300: "a second home position that gpost does not know",
    410: _CUTTER,
    420: _CUTTER,
    **dict.fromkeys((430, 431, 434, 440), _TOOL_LENGTH),
    510: "another scale",
    520: _OTHER_SYSTEM,
    530: "machine coordinates in one line",
    **dict.fromkeys((550, 560, 570, 580, 590, 591, 592, 593), _OTHER_SYSTEM),
    **dict.fromkeys((650, 660, 670), _SUBPROGRAM),
    680: "turned coordinates",
    **dict.fromkeys((730, 810, 820, 830, 840, 850, 860, 870, 880, 890), "a canned cycle"),
    901: "arc centres in absolute coordinates",
    922: "offsets that are suspended and kept",
    923: "offsets taken from an earlier run",
    930: "inverse-time feed",
    950: "feed per revolution",
}
"""Codes whose effect can't be followed, with the words for the message."""

REFUSED_M = dict.fromkeys((970, 980, 990), _SUBPROGRAM)

STOPPING_M = frozenset({0, 10, 60, 240, 250, 600, 1090, 1160, 1900, 1910, 2260, 4000, 6000})
"""M codes at which the machine certainly stands still."""

AFTER_MOVE_M = frozenset({0, 10, 20, 600})
"""Of these, those that come after a move on the same line (NIST section 3.8)."""

PLAIN_M = frozenset({20, 30, 40, 50, 70, 80, 90, 300, 480, 490})
"""M codes of the NIST report that have no words of their own (section 3.6)."""

COOLANT_ON_M = (70, 80)
"""Mist and flood, or air, on (NISTIR 6556, section 3.6.4)."""
WAITING_M = frozenset({0, 10, 250, 2260, 6000})
"""M codes at which a file waits for somebody: M0 and M1 (NIST section 3.6.1), M25, M226 and M600 by common
practice, no source."""
TIMED_M = frozenset({0, 10})
"""Of these, those that some machines take a time with, as P or S, and go on by themselves: common practice,
no source."""
EXTRUDE_ABSOLUTE, EXTRUDE_RELATIVE = 820, 830
CLAY_ON, CLAY_ON_REVERSE, CLAY_OFF = 1010, 1020, 1030
AIR_ON, AIR_OFF = 1060, 1070
FEED_FACTOR, FLOW_FACTOR = 2200, 2210
SET_PIN = 420
PIN_MODES_M = frozenset({0, 10, 20, 30})
"""Behind M42 an M with such a number is its word, how the pin is driven: common practice, no source."""
TOOL_CHANGE_M = 60
END_M = 20
ENDING_M = frozenset({END_M, 300, 1120})
"""M codes after which the program does not go on (M2, M30: NIST section 3.6.1; M112: common practice)."""
HEAT_WAITS_M = frozenset({1090, 1160, 1900, 1910})
HEATING_M = HEAT_WAITS_M | {1040, 1400, 1410, 3030}
"""Codes that heat a nozzle, a bed or a chamber, try out how one heats, or wait for heat: common practice, no
source."""
MIXING_M = frozenset({1630, 1640, 1650, 5670})

GROUPS_G = (
    frozenset({*MOVES, MOTION_OFF}),
    frozenset(PLANES),
    frozenset(DISTANCE),
    frozenset(UNITS),
    ONE_TIME_G,
)
GROUPS_M = (
    frozenset({EXTRUDE_ABSOLUTE, EXTRUDE_RELATIVE}),
    frozenset({AIR_ON, AIR_OFF}),
    frozenset({CLAY_ON, CLAY_ON_REVERSE, CLAY_OFF}),
    frozenset({0, 10, 20}),
)
"""Two codes of one group on a line are an error (section 3.3.5); so, by the same reasoning, for printing."""

HIGHEST = 99_990
"""Highest code there can be, times ten."""


def name_of(letter: str, code_x10: int) -> str:
    """A code as it is written: `M104`, `G92.1`."""
    return f"{letter}{code_x10 / 10:g}"


def said(commands: NDArray[np.void], letter: str, codes_x10: Iterable[int]) -> NDArray[np.bool_]:
    """Which commands of a file say one of these codes; there may be millions, so none is copied."""
    found = np.zeros(len(commands), np.bool_)
    for code in codes_x10:
        found |= commands["code_x10"] == code
    return np.asarray(found & (commands["letter"] == letter.encode()))


class CodeTable:
    """A mark for each code, looked up for many codes at once."""

    def __init__(self, *marked: Iterable[int]) -> None:
        """The first set of codes is marked 1, the second 2, and so on; all others 0."""
        self._marks = np.zeros(HIGHEST + 1, np.uint8)
        for mark, codes in enumerate(marked, 1):
            self._marks[list(codes)] = mark

    def __call__(self, codes: NDArray[np.int64]) -> NDArray[np.uint8]:
        """Marks of codes from 0 to HIGHEST, shape (n,)."""
        return self._marks.take(codes)
