"""What each code means to the motion: the tables of the NIST RS274/NGC groups and of printing usage.

Codes are held times ten (G38.2 is 382). Groups: NISTIR 6556, section 3.4. M codes of printing:
common practice, no source.
"""

from __future__ import annotations

MOVES = (0, 10, 20, 30)
UNITS = {200: 25.4, 210: 1.0}
DISTANCE = {900: False, 910: True}
PLANES = {170: 17, 180: 18, 190: 19}

DWELL, HOME, PROBE, SET_REGISTER, CLEAR_OFFSETS = 40, 280, 290, 920, 921
RELIEVE, UNRELIEVE = 100, 110

HARMLESS_G = frozenset({400, 490, 540, 610, 611, 640, 800, 940, 530})
"""Codes that change nothing which gpost follows: compensation off, first coordinate system, path modes."""

KNOWN_G = (
    frozenset(MOVES)
    | UNITS.keys()
    | DISTANCE.keys()
    | PLANES.keys()
    | {DWELL, HOME, PROBE, SET_REGISTER, CLEAR_OFFSETS, RELIEVE, UNRELIEVE}
    | HARMLESS_G
)

REFUSED_G = {
    50: "a spline move",
    51: "a spline move",
    300: "a second home position that gpost does not know",
    410: "cutter compensation",
    420: "cutter compensation",
    430: "a tool length offset that gpost does not know",
    550: "another coordinate system, whose origin gpost does not know",
    560: "another coordinate system, whose origin gpost does not know",
    570: "another coordinate system, whose origin gpost does not know",
    580: "another coordinate system, whose origin gpost does not know",
    590: "another coordinate system, whose origin gpost does not know",
    922: "offsets that are suspended and kept",
    923: "offsets taken from an earlier run",
    930: "inverse-time feed",
    950: "feed per revolution",
} | {code: "a canned cycle" for code in (730, 810, 820, 830, 840, 850, 860, 870, 880, 890)}
"""Codes whose effect can't be followed, with the words for the message."""

MODAL_GROUPS = {
    **dict.fromkeys(MOVES, 1),
    **dict.fromkeys(PLANES, 2),
    **dict.fromkeys(DISTANCE, 3),
    930: 5,
    940: 5,
    **dict.fromkeys(UNITS, 6),
}
"""Group of each modal G code: two of one group on a line are an error (section 3.3.5)."""

STOPPING_M = frozenset({0, 10, 60, 240, 250, 1090, 1900, 1910, 4000, 6000})
"""M codes at which the machine certainly stands still."""

PAUSING_M = frozenset({0, 10})
EXTRUDE_ABSOLUTE, EXTRUDE_RELATIVE = 820, 830
CLAY_ON, CLAY_ON_REVERSE, CLAY_OFF = 1010, 1020, 1030
AIR_ON, AIR_OFF = 1060, 1070
FEED_FACTOR, FLOW_FACTOR = 2200, 2210
MIXING_M = frozenset({1630, 1640, 1650, 5670})
END_M = frozenset({20, 300})
