"""The file's own lines that switch the blower as the studio's `air` says: by a pin, a valve, a fan by number.

M106 and M107 without a P are followed for every machine (gpost/motion/modes.py); these hang on the config.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.config.commands import LEVEL, code_and_numbers
from gpost.config.machine import AirCommands
from gpost.motion import codes, machinecodes
from gpost.motion.lines import Floats, Ints, fail, numbers_on
from gpost.motion.namedswitch import NamedSwitch
from gpost.read.block import Block
from gpost.read.oddline import TEXT_CODES

_AIR = (codes.AIR_ON, codes.AIR_OFF)
_WORDLESS = codes.CodeTable(
    codes.PLAIN_M
    | {10 * code for code in TEXT_CODES}
    | {codes.EXTRUDE_ABSOLUTE, codes.EXTRUDE_RELATIVE, codes.CLAY_ON, codes.CLAY_ON_REVERSE, codes.CLAY_OFF}
    | {4000}
)
"""M codes that take neither P nor S: NISTIR 6556, section 3.6, else common practice, no source."""
_TIMED_G = codes.CodeTable({codes.DWELL, codes.RELIEVE, codes.UNRELIEVE})
"""G codes that take P or S: a time (NIST RS274/NGC report, section 3.5.4), or, by common practice,
how much is drawn back."""
TAKES_S = 2
_COOLANT_M = frozenset({70, 80, 90})
"""Air or mist by M7, M8 and M9, which have no words (NISTIR 6556, section 3.6.4)."""
VALVES_M = frozenset({1260, 1270})
"""Open and close a valve: common practice, no source."""
_PINS_M = {code for code, does in machinecodes.SETTINGS_M.items() if does is machinecodes.PINS}
_PINS_M |= VALVES_M | _COOLANT_M
"""Codes that may stand for the blower or the auger: whatever else is known does something that is
followed as such."""


class Switch(NamedTuple):
    """A code with its P, by which something is switched; NaN stands for a word that isn't there."""

    code_x10: int
    pin: float
    level: float


class Switched(NamedTuple):
    """What switches the blower among the M codes of a block, all of shape (k,)."""

    at: Ints
    """Which of the M codes."""
    level: Floats
    """The raw level from there on; 0 for off."""


class AsWritten(NamedTuple):
    """A command of the studio's blower or auger, which stands as M106, M107, M101 or M103 among all."""

    code_x10: int
    """As the file has it; 0 for one by name."""
    name: str
    """In capitals; empty for a code."""
    stands_as: int
    """That code, times ten."""


class Blowing(NamedTuple):
    """The raw levels of all blowers at one place; 0 for one that is off."""

    plain: float
    """Of M106 without a P."""
    others: tuple[tuple[int, float], ...]
    """(P, level) of those that M106 with another P lets blow."""
    studio: float
    """Of the studio's `air`, where it isn't the first."""


