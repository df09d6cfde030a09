"""The modal state of the machine at one point of the program."""

from __future__ import annotations

import math
from enum import IntEnum

from gpost.common.records import record

NAN = math.nan
NOT_SAID = math.inf


class Axis(IntEnum):
    """Index of an axis in the tuples of a state."""

    X = 0
    Y = 1
    Z = 2
    E = 3


@record(frozen=True, slots=True)
class MachineState:
    """What the controller knows before a line is executed.

    `register` is what a program in absolute mode would have to say to stay where it is, in mm
    (E: in mm of the E axis); `offset` is what G92 has added: machine position = register + offset.
    For E only the register counts; its offset stays 0.
    """

    register: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    offset: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    known: tuple[bool, bool, bool] = (False, False, False)
    """Whether X, Y, Z have been homed or commanded absolutely: otherwise they are a guess."""
    scale: float = 1.0
    """Millimetres in one length unit: 1 after G21, 25.4 after G20."""
    relative: bool = False
    e_relative: bool = False
    motion: int = 1
    """Modal motion code: 0, 1, 2 or 3."""
    plane: int = 17
    feed_mm_min: float = NAN
    """NaN until the program has said F."""
    feed_factor: float = 1.0
    """M220 S, as a fraction."""
    flow_factor: float = 1.0
    """M221 S, as a fraction."""
    air: float = 0.0
    """The last S of M106 without a P, or with P0, in force, raw as the source gives it; 0 after M107."""
    other_air: tuple[tuple[int, float], ...] = ()
    """(P, S) of the other blowers that M106 with a P lets blow, but for the studio's `air`; by P."""
    studio_air: float = 0.0
    """The level that the file has last set by the commands of the studio's `air`, where they are others than
    M106 and M107 without a P, raw as the source gives it; 0 for off."""
    auger_runs: bool = False
    """Whether what the studio's `auger` says is switched on."""
    auger_number: float = NOT_SAID
    """The number that the file has last said at that, which holds while it is off too."""
    tool: int = 0
    laying: bool = False
    """Between M101 and M103: clay runs with every move that is not a G0."""
    pressure_relief: int = 0
    """Number of G10 relief moves not yet undone by G11."""

    @property
    def auger_pushes(self) -> bool:
        """Whether the auger runs at any speed but 0."""
        return self.auger_runs and self.auger_number != 0

    @property
    def position_mm(self) -> tuple[float, float, float]:
        """Machine position X, Y, Z in mm."""
        r, o = self.register, self.offset
        return (r[0] + o[0], r[1] + o[1], r[2] + o[2])
