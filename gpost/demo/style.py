"""The dialect in which a demo piece is written: how a sliced file may look."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from gpost.errors import ConfigError

STRAND_MM = 1.75
"""Diameter of the virtual strand that E counts when `e_unit` is 'filament'."""
INCH_MM = 25.4


@dataclass(frozen=True, kw_only=True)
class SliceStyle:
    """How the piece is sliced and written. The defaults are a plain sliced file for plastic."""

    wall: Literal["flat", "rise"] = "flat"
    """Level rings, or one helix that rises by a layer each turn above the base."""
    base: Literal["rings", "spiral"] = "rings"
    level_first: bool = True
    """A rising wall without a base starts with a level ring."""
    level_last: bool = False
    """A rising wall ends with a turn that doesn't rise."""
    arcs: bool = False
    """Circles of the base are written as two half arcs (G3)."""
    relative_axes: bool = False
    """G91 from the piece's first point to its last; before and after it G90."""
    relative_e: bool = False
    inches: bool = False
    """G20; it scales the E word too, since E is an axis."""
    e_unit: Literal["filament", "mm3"] = "filament"
    decimals: int = 3
    e_decimals: int = 5
    trim_zeros: bool = False
    z_hop: bool = False
    retract: bool = False
    heaters: bool = False
    """Heat, heat waits and a fan that comes up layer by layer, as for plastic."""
    g92_every_layer: bool = False
    comments: bool = False
    newline: Literal["\n", "\r\n", "\r"] = "\n"
    numbered: bool = False
    """N numbers and checksums on every command."""
    modal_g: bool = False
    """Leave the G out when the move is of the same kind as the one before."""
    lowercase: bool = False
    prime_in_place: bool = False
    """Push clay out in one go before the piece, without moving."""
    feed_mm_min: float = 1800.0
    travel_feed_mm_min: float = 3600.0
    slow_first_factor: float = 1.0
    """Feed of the first layer, as a factor."""

    def __post_init__(self) -> None:
        if not (0 <= self.decimals <= 9 and 0 <= self.e_decimals <= 9):
            raise ConfigError("a number is written with 0 to 9 decimals.")
        if min(self.feed_mm_min, self.travel_feed_mm_min, self.slow_first_factor) <= 0:
            raise ConfigError("feeds, and the factor for the first layer, are above 0.")

    @property
    def unit_mm(self) -> float:
        """Millimetres in one length unit of the file."""
        return INCH_MM if self.inches else 1.0

    @property
    def step_mm(self) -> float:
        """The smallest distance that the file's decimals can say, in mm."""
        return self.unit_mm / 10.0**self.decimals

    @property
    def e_step_mm3(self) -> float:
        """The smallest volume that the file's decimals can say, in mm^3."""
        area = math.pi / 4 * STRAND_MM**2 if self.e_unit == "filament" else 1.0
        return area * self.unit_mm / 10.0**self.e_decimals