class StudioAir:
    """Knows what one studio switches its blower by, beside M106 and M107 without a P."""

    def __init__(self, air: AirCommands) -> None:
        on, off = switch_of(air.on), switch_of(air.off)
        own = [each for each in (on, off) if each is not None]
        if all(each.code_x10 in _AIR and not each.pin for each in own):
            own = []
        fans = {each.pin for each in own if each.code_x10 in _AIR and each.pin}
        switches = [each[:2] for each in own] + [(code, pin) for pin in fans for code in _AIR]
        self._switches = tuple(dict.fromkeys(switches))
        self._off = [off] if off is not None else []
        if on is not None and LEVEL in air.on:
            self._off.append(on._replace(level=0.0))
        self._full = air.full
        self._named = NamedSwitch(air.on, air.off, air.full)
        blowing = {codes.AIR_ON, codes.AIR_OFF, *(code_x10 for code_x10, _ in self._switches)}
        self._blowing = codes.CodeTable(blowing)

    def __bool__(self) -> bool:
        """Whether there is any command but M106 and M107 without a P."""
        return bool(self._switches) or bool(self._named)

    def refuse_shared(self, block: Block, m_line: Ints, m: Ints, g_line: Ints, g: Ints) -> None:
        """As the function of that name, for the blower."""
        refuse_shared(block, m_line, m, g_line, g, self._blowing, "blower")

    def named(self, block: Block) -> tuple[Ints, Floats]:
        """Lines of a block that switch the blower by name, and the raw levels from there on; (k,)."""
        found = list(self._named.switched(block))
        return np.array([each[0] for each in found], np.int64), np.array([each[1] for each in found])

    def names(self, block: Block) -> list[str]:
        """The names of those, in capitals."""
        return [name for _, _, name in self._named.switched(block)]

    def switched(self, block: Block, m_line: Ints, m: Ints) -> Switched:
        """Which of a block's M codes switch the blower, and how hard it blows then."""
        marked = np.zeros(len(m), np.bool_)
        for code_x10, _ in self._switches:
            marked |= m == code_x10
        at = np.flatnonzero(marked)
        if not len(at):
            return Switched(at, np.zeros(0))
        code, pin, level = m[at], *(numbers_on(block, m_line[at], letter) for letter in "PS")
        wordless = np.isin(code, list(_COOLANT_M))
        pin[wordless] = level[wordless] = np.nan
        fan = (code == codes.AIR_ON) | (code == codes.AIR_OFF)
        pin[fan & np.isnan(pin)] = 0
        ours = np.any([(code == own) & same(pin, of) for own, of in self._switches], axis=0)
        off = [code == codes.AIR_OFF, fan & (level == 0)] + [
            (code == each.code_x10) & same(pin, each.pin) & same(level, each.level) for each in self._off
        ]
        level = np.where(np.any(off, axis=0), 0.0, np.where(level > 0, level, self._full))
        return Switched(at[ours], level[ours])


@lru_cache(maxsize=64)
def studio_air(air: AirCommands) -> StudioAir:
    """What is known of it, reckoned once for a config: a file has thousands of blocks."""
    return StudioAir(air)


def refuse_shared(
    block: Block, m_line: Ints, m: Ints, g_line: Ints, g: Ints, own: codes.CodeTable, thing: str
) -> None:
    """Raise SourceError where P or S of what switches a thing may be another command's on its line.

    A letter stands once on a line, and it isn't said whose it is (NIST RS274/NGC report, section 3.3.5).
    `g`: the G codes that are no moves; `own`: the codes that switch the thing, marked 2 where an S is theirs
    though they have no words of their own.
    """
    switching, timed = own(m), _TIMED_G(g) > 0
    if not switching.any() or not ((m_line[1:] == m_line[:-1]).any() or timed.any()):
        return
    takes_words = (_WORDLESS(m) == 0) | (switching == TAKES_S)
    several = np.bincount(np.append(m_line[takes_words], g_line[timed]), minlength=block.lines) > 1
    said_p, said_s = block.stands("P"), block.stands("S")
    doubted = (said_p[m_line] & (switching != TAKES_S)) | (said_s[m_line] & (m != codes.AIR_OFF))
    wrong = np.flatnonzero((switching > 0) & takes_words & several[m_line] & doubted)
    if len(wrong):
        line = m_line[wrong[0]]
        names = [codes.name_of("G", code) for code in g[timed & (g_line == line)].tolist()]
        names += [codes.name_of("M", code) for code in m[m_line == line].tolist()]
        fail(
            block,
            line,
            f"{' and '.join(names)} stand on one line, and it can't be told whose P and S are, so "
            f"that a command of the {thing} can't be kept apart; put each command on a line of its own",
        )


def switch_of(command: str, also: Collection[int] = ()) -> Switch | None:
    """The code by which a studio's command switches something; None: a name, or a code that does else.

    `also`: codes that may stand for that thing, beside those that switch something or aren't known.
    """
    code, numbers = code_and_numbers(command) or ("", {})
    if not code.startswith("M"):
        return None
    code_x10 = round(10 * float(code[1:]))
    if code_x10 in machinecodes.KNOWN_M and code_x10 not in _PINS_M.union(_AIR, also):
        return None
    none = {"P": "0" if code_x10 in _AIR else "nan", "S": "nan"}
    pin, level = (float({**none, **numbers}[letter].replace(LEVEL, "nan")) for letter in "PS")
    return Switch(code_x10, pin, level) if code_x10 <= codes.HIGHEST else None


def same(column: Floats, value: float) -> NDArray[np.bool_]:
    """Where it holds that number, or none where none is asked for."""
    return np.asarray(np.isnan(column) if math.isnan(value) else column == value)
