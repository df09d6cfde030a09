"""How much clay a move meters, by the config's metering."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gpost.clay.bead import area_mm2
from gpost.config.metering import bead_width_mm, ml_per_unit
from gpost.config.model import Config
from gpost.motion.moves import Moves


class ClayMeter:
    """Clay of moves in ml, from E, or from path times section where the file has no E."""

    def __init__(self, config: Config) -> None:
        self.ml_per_mm = ml_per_unit(config.clay.metering)
        self.bead_width_mm = bead_width_mm(config)
        self._path_ml_mm = area_mm2(self.bead_width_mm, 0.5 * config.machine.nozzle_mm) / 1000

    def clay_ml(self, moves: Moves) -> NDArray[np.float64]:
        """Net clay of each move in ml, shape (m,); negative where clay is drawn back."""
        if self.ml_per_mm is None:
            return np.where(moves.laying, moves.length_mm * self._path_ml_mm, 0.0)
        return moves.e_mm * self.ml_per_mm

    def section_ml_per_mm(self, layer_mm: float) -> float:
        """Clay of one mm of bead of the expected width and this layer height, ml."""
        return float(area_mm2(self.bead_width_mm, layer_mm)) / 1000
