"""Arcs and helices: length, radius and tangents (NIST RS274/NGC report, section 3.5.3)."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.errors import SourceError

Floats = NDArray[np.float64]

PLANE_AXES = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}
"""First and second axis of the plane, and its normal, so that they are right-handed."""


class Arcs(NamedTuple):
    """k arcs."""

    length_mm: Floats
    """3-D length, shape (k,)."""
    radius_mm: Floats
    entry: Floats
    """Unit tangent at the start, shape (3, k)."""
    exit: Floats


def measure(
    start: Floats,
    end: Floats,
    offset: Floats,
    radius: Floats,
    clockwise: NDArray[np.bool_],
    *,
    plane: int,
    tolerance_mm: float,
    lines: NDArray[np.int64],
) -> Arcs:
    """Measure k arcs of one plane.

    start, end: (3, k) machine mm. offset: (3, k) I J K in mm, NaN where not given. radius: (k,) R in mm, NaN
    where not given. `lines`: 0-based source lines, for messages.
    Raises SourceError for a radius that is too small or that differs between start and end, for an arc with
    neither centre nor radius, or with both, and for a centre outside the plane.
    """
    first, second, normal = PLANE_AXES[plane]
    p0, p1 = start[[first, second]], end[[first, second]]
    by_radius = ~np.isnan(radius)
    given = ~np.isnan(offset[[first, second]])
    said = given.any(axis=0)
    _first_line(~by_radius & ~said, lines, "this arc has neither a centre (I, J) nor a radius (R)")
    _first_line(by_radius & said, lines, "this arc has both a centre (I, J) and a radius (R)")
    _first_line(np.nan_to_num(offset[normal]) != 0, lines, "the centre of this arc lies outside its plane")
    centre = p0 + np.where(given, offset[[first, second]], 0.0)
    if by_radius.any():
        centre[:, by_radius] = _centre_from_radius(
            p0[:, by_radius], p1[:, by_radius], radius[by_radius], clockwise[by_radius], lines[by_radius]
        )
    a, b = p0 - centre, p1 - centre
    r0, r1 = np.hypot(*a), np.hypot(*b)
    uneven = "the ends of this arc lie at different radii, by more than `machine: arc_tolerance_mm`"
    _first_line(np.abs(r0 - r1) > tolerance_mm, lines, uneven)
    _first_line(r0 < 1e-12, lines, "this arc has no radius")
    sweep = _sweep(a, b, p0, p1, clockwise)
    rise = end[normal] - start[normal]
    flat = np.abs(sweep) * r0
    length = np.maximum(np.hypot(flat, rise), 1e-300)
    turn = np.sign(sweep)
    return Arcs(
        length, r0,
        _tangent(a / r0, turn, flat / length, rise / length, plane),
        _tangent(b / np.maximum(r1, 1e-12), turn, flat / length, rise / length, plane),
    )  # fmt: skip


def _sweep(a: Floats, b: Floats, p0: Floats, p1: Floats, clockwise: NDArray[np.bool_]) -> Floats:
    """Signed angle from a to b; a full turn if the arc ends where it starts (section 3.5.3.2)."""
    angle = np.arctan2(a[0] * b[1] - a[1] * b[0], a[0] * b[0] + a[1] * b[1])
    angle[np.hypot(*(p1 - p0)) < 1e-9] = 0.0
    backward = clockwise & (angle >= 0)
    forward = ~clockwise & (angle <= 0)
    return np.asarray(angle + 2 * np.pi * (forward.astype(np.int8) - backward))


def _centre_from_radius(
    p0: Floats, p1: Floats, radius: Floats, clockwise: NDArray[np.bool_], lines: NDArray[np.int64]
) -> Floats:
    """R > 0: the arc of 180 degrees or less; R < 0: the longer one (section 3.5.3.1)."""
    chord = p1 - p0
    half = np.hypot(*chord) / 2
    _first_line(half == 0, lines, "this arc is given by a radius but ends where it starts")
    size = np.abs(radius)
    _first_line(half > size * (1 + 1e-9), lines, "the radius of this arc is too small to reach its end")
    height = np.sqrt(np.maximum(size * size - half * half, 0.0))
    left = np.array([-chord[1], chord[0]]) / (2 * np.maximum(half, 1e-300))
    side = np.where(clockwise, -1.0, 1.0) * np.sign(radius)
    return np.asarray((p0 + p1) / 2 + left * height * side)


def _tangent(unit: Floats, turn: Floats, flat: Floats, rise: Floats, plane: int) -> Floats:
    first, second, normal = PLANE_AXES[plane]
    out = np.empty((3, unit.shape[1]))
    out[first], out[second], out[normal] = -unit[1] * turn * flat, unit[0] * turn * flat, rise
    return out


def _first_line(wrong: NDArray[np.bool_], lines: NDArray[np.int64], text: str) -> None:
    if wrong.any():
        raise SourceError(f"{text}; slice the piece again", line=int(lines[np.argmax(wrong)]))
