"""The file's own lines that switch the auger as the studio's `machine: auger` says: by M3, a pin, a name.

M101 and M103 are followed for every machine (gpost/motion/modes.py); these hang on the config. M3 to M5, and
an S that stands without them: NISTIR 6556, sections 3.6.2 and 3.7.2. All else: common practice, no source.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from gpost.common.among import among
from gpost.config.auger import AugerCommands
from gpost.motion import codes
from gpost.motion.events import spread
from gpost.motion.lines import Flags, Floats, Ints, merged, numbers_on
from gpost.motion.namedswitch import NamedSwitch
from gpost.motion.state import MachineState
from gpost.motion.studioair import AsWritten, refuse_shared, same, switch_of
from gpost.read.block import Block

_CLAY = (codes.CLAY_ON, codes.CLAY_OFF)
_SPINDLE = (30, 40)
_NO_PIN = (*_SPINDLE, 50, *_CLAY)
"""Codes whose line may have a P that is another's."""
_TIMED_G = codes.CodeTable({codes.DWELL, codes.RELIEVE, codes.UNRELIEVE})
_OFF, _ON, _STAYS = 0.0, 1.0, 2.0


class Pushing(NamedTuple):
    """How the auger runs through a block, by the lines within it."""

    at: Ints
    """Which of the block's M codes switch it."""
    code: Ints
    """What each of them stands as: M101 or M103, times ten."""
    by_name: Ints
    """Lines that switch it by name."""
    code_by_name: Ints
    names: tuple[str, ...]
    """Those names, in capitals."""
    line: Ints
    """Lines from which on it runs otherwise, or at another number; its own move included."""
    runs: Flags
    number: Floats
    """The number last said, whether it runs or not; with 0 it pushes nothing."""

    def on_lines(self, before: MachineState, lines: int) -> Any:
        """Whether it pushes on each line of the block; a scalar where that never changes."""
        pushes = self.runs & (self.number != 0)
        if not len(self.line) or (pushes == before.auger_pushes).all():
            return before.auger_pushes
        return spread(self.line, pushes, before.auger_pushes, lines)

    def as_written(self, m: Ints) -> list[AsWritten]:
        """Each command as the file has it; `m`: the block's M codes."""
        by_code = zip(m[self.at].tolist(), self.code.tolist(), strict=True)
        named = zip(self.names, self.code_by_name.tolist(), strict=True)
        return [AsWritten(code, "", as_code) for code, as_code in by_code] + [
            AsWritten(0, name, as_code) for name, as_code in named
        ]


class StudioAuger:
    """Knows what one studio's files switch their auger by."""

    def __init__(self, auger: AugerCommands) -> None:
        self._on, self._off = switch_of(auger.on, _CLAY), switch_of(auger.off, _CLAY)
        self._named = NamedSwitch(auger.on, auger.off, math.inf)
        self._turns = self._on is not None and self._on.code_x10 in _SPINDLE
        """Whether it is the spindle, for which an S counts wherever it stands."""
        own = {each.code_x10 for each in (self._on, self._off) if each is not None}
        self._own = codes.CodeTable(*(((), {*own, *_SPINDLE}) if self._turns else (own,)))

    def pushing(
        self, block: Block, m_line: Ints, m: Ints, g: tuple[Ints, Ints], before: MachineState
    ) -> Pushing:
        """How it runs through a block; `g`: lines and codes of the G codes that are no moves.

        Raises SourceError for a line on which another command may be meant by its P or S.
        """
        refuse_shared(block, m_line, m, *g, self._own, "auger")
        at, kind, number = self._by_code(block, m_line, m)
        found = list(self._named.switched(block))
        by_name = np.array([line for line, _, _ in found], np.int64)
        level = np.array([level for _, level, _ in found])
        speed_line, speed = self._speeds(block, m_line, g)
        line, events = merged(
            [
                (m_line[at], np.stack([kind, number], axis=1)),
                (
                    by_name,
                    np.stack([np.where(level > 0, _ON, _OFF), np.where(level > 0, level, np.nan)], axis=1),
                ),
                (speed_line, np.stack([np.full(len(speed), _STAYS), speed], axis=1)),
            ]
        )
        kinds, numbers = events[:, 0], events[:, 1]
        return Pushing(
            at=at,
            code=_clay((kind == _ON) & (number != 0)),
            by_name=by_name,
            code_by_name=_clay(level > 0),
            names=tuple(name for _, _, name in found),
            line=line,
            runs=_carried(kinds == _ON, kinds != _STAYS, before.auger_runs),
            number=_carried(numbers, np.isfinite(numbers), before.auger_number),
        )

    def _by_code(self, block: Block, m_line: Ints, m: Ints) -> tuple[Ints, Floats, Floats]:
        """(which M codes, whether on or off, the number said or NaN)."""
        at = np.flatnonzero(self._own(m))
        m, line = m[at], m_line[at]
        pin, said = (numbers_on(block, line, letter) for letter in "PS")
        pin[among(m, np.array(_NO_PIN))] = np.nan
        on, off, number = np.zeros(len(m), np.bool_), np.zeros(len(m), np.bool_), said
        if self._on is not None:
            on = (m == self._on.code_x10) & same(pin, self._on.pin)
            if self._turns:
                off |= among(m, np.array(_SPINDLE)) & ~on  # turned the other way, it draws back
            if not math.isnan(self._on.level):
                number = np.where(on, np.nan, number)  # `on` says it itself
        if self._off is not None:
            stops = (m == self._off.code_x10) & same(pin, self._off.pin)
            if self._on is not None and self._on.code_x10 == self._off.code_x10:
                stops &= said == self._off.level
            off |= stops
        if not self._turns:
            number = np.where(off, np.nan, number)
        ours = on | off
        return at[ours], np.where(off, _OFF, _ON)[ours], number[ours]

    def _speeds(self, block: Block, m_line: Ints, g: tuple[Ints, Ints]) -> tuple[Ints, Floats]:
        """Where an S that is nobody else's says how fast the spindle turns."""
        none: Ints = np.zeros(0, np.int64)
        if not self._turns or not block.counts[ord("S")]:
            return none, np.zeros(0)
        line, number = block.said("S")
        free = ~among(line, m_line) & ~among(line, g[0][_TIMED_G(g[1]) > 0])
        return line[free], number[free]


@lru_cache(maxsize=64)
def studio_auger(auger: AugerCommands) -> StudioAuger:
    """What is known of it, reckoned once for a config: a file has thousands of blocks."""
    return StudioAuger(auger)


def _carried(values: Any, said: Flags, before: Any) -> Any:
    """What was last said at each event, from what was in force before."""
    last = np.maximum.accumulate(np.where(said, np.arange(1, len(values) + 1), 0)) if len(values) else said
    return np.append(before, values)[last.astype(np.int64)]


def _clay(runs: Flags) -> Ints:
    return np.where(runs, codes.CLAY_ON, codes.CLAY_OFF)
