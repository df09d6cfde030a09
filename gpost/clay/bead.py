"""The section of a bead: a stadium, flat below and above, round at both sides.

A bead of width w and height h <= w is a rectangle (w - h) h between two half discs of diameter h:
exact geometry; that clay settles in this form is an assumption.

A bead is never higher than wide. Asked for in a gap higher than its width, the strand isn't pressed
flat at all but hangs or lies as the round strand it is: its height is then its width.

All functions take floats or arrays (of shapes that fit together), lengths in mm, areas in mm^2.
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


def perimeter_mm(width_mm: Number, height_mm: Number) -> Number:
    """Length of the section's outline, 2 (w - h) + pi h."""
    height: Number = np.minimum(height_mm, width_mm)
    return 2 * (width_mm - height) + math.pi * height


def width_from_area_mm(area_mm2: Number, height_mm: Number) -> Number:
    """Width of the bead that has this area in a gap of this height: A / h + h (1 - pi / 4).

    The inverse of `area_mm2`: too little clay to fill the gap makes a round strand. Raise ValueError unless
    both are above 0.
    """
    if not (np.all(np.greater(area_mm2, 0)) and np.all(np.greater(height_mm, 0))):
        raise ValueError("a bead's area and height must be above 0")
    strand: Number = 2 * np.sqrt(area_mm2 / math.pi)
    height: Number = np.minimum(height_mm, strand)
    return area_mm2 / height + height * (1 - math.pi / 4)
