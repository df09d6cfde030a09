"""A day that goes on in its middle: the cartridge that is on is what a piece that is done has left."""

from __future__ import annotations

from typing import NamedTuple

from gpost.config.model import Config
from gpost.supply.sure import counted_on_ml
from gpost.workbook.day.pieces import DayPiece, Printing, Stop

BEFORE = "\0"
"""The colour with which the piece that is done has begun: none that a config can name."""


class Left(NamedTuple):
    """The cartridge that is on when the day begins; the hose is full of its clay."""

    colour: str
    held_ml: float
    """Clay in it, its reserve included."""


def done_piece(left: Left, config: Config) -> DayPiece:
    """The piece that has brought the cartridge: it has taken of it what a full one has more."""
    taken_ml = counted_on_ml(config, None) - counted_on_ml(config, left.held_ml)
    uses = ((BEFORE, 0.0), (left.colour, max(taken_ml, 0.0)))
    printing = Printing(uses, 0.0, (Stop(0.0, "", new_cartridge=True),))
    return DayPiece("", printing, printing)
