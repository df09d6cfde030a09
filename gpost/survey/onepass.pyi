import numpy as np
from numpy.typing import NDArray

from gpost.survey.path import Path
from gpost.survey.rows import Rows

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Ints = NDArray[np.int64]

def added_up(rows: Rows, at: Ints) -> tuple[Floats, Floats, Floats]: ...
def flags(start: Floats, end: Floats, before: Floats) -> tuple[Flags, Flags, Flags, Flags]: ...
def wound(
    path: Path, centre: Floats, lean: Floats, turn_mm: float, before: float, furthest: float
) -> tuple[Floats, Floats, Ints]: ...
