"""Lengths and directions of moves, the speeds that corners allow, and times: by operations on columns.

Where there was a compiler gpost/motion/pace.pyx gives the same. gpost/motion/profile.py says what stopping
lengths are, in mm.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

NOWHERE_MM = 1e-9
"""A shorter move goes nowhere: it is what offsets leave when they are taken off again."""

REVERSAL = -1.0
"""Cosine of a turn back."""
_LEAST = np.finfo(np.float64).tiny


def straight(start: Floats, end: Floats) -> tuple[Flags, Floats, Floats]:
    """(whether each goes anywhere in X or Y, its length, its unit direction) of straight moves.

    `start`, `end`: machine mm, shape (3, m). Lengths in mm, shape (m,). Directions of shape (3, m); all 0, as
    the length is, of a move that goes nowhere.
    """
    direction = end - start
    square = direction * direction
    flat = square[0]
    flat += square[1]
    xy = flat > NOWHERE_MM**2
    flat += square[2]
    length = np.sqrt(flat)
    still = length <= NOWHERE_MM
    if still.any():
        length[still] = direction[:, still] = 0.0
        direction /= np.maximum(length, NOWHERE_MM)
    else:
        direction /= length
    return xy, length, direction


def corner_radius_mm(cosine: Floats, deviation_mm: float) -> Floats:
    """Radius of the arc that rounds a corner and stays within `deviation_mm` of its tip.

    `cosine`, shape (n,), is that of the turn: 1 is straight on (no limit: infinity), -1 is a reversal (0).
    The arc touches both moves; with s the cosine of half the turn its centre lies R / s from the
    tip, so d = R / s - R and R = d s / (1 - s). Common practice among makers of motion
    controllers; no textbook source is known. The path itself is not rounded, only its speed is set.
    """
    s = np.clip((1.0 + cosine) * 0.5, 0.0, 1.0)
    np.sqrt(s, out=s)
    with np.errstate(divide="ignore"):
        radius = s / (1.0 - s)
    radius *= deviation_mm
    return radius


def limits(
    entry: Floats,
    exit: Floats,
    cruise: Floats,
    exit_before: Floats,
    cruise_before: float,
    deviation_mm: float,
) -> Floats:
    """Stopping length allowed where each move starts: by the corner there, and by the cruise on both sides.

    entry, exit, exit_before: unit directions, shape (3, n) and of the move before (3, 1); all 0: none
    cruise, cruise_before: stopping lengths at full feed, shape (n,)
    """
    before = np.concatenate((exit_before, exit[:, :-1]), axis=1)
    product = before * entry
    cosine = product[0]
    cosine += product[1]
    cosine += product[2]
    square = np.flatnonzero(cosine == 0.0)
    if len(square):  # a right angle, or no direction at all: no move goes on from there without a stop
        directed = before[:, square].any(axis=0) & entry[:, square].any(axis=0)
        cosine[square[~directed]] = REVERSAL
    limit = corner_radius_mm(cosine, deviation_mm * 0.5)
    np.minimum(limit, cruise, out=limit)
    np.minimum(limit[1:], cruise[:-1], out=limit[1:])
    limit[0] = min(limit[0], cruise_before)
    return limit


def settled(
    path: Floats,
    cruise: Floats,
    limit: Floats,
    end_limit_mm: float,
    most_held: int,
    acceleration_mm_s2: float,
) -> tuple[Floats, float]:
    """Times in s of those of n pending moves that are final, and the stopping length where the next starts.

    path, cruise, limit: length, stopping length at full feed, and that allowed where each starts; shape (n,)
    end_limit_mm: what is allowed at the end of the last; infinite while unknown
    most_held: no more moves than these wait to be final
    """
    at = np.zeros(len(path) + 1)  # where each junction lies; from the first pending one, to stay exact
    np.cumsum(path, out=at[1:])
    limit = np.append(limit, end_limit_mm)

    reach = limit + at
    reach = np.minimum.accumulate(reach[::-1])[::-1]
    # Whatever is yet to come lies at the end or beyond, so it can't lower a reach that ends before it.
    moves = max(int(np.searchsorted(reach, at[-1], side="right")) - 1, len(path) - most_held, 0)
    final = slice(moves + 1)

    stop = reach[final] - at[final]
    ahead = stop - at[final]
    np.minimum.accumulate(ahead, out=ahead)
    ahead += at[final]
    np.minimum(stop, ahead, out=stop)
    return _times(path[:moves], cruise[:moves], stop, acceleration_mm_s2), float(stop[-1])


def _times(path: Floats, cruise: Floats, stop: Floats, acceleration_mm_s2: float) -> Floats:
    """Times of moves between junctions of stopping lengths `stop`: speed up, cruise, brake.

    With b0, b1 at the ends the move peaks at b = (L + b0 + b1) / 2 or at its cruise, and what is left to
    cruise over is L - (b - b0) - (b - b1). From v^2 = v0^2 + 2 a x, elementary.
    """
    ends = stop[:-1] + stop[1:]
    peak = path + ends
    peak *= 0.5
    np.minimum(peak, cruise, out=peak)
    steady = ends - 2.0 * peak
    steady += path

    speed = np.sqrt(stop * (2.0 * acceleration_mm_s2))
    peak *= 2.0 * acceleration_mm_s2
    top = np.sqrt(peak, out=peak)
    times = top + top
    times -= speed[:-1]
    times -= speed[1:]
    times *= 1.0 / acceleration_mm_s2
    np.maximum(top, _LEAST, out=top)  # a move of no speed has no path: 0 / least, not 0 / 0
    steady /= top
    times += steady
    np.maximum(times, 0.0, out=times)  # rounding could take the least moves below 0
    return times
