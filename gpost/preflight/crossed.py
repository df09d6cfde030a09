"""Moves of the file that go through a bead which the plan has laid beside the piece."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from gpost.motion.follow import Follower
from gpost.plan.intentions import Shift, Stroke
from gpost.plan.plan import Plan
from gpost.preflight.added import beads
from gpost.preflight.meeting import meetings
from gpost.preflight.model import Finding
from gpost.preflight.reach import ReachCheck, ReachedBox, shifted_mm
from gpost.preflight.tally import TallyCheck

Bead = tuple[int, Stroke]
"""(0-based line before which it is laid, what is laid)."""

SLACK_MM = 0.01


class Crossed:
    """Looks at every move below the top of a bead that lies there already; an arc is taken for its chord.

    Of a move that rises the lower end counts. Blocks whose box, as kept by ReachCheck, meets no bead are not
    read again: all those above the beads.
    """

    def __init__(self, reach: ReachCheck) -> None:
        self._reach = reach

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """One finding for all moves that go through any bead."""
        laid = [(line, stroke) for line, lay in beads(plan) for stroke in lay.strokes]
        if not laid:
            return
        shifts, tally = plan.of(Shift), TallyCheck()
        for block in self._reach.boxes(shifts):
            near = [bead for bead in laid if _may_meet(block, bead)]
            if near:
                _look(plan.survey.follow(block.index), near, shifts, tally, plan.since)
        if tally.line is not None:
            yield Finding("bead-crossed", "warning", tally.line, (
                "the nozzle goes through a bead that a step has laid beside the piece, up to "
                f"{tally.worst:.1f} mm below its top; lay the bead elsewhere, or let the slicer travel "
                "higher or another way"
            ), tally.count)  # fmt: skip


def _may_meet(block: ReachedBox, bead: Bead) -> bool:
    line, stroke = bead
    points, half_mm = np.array(stroke.points_mm), stroke.width_mm / 2
    return (
        block.end_line > line
        and bool(block.low[2] < stroke.z_mm - SLACK_MM)
        and bool((block.low[:2] <= points.max(axis=0) + half_mm).all())
        and bool((block.high[:2] >= points.min(axis=0) - half_mm).all())
    )


def _look(
    follower: Follower, laid: Sequence[Bead], shifts: Sequence[Shift], tally: TallyCheck, since: int
) -> None:
    """Count the moves of one block, from the line `since` on, that go through one of the beads."""
    moves, by_mm = follower.moves, shifted_mm(follower, shifts)
    start, end = moves.start + by_mm, moves.end + by_mm
    line, low_mm = moves.line + follower.block.chunk.first_line, np.minimum(start[2], end[2])
    depth_mm = np.zeros(len(moves))
    least, most = np.minimum(start[:2], end[:2]), np.maximum(start[:2], end[:2])
    for first_line, stroke in laid:
        at = np.flatnonzero(moves.xy & (line >= max(first_line, since)) & (low_mm < stroke.z_mm - SLACK_MM))
        # few moves come near; what is further off by its box is so by the way
        points, near_mm = np.array(stroke.points_mm).T, stroke.width_mm / 2 + SLACK_MM
        below = least[:, at] <= points.max(axis=1, keepdims=True) + near_mm
        above = most[:, at] >= points.min(axis=1, keepdims=True) - near_mm
        at = at[(below & above).all(axis=0)]
        for leg in pairwise(np.array(stroke.points_mm)):
            if len(at):
                ends = (corner[:, None] for corner in leg)
                near = meetings(start[:2, at], end[:2, at], *ends).apart_mm.min(axis=0)
                met = at[near < stroke.width_mm / 2]
                depth_mm[met] = np.maximum(depth_mm[met], stroke.z_mm - low_mm[met])
    tally.add(follower, depth_mm > 0, depth_mm)
