"""Where straight ways come nearest to one another, seen from above."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_LEAST = 1e-300
"""So that a way as short as a point can be divided by."""


class Meetings(NamedTuple):
    """Five places, of which one is the nearest: where two ways cross, and beside the ends of each."""

    apart_mm: Floats
    """shape (5, n); infinite for a crossing that is none."""
    share: Floats
    """How much of the one way lies before each, 0 to 1, shape (5, n)."""
    other_share: Floats
    """And of the other."""


def meetings(a: Floats, b: Floats, p: Floats, q: Floats) -> Meetings:
    """Of the ways from a to b and those from p to q, each (2, n), or (2, 1) for one and the same."""
    a, b, p, q = np.broadcast_arrays(a, b, p, q)
    way, other = b - a, q - p
    turn = _turn(way, other)
    safe = np.where(turn == 0, 1.0, turn)
    share, other_share = _turn(p - a, other) / safe, _turn(p - a, way) / safe
    crosses = (turn != 0) & (np.minimum(share, other_share) >= 0) & (np.maximum(share, other_share) <= 1)
    zero, whole = np.zeros(len(turn)), np.ones(len(turn))
    to_p, to_q, to_a, to_b = (
        _beside(p, a, way),
        _beside(q, a, way),
        _beside(a, p, other),
        _beside(b, p, other),
    )
    shares = np.stack([np.where(crosses, share, 0.0), to_p, to_q, zero, whole])
    other_shares = np.stack([np.where(crosses, other_share, 0.0), zero, whole, to_a, to_b])
    apart_mm = np.hypot(*(a[:, None] + way[:, None] * shares - p[:, None] - other[:, None] * other_shares))
    apart_mm[0] = np.where(crosses, 0.0, np.inf)
    return Meetings(apart_mm, shares, other_shares)


def _beside(point: Floats, start: Floats, way: Floats) -> Floats:
    """How much of each way lies before the place of it that is nearest to a point, 0 to 1."""
    along = ((point - start) * way).sum(axis=0) / np.maximum((way * way).sum(axis=0), _LEAST)
    return np.asarray(np.clip(along, 0.0, 1.0))


def _turn(u: Floats, v: Floats) -> Floats:
    return np.asarray(u[0] * v[1] - u[1] * v[0])
