"""Moves that leave the bed, go above the ceiling or below zero."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from gpost.common.records import record
from gpost.config.model import Bed, Config
from gpost.motion.arcbox import PlaneArcs, arcs_of
from gpost.motion.follow import Follower
from gpost.plan.intentions import Shift
from gpost.plan.plan import Plan
from gpost.preflight.homing import Homing
from gpost.preflight.model import LEAVES_THE_ROOM, Finding
from gpost.preflight.tally import TallyCheck

Floats = NDArray[np.float64]

SLACK_MM = 0.01
"""What the decimals of a file round away, also in inches."""

FAN = np.linspace(0, 2 * math.pi, 72, endpoint=False)
"""Angles at which an arc near the rim of a round bed is looked at, beside its outermost point."""

_SIDES = (np.minimum, np.maximum)


@record(frozen=True, slots=True)
class ReachedBox:
    """What is kept of one block: the box round all that its moves reach, machine mm, both (3,)."""

    index: int
    """Of the block's mark in the survey."""
    first_line: int
    end_line: int
    low: Floats
    high: Floats
    start: Floats
    """Where the first of them begins, (3,)."""


class ReachCheck:
    """Looks at the end of every move that changes an axis, and at arcs in full, as the plan moves the piece.

    A straight move between two places on the bed stays on it. Where the machine stands after homing is not
    asked: some home beside the bed. What comes before the homing doesn't count. Along with the survey only
    the box of each block is kept; the few that don't lie well inside are read again once the plan is made.
    """

    def __init__(self, config: Config, homing: Homing) -> None:
        self._bed, self._ceiling_mm = config.machine.bed, config.machine.ceiling_mm
        self._homing = homing
        self._blocks: list[ReachedBox] = []
        self._seen = 0

    def observe(self, follower: Follower, _clay_ml: Floats) -> None:
        """Look at one block."""
        index, self._seen = self._seen, self._seen + 1
        moves, chunk = follower.moves, follower.block.chunk
        if not len(moves):
            return
        low, high = moves.end.min(axis=1), moves.end.max(axis=1)
        for group in arcs_of(follower):
            least, most = group.box_mm(follower)
            low, high = np.minimum(low, least.min(axis=1)), np.maximum(high, most.max(axis=1))
        lines = chunk.first_line, chunk.first_line + chunk.lines
        self._blocks.append(ReachedBox(index, *lines, low, high, moves.start[:, 0].copy()))

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """What to tell of the whole file."""
        shifts, follow = plan.of(Shift), plan.survey.follow
        before, after = ({name: TallyCheck() for name in LEAVES_THE_ROOM} for _ in range(2))
        for block in self._blocks:
            if block.end_line > plan.since and not self._is_inside(block, shifts):
                self._look(follow(block.index), plan.since, shifts, before, after)
        for name, advice in _ADVICE.items():
            tally = after[name] if self._homing.is_start else before[name] + after[name]
            if tally.line is not None:
                text = advice.format(over=tally.worst, moved=", moved as the steps want it" if shifts else "")
                yield Finding(name, "error", tally.line, text, tally.count)

    def boxes(self, shifts: Sequence[Shift]) -> Iterator[ReachedBox]:
        """The box of each block that moves, with the way to its first place, wherever it may be shifted."""
        least, most = (np.sum([np.zeros(3), *(side(s.by_mm, 0) for s in shifts)], axis=0) for side in _SIDES)
        for block in self._blocks:
            low, high = np.minimum(block.start, block.low), np.maximum(block.start, block.high)
            yield replace(block, low=low + least, high=high + most)

    def _is_inside(self, block: ReachedBox, shifts: Sequence[Shift]) -> bool:
        """Whether a whole block, as it is moved, lies well inside: the usual case, told from six numbers."""
        low, high = block.low.copy(), block.high.copy()
        for shift in shifts:
            by_mm = np.array(shift.by_mm)
            whole = shift.first_line <= block.first_line and block.end_line <= shift.end_line
            if shift.first_line < block.end_line:
                # where a range ends, and after it in relative mode, both places are possible
                low += by_mm if whole else np.minimum(by_mm, 0)
                high += by_mm if whole else np.maximum(by_mm, 0)
        if low[2] < 0 or high[2] > self._ceiling_mm:
            return False
        corners = [(x, y) for x in (low[0], high[0]) for y in (low[1], high[1])]
        return all(self._bed.holds(float(x), float(y)) for x, y in corners)

    def _look(
        self,
        follower: Follower,
        since: int,
        shifts: Sequence[Shift],
        before: dict[str, TallyCheck],
        after: dict[str, TallyCheck],
    ) -> None:
        """Count the moves of one block, from the line `since` on, that reach too far."""
        by_mm = shifted_mm(follower, shifts)
        over = self._straight(follower.moves.end + by_mm, follower.moves.end != follower.moves.start)
        for group in arcs_of(follower):
            self._widen(over, follower, group, by_mm[:, group.at])
        homed = self._homing.homed(follower)
        counts = follower.moves.line + follower.block.chunk.first_line >= since
        for name in LEAVES_THE_ROOM:
            found = counts & (over[name] > SLACK_MM)
            before[name].add(follower, found & ~homed, over[name])
            after[name].add(follower, found & homed, over[name])

    def _straight(self, end: Floats, changed: NDArray[np.bool_]) -> dict[str, Floats]:
        """By how many mm each straight move's end lies outside, shape (m,); 0 or less: it doesn't.

        `changed`: which axes each move changes, shape (3, m).
        """
        if self._bed.round:
            outside = np.where(changed[0] | changed[1], _beyond_rim(self._bed, end[0], end[1]), 0.0)
        else:
            outside = np.max(np.where(changed[:2], _beyond_edge(self._bed, end[:2], end[:2]), 0.0), axis=0)
        return {
            "outside-bed": outside,
            "above-ceiling": np.where(changed[2], end[2] - self._ceiling_mm, 0.0),
            "below-zero": np.where(changed[2], -end[2], 0.0),
        }

    def _widen(self, over: dict[str, Floats], follower: Follower, arcs: PlaneArcs, by_mm: Floats) -> None:
        """The same for arcs, moved by (3, k) mm, by their extreme points."""
        low, high = (side + by_mm for side in arcs.box_mm(follower))
        if self._bed.round:
            outside = self._round(low, high, arcs, by_mm)
        else:
            outside = _beyond_edge(self._bed, low[:2], high[:2]).max(axis=0)
        for name, amount in zip(LEAVES_THE_ROOM, (outside, high[2] - self._ceiling_mm, -low[2]), strict=True):
            over[name][arcs.at] = np.maximum(over[name][arcs.at], amount)

    def _round(self, low: Floats, high: Floats, arcs: PlaneArcs, by_mm: Floats) -> Floats:
        """For a round bed: exact in XY on a circular bed, to 0.1 % of the arc's radius on an oval one.

        Of arcs in another plane the box's corners are looked at.
        """
        corners = [_beyond_rim(self._bed, x, y) for x in (low[0], high[0]) for y in (low[1], high[1])]
        outside: Floats = np.max(corners, axis=0)
        near = np.flatnonzero(outside > 0)
        if arcs.plane != 17 or not len(near):
            return outside
        outside[near] = self._outermost(arcs, by_mm)[near]
        return outside

    def _outermost(self, arcs: PlaneArcs, by_mm: Floats) -> Floats:
        bed, (x, y) = self._bed, arcs.centre_mm + by_mm[:2]
        middle = ((bed.x_min_mm + bed.x_max_mm) / 2, (bed.y_min_mm + bed.y_max_mm) / 2)
        outward = np.arctan2(y - middle[1], x - middle[0])
        ends = (arcs.angle, arcs.angle + arcs.turn * arcs.sweep)
        count = len(arcs.at)
        found = np.full(count, -np.inf)
        for angle in (*ends, outward, *(np.full(count, fan) for fan in FAN)):
            rim = _beyond_rim(bed, x + arcs.radius_mm * np.cos(angle), y + arcs.radius_mm * np.sin(angle))
            found = np.maximum(found, np.where(arcs.passes(angle), rim, -np.inf))
        return found


