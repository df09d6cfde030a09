"""What is seen in trials of strength: where a tube folds, and what a cone is."""

from __future__ import annotations

from typing import Literal, NamedTuple

CONE_FACTORS = {30.0: (0.5, 0.8, 1.33), 60.0: (0.17, 0.27, 0.45)}
"""Of a fall cone, by its angle: least, usual and most. S. Hansbo, A new approach to the determination of the
shear strength of clay by the fall-cone test, Royal Swedish Geotechnical Institute, Proceedings 14, 1957
(synopsis seen); 0.80 for 30 degrees as ISO 17892-6:2017 is quoted, 0.27 for 60 from memory. Measured ones
for 30 lie between 0.5 and 1.33, by the cone's roughness and the rate (abstract of a calibration of 2019,
seen); for 60 the same shares of the usual one are taken (no source)."""
Place = Literal["foot", "wall", "leant", "stood"]
PLACES: tuple[Place, ...] = ("foot", "wall", "leant", "stood")


class Fold(NamedTuple):
    """A plain tube that was printed until it gave way."""

    height_mm: float
    """How high it was then."""
    age_s: float
    """Time since its first turn."""
    place: Place = "foot"
    """Where it gave way. At the foot the clay yields. In mid-wall, or leaning, it buckled: then the foot
    still bore all that lay on it, as it did if the tube stood to the end."""

    @property
    def yields(self) -> bool:
        """Whether the clay's strength is what gave way."""
        return self.place == "foot"

    @property
    def rise_mm_s(self) -> float:
        """How fast it rose, on average."""
        return self.height_mm / self.age_s
