"""A look-ahead planner in plain Python: junction by junction, in speeds. Slow, and easy to believe."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

Vector = tuple[float, float, float]
NAN = math.nan
STILL: Vector = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Move:
    """One move: mm, mm/s, unit directions (STILL for a move of E alone), NaN radius for a straight line."""

    length: float
    feed: float = 50.0
    entry: Vector = (1.0, 0.0, 0.0)
    exit: Vector = (1.0, 0.0, 0.0)
    stop_before: bool = False
    radius: float = NAN


def cruise_speed(move: Move, a: float) -> float:
    """The feed, or less in an arc; 0 where the feed says nothing."""
    if not move.feed > 0:
        return 0.0
    return move.feed if math.isnan(move.radius) else min(move.feed, math.sqrt(a * move.radius))


def turn_between(before: Vector, after: Vector) -> float:
    """The angle from one direction to the other, radians."""
    (a, b, c), (d, e, f) = before, after
    return math.atan2(math.hypot(b * f - c * e, c * d - a * f, a * e - b * d), a * d + b * e + c * f)


def corner_speed(before: Vector, after: Vector, a: float, d: float) -> float:
    """sqrt(a R), R = d s / (1 - s), s = cos(half the turn)."""
    if STILL in (before, after):
        return 0.0
    s = math.cos(turn_between(before, after) / 2)
    if s < 1e-15:  # a reversal: the cosine of a right angle, but for its rounding
        return 0.0
    return math.inf if s == 1.0 else math.sqrt(a * d * s / (1 - s))


def junction_limits(moves: Sequence[Move], a: float, d: float) -> list[float]:
    """Speed allowed at each junction, before any look-ahead; the stream starts and ends at rest."""
    limits = [0.0]
    for before, after in pairwise(moves):
        speed = min(cruise_speed(before, a), cruise_speed(after, a))
        speed = min(speed, corner_speed(before.exit, after.entry, a, d))
        limits.append(0.0 if after.stop_before else speed)
    return [*limits, 0.0]


def trapezoid_time(length: float, cruise: float, a: float, v0: float, v1: float) -> float:
    """Time of one move that starts at v0 and ends at v1: the textbook formula, by cases."""
    if cruise == 0:
        return 0.0
    peak = math.sqrt((2 * a * length + v0**2 + v1**2) / 2)
    if peak <= cruise:
        return (peak - v0) / a + (peak - v1) / a
    ramps = (cruise**2 - v0**2) / (2 * a) + (cruise**2 - v1**2) / (2 * a)
    return (cruise - v0) / a + (cruise - v1) / a + (length - ramps) / cruise


def without_idle(moves: Sequence[Move]) -> list[Move]:
    """The moves that go somewhere; a stop before one that doesn't passes on to the next that does."""
    kept, stop = [], False
    for move in moves:
        stop = stop or move.stop_before
        if move.length > 0:
            kept.append(replace(move, stop_before=stop))
            stop = False
    return kept


def plain_times(moves: Sequence[Move], a: float, d: float) -> list[float]:
    """Time of every move, s: two loops over the junctions, then the trapezoid of each move."""
    real = without_idle(moves)
    paths = [m.length if m.feed > 0 else 0.0 for m in real]
    v = junction_limits(real, a, d)
    for i in reversed(range(len(real))):
        v[i] = min(v[i], math.sqrt(v[i + 1] ** 2 + 2 * a * paths[i]))
    for i in range(len(real)):
        v[i + 1] = min(v[i + 1], math.sqrt(v[i] ** 2 + 2 * a * paths[i]))
    times = (trapezoid_time(paths[i], cruise_speed(m, a), a, v[i], v[i + 1]) for i, m in enumerate(real))
    return [next(times) if move.length > 0 else 0.0 for move in moves]
