"""Where the bead of a stopped print may end: the places of its path that come by what was measured."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from gpost.errors import PlanError
from gpost.plan.laidpath import LaidPath, Near, Place
from gpost.plan.plan import Plan
from gpost.plan.resume import PAPER_MM
from gpost.spot import START, Spot
from gpost.survey.layerrows import HEIGHT_STEP_MM
from gpost.survey.model import Survey

NEAR_LAYERS = 2
"""Layers below and above those that come by the measured top that are looked at for its place in the turn."""
HARDLY = 0.25
"""So much of a bead's width laid can't be told from nothing: common practice, no source."""
TIE_MM = 0.006
"""Heights are measured to a hundredth at best: by half of that nobody can tell which turn is nearer."""
AT_AN_END = 1e-6
"""Part of a move too small to split it there."""


class End(NamedTuple):
    """Where the bead may end."""

    near: Near
    top_mm: float
    """Of the bead at that very place, moved as planned, whatever the rest of its turn does."""
    path: LaidPath
    begun: float = math.inf
    """How much of the bead lies before it, in widths of a bead."""
    until: Spot = START
    """Where that bead ends, if it is known how much of it lies before."""

    @property
    def only_begun(self) -> bool:
        """The bead has hardly begun there: too little of it to be measured as its end."""
        return self.begun < HARDLY

    def layer(self, plan: Plan) -> int:
        """Of which layer it is, counted from 1."""
        return plan.survey.index_at(self.near.spot.line - (not self.near.spot.fraction)) + 1

    def same_turn(self, other: End, plan: Plan) -> bool:
        """Whether both are one turn that comes by twice, as at its seam.

        On a wall that waves their heights differ, by no more than their places do.
        """
        off_mm = abs(self.near.off_mm - other.near.off_mm) + HEIGHT_STEP_MM
        return self.layer(plan) == other.layer(plan) and abs(self.top_mm - other.top_mm) <= off_mm

    def at_mm(self, plan: Plan) -> tuple[float, float]:
        """x and y, machine mm."""
        x, y, _ = self.near.at_mm
        return x + plan.shift_mm[0], y + plan.shift_mm[1]


def likeliest(plan: Plan, ends: Sequence[End], height_mm: float) -> tuple[End, End]:
    """(where the bead ends, the bead whose height that is) of all that come by.

    At a seam the end of the whole bead is likelier than one that has hardly begun. But what stands at the
    place is the bead that has begun there, whether it goes on or not.
    """
    best = min(ends, key=lambda end: (round(abs(end.top_mm - height_mm), 3), end.near.off_mm))
    turn = [end for end in ends if end.same_turn(best, plan)]
    nearest = min(turn, key=lambda end: end.near.off_mm)
    return min(turn, key=lambda end: (end.only_begun, end.near.off_mm)), nearest


def other_turn(plan: Plan, ends: Sequence[End], top_mm: float, height_mm: float) -> End | None:
    """Of all that come by a place the turn that may be meant as well, and not that of a top.

    It is the nearest to the measured height of those that lie on that side of the top.
    """
    if not ends:
        return None
    own = min(ends, key=lambda end: (round(abs(end.top_mm - top_mm), 3), end.near.off_mm))
    others = [
        end
        for end in ends
        if (end.top_mm > top_mm) == (height_mm > top_mm)
        and abs(end.top_mm - top_mm) > 2 * TIE_MM
        and not end.same_turn(own, plan)
    ]
    return min(others, key=lambda end: abs(end.top_mm - height_mm), default=None)


def by_place(plan: Plan, height_mm: float, at_mm: tuple[float, float]) -> list[End]:
    """By x and y: wherever the path comes by. Raises PlanError where it doesn't.

    Where a bead begins nothing of it is laid, and the top is that of the turn below, which comes by too.
    """
    (dx, dy, dz), reach_mm, turns = plan.shift_mm, plan.bead_width_mm, _near_turns(plan, height_mm)
    path = path_of(plan.survey, turns)
    x, y = at_mm
    passes = path.passes(x - dx, y - dy, reach_mm)
    ends = [one for one in passes if one.begun_mm > AT_AN_END]
    if not ends and passes:
        raise PlanError(
            f"near {height_mm:g} mm a bead begins at x {x:g}, y {y:g} mm, and none ends there; measure where "
            "the bead ends again"
        )
    if not ends:
        passes = path.passes(x - dx, y - dy, math.inf)
        off_mm = min(one.near.off_mm for one in passes)
        raise PlanError(
            f"the wall near {height_mm:g} mm passes x {x:g}, y {y:g} mm at {off_mm:.1f} mm, which is "
            f"more than a bead's width ({reach_mm:g} mm); measure where the bead ends again"
        )
    return [End(near, near.at_mm[2] + dz, path, begun_mm / reach_mm, until) for near, begun_mm, until in ends]


def by_length(plan: Plan, height_mm: float, along_mm: float) -> Iterator[End]:
    """By what of a turn is laid, mm along it."""
    survey = plan.survey
    for index in _near_turns(plan, height_mm):
        path = path_of(survey, range(index, index + 1))
        near = path.after(along_mm)
        if near is not None and near.spot > Spot(survey.first_bead):
            yield End(near, bead_end(plan, near.spot)[2], path)


def turn_ends(plan: Plan, height_mm: float) -> Iterator[End]:
    """The end of each turn near a height: where the bead may end if nobody says where in its turn."""
    for index in _near_turns(plan, height_mm):
        path = path_of(plan.survey, range(index, index + 1))
        near = path.after(path.length_mm)
        if near is not None:
            yield End(near, near.at_mm[2] + plan.shift_mm[2], path)


def bead_end(plan: Plan, spot: Spot) -> Place:
    """Where the last clay before a spot was laid, machine mm."""
    for mark in reversed(plan.survey.marks):
        if mark.first_line <= spot.line:
            path = LaidPath(plan.survey, mark.first_line, min(spot.line + 1, mark.first_line + mark.lines))
            place = path.end_before(spot)
            if place is not None:
                x, y, z = (at + by for at, by in zip(place, plan.shift_mm, strict=True))
                return x, y, z
    raise PlanError("nothing stands of the piece there; print it anew with the file that was run")


def waving_turns(plan: Plan, height_mm: float, off_mm: float) -> range:
    """The layers whose beads come by a height, within so many mm, if they come down on their way; else none.

    A place in them is not told by its height: what stands elsewhere may be higher than where the bead ends.
    """
    layers, dz = plan.survey.layers, plan.shift_mm[2]
    by = np.flatnonzero(
        (layers["low_mm"] + dz - off_mm <= height_mm) & (height_mm <= layers["height_mm"] + dz + off_mm)
    )
    if not len(by):
        return range(0)
    turns = range(int(by[0]), int(by[-1]) + 1)
    before_mm = float(plan.tops_mm[turns[0] - 1]) if turns[0] else -math.inf
    # levelling that is worked into a file tilts its layers by less than anybody measures or sets
    return turns if path_of(plan.survey, turns).falls_mm(before_mm) > PAPER_MM else range(0)


def _near_turns(plan: Plan, height_mm: float) -> range:
    """The layers in which something is as high, and some beside them.

    On a wall that waves they are many: the crest of one turn lies higher than the trough of the next ones.
    """
    layers, dz = plan.survey.layers, plan.shift_mm[2]
    by = (layers["low_mm"] + dz <= height_mm) & (height_mm <= layers["height_mm"] + dz)
    found = [int(np.argmin(np.abs(plan.tops_mm + dz - height_mm))), *np.flatnonzero(by).tolist()]
    return range(max(min(found) - NEAR_LAYERS, 0), min(max(found) + NEAR_LAYERS + 1, len(layers)))


def path_of(survey: Survey, turns: range) -> LaidPath:
    """What lays the clay of some layers that follow each other."""
    return LaidPath(survey, survey.start_of(turns[0]).line, survey.start_of(turns[-1] + 1).line)
