"""Centre, radius and sweep of an arc, by section 3.5.3 of the NIST RS274/NGC report (NISTIR 6556).

Everything here lies in the arc's plane: a point is a pair along the plane's first and second axis,
ordered so that a positive angle turns counter-clockwise seen from the positive end of the third.
"""

from __future__ import annotations

import math
from decimal import Decimal
from typing import TypeAlias

from tests.reference.words import LineError

Pair: TypeAlias = tuple[Decimal, Decimal]

PLANES = {17: ("X", "Y", "Z"), 18: ("Z", "X", "Y"), 19: ("Y", "Z", "X")}
"""Plane code: first axis, second axis, and the axis normal to both (3.5.3, 3.5.6)."""
OFFSETS = {"X": "I", "Y": "J", "Z": "K"}
"""The word that gives the centre's distance from the start along an axis (3.5.3.2)."""


def length(vector: Pair) -> Decimal:
    """Length of a vector in the plane."""
    return (vector[0] ** 2 + vector[1] ** 2).sqrt()


def centre_from_offsets(start: Pair, end: Pair, offset: Pair, tolerance_mm: Decimal) -> Pair:
    """Centre format (3.5.3.2): the offset counts from the start; both radii must agree."""
    centre = (start[0] + offset[0], start[1] + offset[1])
    radius = length(offset)
    end_radius = length((end[0] - centre[0], end[1] - centre[1]))
    if radius == 0:
        raise LineError("the arc's centre is its start")
    if abs(radius - end_radius) > tolerance_mm:
        raise LineError(f"the arc's radius is {radius:.6f} mm at its start, {end_radius:.6f} mm at its end")
    return centre


def centre_from_radius(start: Pair, end: Pair, radius: Decimal, *, clockwise: bool) -> Pair:
    """Radius format (3.5.3.1): R above 0 turns by 180 degrees or less, R below 0 by more.

    A clockwise arc of less than half a turn has its centre on the right of the way from start to end.
    """
    chord = (end[0] - start[0], end[1] - start[1])
    if start == end:
        raise LineError("an arc with R can't end where it starts")
    half_chord_squared = (chord[0] ** 2 + chord[1] ** 2) / 4
    if radius**2 < half_chord_squared:
        raise LineError("the arc's radius is too small to reach the end point")
    distance = (radius**2 - half_chord_squared).sqrt()
    right = (chord[1] / length(chord), -chord[0] / length(chord))
    side = distance if clockwise == (radius > 0) else -distance
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    return (middle[0] + side * right[0], middle[1] + side * right[1])


def sweep_rad(start: Pair, end: Pair, centre: Pair, *, clockwise: bool) -> float:
    """Signed angle from start to end, counter-clockwise positive; a full turn if they are the same point."""
    a = (start[0] - centre[0], start[1] - centre[1])
    b = (end[0] - centre[0], end[1] - centre[1])
    cross = a[0] * b[1] - a[1] * b[0]
    dot = a[0] * b[0] + a[1] * b[1]
    angle = math.atan2(cross, dot)
    if clockwise and angle >= 0:
        angle -= 2 * math.pi
    if not clockwise and angle <= 0:
        angle += 2 * math.pi
    return angle
