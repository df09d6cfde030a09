"""How much clay a move meters, by the config's metering."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gpost.clay.bead import area_mm2
from gpost.config.metering import bead_width_mm, ml_per_unit, path_bead
from gpost.config.model import Config
from gpost.motion.follow import Follower
from gpost.motion.inplace import alone, in_place
from gpost.motion.moves import Moves
from gpost.survey.inside import Pushes


class ClayMeter:
    """Clay of moves in ml, from E, or from path times section where the file has no E."""

    def __init__(self, config: Config) -> None:
        self.ml_per_mm = ml_per_unit(config.clay.metering)
        self.bead_width_mm = bead_width_mm(config)
        self.path_bead = path_bead(config)
        """The bead that the path is taken for; None where E meters clay."""

    def clay_ml(self, moves: Moves) -> NDArray[np.float64]:
        """Net clay of each move in ml, shape (m,); negative where clay is drawn back."""
        if self.path_bead is None:
            return moves.e_mm * (self.ml_per_mm or 0.0)
        ml_per_mm = self.section_ml_per_mm(self.path_bead.height_mm)
        return np.where(moves.laying, moves.length_mm * ml_per_mm, 0.0)

    def section_ml_per_mm(self, layer_mm: float) -> float:
        """Clay of one mm of bead of the expected width and this layer height, ml."""
        return float(area_mm2(self.bead_width_mm, layer_mm)) / 1000


def pushes_of(follower: Follower, meter: ClayMeter, first_line: int, end_line: int) -> Pushes:
    """What pushes clay in place on these lines of a block, or draws it back."""
    moves = follower.moves
    line = moves.line + follower.block.chunk.first_line
    at = np.flatnonzero(in_place(follower) & (line >= first_line) & (line < end_line))
    feed_mm_min = moves.feed_mm_min[at]
    time_s = np.where(feed_mm_min > 0, moves.length_mm[at] / feed_mm_min * 60, 0.0)
    return Pushes(line[at], meter.clay_ml(moves)[at], time_s, alone(follower)[at])
