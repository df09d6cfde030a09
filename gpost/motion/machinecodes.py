"""What codes beside the moves do to the machine itself: common practice of printing, no source.

Codes are held times ten, as in `codes`.
"""

from __future__ import annotations

from typing import NamedTuple

from gpost.motion import codes
from gpost.read.oddline import KNOWN_CODES, TEXT_CODES


class Effect(NamedTuple):
    """What a code does, in words for a potter."""

    text: str
    loses: bool = True
    """Whether what comes after it can't be told any more: where the nozzle goes, or how much clay comes."""


OFFSETS = Effect("shifts the machine's zero")
PROBE_OFFSET = Effect("shifts the height that the probe finds")
STEPS = Effect("sets how far a step goes")
E_UNIT = Effect("sets what one unit of E is")
LEVELLING = Effect("sets how the bed's shape is made up for")
KINEMATICS = Effect("sets how the machine is built")
TOOLS = Effect("sets up tools")
RESET = Effect("takes back stored settings")
FILES = Effect("writes files on the machine, or goes on in another one")
PROBING = Effect("probes the bed")
LOADING = Effect("parks, loads or unloads by itself")
STARTS = Effect("starts a file on the machine", loses=False)
DRY = Effect("sets what the machine only pretends to do")
LIMITS = Effect("sets the limits of the machine's ways, or how clay is drawn back", loses=False)
STORE = Effect("stores settings for good", loses=False)
MOTORS = Effect("sets up the motors", loses=False)
DIRECTION = Effect("sets which way a motor turns, or how it is driven")
PINS = Effect("switches a pin, a servo or a spindle", loses=False)
POWER = Effect("switches the power on", loses=False)

SETTINGS_M: dict[int, Effect] = {
    **dict.fromkeys((2060, 2900, 4280), OFFSETS),
    8510: PROBE_OFFSET,
    **dict.fromkeys((920, 3500, 3510), STEPS),
    2000: E_UNIT,
    **dict.fromkeys((3230, 4200, 4210, 4250, 5560, 5570, 5580, 5610), LEVELLING),
    **dict.fromkeys((6650, 6660, 6670, 6690), KINEMATICS),
    **dict.fromkeys((2170, 2180, 4510, 4520, 4530, 5630, 5840, 5850, 6050), TOOLS),
    **dict.fromkeys((5010, 5020), RESET),
    **dict.fromkeys((230, 260, 280, 290, 320, 5590, 5600, 9280), FILES),
    **dict.fromkeys((1250, 7010, 7020), LOADING),
    240: STARTS,
    **dict.fromkeys((370, 1110), DRY),
    **dict.fromkeys((1200, 1210, 2080, 2110, 5400, 5640, 5740), LIMITS),
    **dict.fromkeys((5000, 5040), STORE),
    5690: DIRECTION,
    **dict.fromkeys((30, 40, 50, 420, 2800), PINS),
    **dict.fromkeys((9060, 9070, 9080, 9110, 9120, 9130, 9140), MOTORS),
    800: POWER,
}
SETTINGS_G: dict[int, Effect] = dict.fromkeys((290, 310, 320, 330, 340), PROBING)
"""G29 and its kin; G30 is refused before, as a second home."""

STOPS_M: dict[int, str] = {
    810: "switches the power off",
    1120: "is an emergency stop",
    9970: "puts new software on the machine",
    9990: "starts the machine anew",
}
"""Codes after which nothing of the file is carried out."""

PACE_M = frozenset({2010, 2020, 2030, 2040, 2050, 5660})
"""How fast the machine gets under way, and its fastest: places and clay stay, times don't."""

HOLDS_M = frozenset({3020, 4200, 5720, 9000})
"""Cold moves allowed, levelling in use, how far E leads: each holds until it is said anew."""

LETS_GO_M = frozenset({180, 840})
"""Let the motors go, unless an S says when or the words name E alone."""

HARMLESS_M = frozenset(
    {
        *(10 * code for code in (31, 33, 34, 36, 38, 39, 43, 78, 79, 86, 87, 113, 115, 119, 122, 141, 143)),
        *(10 * code for code in (144, 145, 149, 150, 155, 192, 250, 256, 260, 261, 291, 292, 305, 355)),
        *(10 * code for code in (401, 402, 403, 404, 405, 406, 407, 412, 413, 486, 503, 555, 572, 575)),
        *(10 * code for code in (591, 593, 601, 602, 603, 862, 871, 876, 900)),
        *range(8620, 8630),
    }
)
"""They switch, report, wait or ask, and change nothing about where the nozzle goes."""

KNOWN_M = frozenset(
    {
        *(10 * code for code in KNOWN_CODES | TEXT_CODES),
        *SETTINGS_M,
        *STOPS_M,
        *PACE_M,
        *LETS_GO_M,
        *HARMLESS_M,
        *codes.STOPPING_M,
        *codes.MIXING_M,
        *codes.ENDING_M,
    }
)