_ADVICE = {
    "outside-bed": "a move leaves the bed, by up to {over:.2f} mm{moved}; put the piece elsewhere in the "
    "slicer, or fix `bed` under `machine:`",
    "above-ceiling": "a move goes above the ceiling, by up to {over:.2f} mm{moved}; print a lower piece, or "
    "fix `ceiling_mm` under `machine:`",
    "below-zero": "a move goes below the machine's zero, by up to {over:.2f} mm{moved}, into the bed; slice "
    "the piece again, standing on the bed",
}


def shifted_mm(follower: Follower, shifts: Sequence[Shift]) -> Floats:
    """How far the end of each move is moved, shape (3, m); after a range relative moves go on from there."""
    line = follower.moves.line + follower.block.chunk.first_line
    relative = np.broadcast_to(np.asarray(follower.relative), follower.block.lines)[follower.moves.line]
    by_mm = np.zeros((3, len(line)))
    for shift in shifts:
        concerned = (line >= shift.first_line) & ((line < shift.end_line) | relative)
        by_mm += np.where(concerned, np.array(shift.by_mm)[:, None], 0.0)
    return by_mm


def _beyond_edge(bed: Bed, low: Floats, high: Floats) -> Floats:
    """mm by which boxes (2, m) stand over each side's edge, shape (2, m); below 0 inside."""
    least = np.array([[bed.x_min_mm], [bed.y_min_mm]])
    most = np.array([[bed.x_max_mm], [bed.y_max_mm]])
    return np.asarray(np.maximum(least - low, high - most))


def _beyond_rim(bed: Bed, x: Floats, y: Floats) -> Floats:
    """mm beyond the rim of a round bed (on an oval one at least so many); below 0 inside."""
    half_x, half_y = (bed.x_max_mm - bed.x_min_mm) / 2, (bed.y_max_mm - bed.y_min_mm) / 2
    u, v = (x - bed.x_min_mm) / half_x - 1, (y - bed.y_min_mm) / half_y - 1
    return np.asarray((np.hypot(u, v) - 1) * min(half_x, half_y))
