"""How far arcs reach: the box round each, and points along it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.motion.arcs import PLANE_AXES
from gpost.motion.follow import Follower

Floats = NDArray[np.float64]

STEP = math.radians(2.5)
"""Between two points of an arc: the way between them bulges by a four-thousandth of the radius."""

QUARTERS = ((0.0, 0, 1), (math.pi / 2, 1, 1), (math.pi, 0, -1), (3 * math.pi / 2, 1, -1))
"""Angle of each extreme point of a circle; the axis (of the plane's two) it is extreme on, and its side."""


class PlaneArcs(NamedTuple):
    """k arcs of one plane. Angles in radians, in the plane's axes."""

    at: NDArray[np.int64]
    """Which of the block's moves they are, shape (k,)."""
    plane: int
    centre_mm: Floats
    """shape (2, k)"""
    radius_mm: Floats
    angle: Floats
    """From the centre to the start."""
    turn: Floats
    """1 counter-clockwise, -1 clockwise."""
    sweep: Floats
    """How far it goes round, above 0."""

    def passes(self, angle: Floats | float) -> NDArray[np.bool_]:
        """Whether each arc passes the angle; shape (k,), or that of `angle` if its last axis is k."""
        ahead: Floats = np.asarray(((angle - self.angle) * self.turn) % (2 * math.pi))
        return np.asarray((ahead <= self.sweep + 1e-12) | (ahead >= 2 * math.pi - 1e-12))

    def places_mm(self, follower: Follower, share: Floats) -> Floats:
        """Where each arc is after a share of its length, in X, Y, Z of the machine.

        share: shape (..., k), 0 to 1; gives (3, ..., k). Where the ends lie at different radii, within the
        tolerance, the radius goes evenly from one to the other.
        """
        first, second, along = PLANE_AXES[self.plane]
        start, end = follower.moves.start[:, self.at], follower.moves.end[:, self.at]
        last_mm = np.hypot(end[first] - self.centre_mm[0], end[second] - self.centre_mm[1])
        radius = self.radius_mm + (last_mm - self.radius_mm) * share
        angle = self.angle + self.turn * self.sweep * share
        places = np.empty((3, *np.shape(share)))
        places[first] = self.centre_mm[0] + radius * np.cos(angle)
        places[second] = self.centre_mm[1] + radius * np.sin(angle)
        places[along] = start[along] + (end[along] - start[along]) * share
        return places

    def box_mm(self, follower: Follower) -> tuple[Floats, Floats]:
        """(low, high) of each arc in X, Y, Z of the machine; both (3, k)."""
        start, end = follower.moves.start[:, self.at], follower.moves.end[:, self.at]
        low, high = np.minimum(start, end), np.maximum(start, end)
        for angle, axis, side in QUARTERS:
            row = PLANE_AXES[self.plane][axis]
            reach = np.where(self.passes(angle), self.centre_mm[axis] + side * self.radius_mm, end[row])
            np.minimum(low[row], reach, out=low[row])
            np.maximum(high[row], reach, out=high[row])
        return low, high


def points_mm(follower: Follower, which: NDArray[np.bool_]) -> Floats:
    """Points in X and Y of the machine that some moves of a block go through, on their way; shape (2, k).

    `which`: shape (m,). Straight moves by their ends, arcs by points that are STEP apart.
    """
    return places_mm(follower, which)[0][:2]


def places_mm(follower: Follower, which: NDArray[np.bool_]) -> tuple[Floats, NDArray[np.int64]]:
    """(the same in X, Y and Z, shape (3, k); which of the block's moves each is of, shape (k,))."""
    moves, at = follower.moves, np.flatnonzero(which).astype(np.float64)
    found = [moves.start[:, which], moves.end[:, which]]
    order = [at, at + 0.999]  # by move, and in a move by the part of a full turn that lies before
    for arcs in arcs_of(follower):
        first, second, along = PLANE_AXES[arcs.plane]
        point, here = moves.start[:, arcs.at].copy(), which[arcs.at]
        start_mm, end_mm = point[along].copy(), moves.end[along, arcs.at]
        for part in np.arange(STEP, 2 * math.pi, STEP):
            angle = arcs.angle + arcs.turn * part
            point[first] = arcs.centre_mm[0] + arcs.radius_mm * np.cos(angle)
            point[second] = arcs.centre_mm[1] + arcs.radius_mm * np.sin(angle)
            point[along] = start_mm + (end_mm - start_mm) * part / np.maximum(arcs.sweep, 1e-300)
            there = here & (arcs.sweep > part)
            found.append(point[:, there])
            order.append(arcs.at[there] + part / (2 * math.pi) * 0.99)
    placed = np.concatenate(order)
    sorting = np.argsort(placed, kind="stable")
    return np.concatenate(found, axis=1)[:, sorting], placed[sorting].astype(np.int64)


def boxes_mm(follower: Follower, arcs: Sequence[PlaneArcs]) -> tuple[Floats, Floats]:
    """(low, high) of each move of a block in X, Y, Z of the machine, its `arcs` in full; both (3, m)."""
    moves = follower.moves
    low, high = np.minimum(moves.start, moves.end), np.maximum(moves.start, moves.end)
    for group in arcs:
        low[:, group.at], high[:, group.at] = group.box_mm(follower)
    return low, high


def arcs_of(follower: Follower) -> list[PlaneArcs]:
    """The arcs of a block by their plane; the usual block has none."""
    motion = follower.motion
    if not len(motion) or int(motion.max()) < 2:
        return []
    at, plane = np.flatnonzero(motion > 1), follower.plane
    return [_measured(follower, at[plane[at] == which], int(which)) for which in np.unique(plane[at])]


def _measured(follower: Follower, at: NDArray[np.int64], plane: int) -> PlaneArcs:
    """Centre and sweep from the start, the tangent there, the radius and the length.

    The tangent has unit length in space, so that its part in the plane is also the part of the length that
    goes round.
    """
    moves, axes = follower.moves, list(PLANE_AXES[plane][:2])
    turn = np.where(follower.motion[at] == 3, 1.0, -1.0)
    tangent, radius = moves.entry[axes][:, at], moves.radius_mm[at]
    flat = np.hypot(*tangent)
    inward = np.stack([-tangent[1], tangent[0]]) / np.maximum(flat, 1e-300) * turn
    centre = moves.start[axes][:, at] + radius * inward
    angle = np.arctan2(-inward[1], -inward[0])
    sweep = moves.length_mm[at] * flat / np.maximum(radius, 1e-300)
    return PlaneArcs(at, plane, centre, radius, angle, turn, sweep)
