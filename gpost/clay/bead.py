"""The section of a bead: a stadium, flat below and above, round at both sides.

A bead of width w and height h <= w is a rectangle (w - h) h between two half discs of diameter h:
exact geometry; that clay settles in this form is an assumption.

A bead is never higher than wide. Asked for in a gap higher than its width, the strand is not pressed
flat at all but hangs or lies as the round strand it is: its height is then its width.

Floats or arrays (of shapes that fit together), lengths in mm, areas in mm^2.
"""

from __future__ import annotations

import math
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Number = TypeVar("Number", float, NDArray[np.float64])


def area_mm2(width_mm: Number, height_mm: Number) -> Number:
    """Area of the section, (w - h) h + pi h^2 / 4."""
    height: Number = np.minimum(height_mm, width_mm)
    return (width_mm - height) * height + math.pi / 4 * height * height


def width_mm(area: float, height_mm: float) -> float:
    """Width of a bead of that section, mm: `area_mm2` the other way round.

    Of too little clay to fill the gap, the diameter of the round strand.
    """
    round_mm2 = math.pi / 4 * height_mm * height_mm
    return height_mm + (area - round_mm2) / height_mm if area > round_mm2 else math.sqrt(4 * area / math.pi)
