"""Ways of the nozzle without clay that lead through what the file has laid before."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.config.metering import bead_width_mm
from gpost.config.model import Config
from gpost.motion.arcbox import arcs_of, boxes_mm, places_mm
from gpost.motion.follow import Follower
from gpost.plan.intentions import Shift
from gpost.plan.plan import Plan
from gpost.preflight.meeting import meetings
from gpost.preflight.model import Finding
from gpost.preflight.reach import shifted_mm
from gpost.preflight.stretches import SAME_MM, Stretches
from gpost.preflight.wall import HIGHEST_RISE

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]

BOXES = 64
"""So many at most are kept of the clay of a block."""
GROUP = 256
"""So many ways are held against all boxes at once: one after the other they are mostly near together."""
AT_ONCE = 500_000
"""And no more than so many ways times boxes, of which memory takes some tens of bytes each."""
_NEVER = np.iinfo(np.int64).max
MOST_PAIRS = 10_000
"""Ways, with the clay of a block each, that are looked at closely: those that may be the deepest."""


class _Laid(NamedTuple):
    """The clay of a block, in k boxes one after the other, and whether ways go below what was laid before."""

    mark: int
    """Index of the block's mark in the survey."""
    end_line: int
    begin: Counts
    """The first move that each box holds, shape (k,)."""
    end: Counts
    low: Floats
    """shape (3, k), machine mm."""
    high: Floats
    below: bool


class _Ways(NamedTuple):
    """The n straight ways on which nothing is laid, arcs as short ones."""

    line: Counts
    start: Floats
    """shape (3, n), machine mm."""
    end: Floats
    deep_mm: Floats
    """From so far below the top of clay on each is told."""

    def some(self, which: slice | Counts) -> _Ways:
        """Those of them."""
        return _Ways(self.line[which], self.start[:, which], self.end[:, which], self.deep_mm[which])

    def low_mm(self) -> Floats:
        """The lower end of each."""
        low_mm: Floats = np.minimum(self.start[2], self.end[2])
        return low_mm


class _Pairs(NamedTuple):
    """The n times a way, and clay of one block whose boxes it meets."""

    most_mm: Floats
    """No deeper than that each way leads through it."""
    ways: _Ways
    number: Counts
    """Of the block that has the clay."""
    begin: Counts
    """The first of the moves that lay it, and the one after the last."""
    end: Counts

    def some(self, which: slice | Counts) -> _Pairs:
        """Those of them."""
        return _Pairs(
            self.most_mm[which], self.ways.some(which), self.number[which], self.begin[which], self.end[which]
        )


class _Clay(NamedTuple):
    """The k straight beads of a block, arcs as short ones, in order."""

    of: Counts
    """The move that lays each, shape (k,)."""
    line: Counts
    start: Floats
    """shape (3, k), machine mm."""
    end: Floats
    low: Floats
    high: Floats


class _Met(NamedTuple):
    """Where a way is deepest in clay: heights of the nozzle and of the clay."""

    nozzle_mm: float
    clay_mm: float


class ThroughWall:
    """Finds ways that lead through a bead's middle, more than a layer and half its width below its top.

    So the slope of a wall that waves is none, nor is a wipe along what has just been laid, nor a travel that
    is a layer too low. Of a block only boxes are kept. Those with ways below what was laid highest, and the
    clay whose boxes these meet, are read again once the plan is made: of most files none.
    """

    def __init__(self, config: Config, stretches: Stretches) -> None:
        self._stretches = stretches
        self._half_mm = bead_width_mm(config) / 2
        self._most_rise_mm = HIGHEST_RISE * config.machine.nozzle_mm
        self._blocks: list[_Laid] = []
        self._seen = 0
        self._top_mm = -np.inf

    def observe(self, follower: Follower, _clay_ml: Floats) -> None:
        """Look at one block."""
        index, self._seen = self._seen, self._seen + 1
        laid = self._stretches.each
        if not len(follower.moves) or (laid is None and np.isinf(self._top_mm)):
            return
        tops_mm = np.append(self._top_mm, np.zeros(0) if laid is None else laid.high[2])
        np.maximum.accumulate(tops_mm, out=tops_mm)
        self._top_mm = float(tops_mm[-1])
        low_mm, before = self._stretches.between_low_mm(follower)
        below = bool((low_mm < tops_mm[before] - self._half_mm).any())
        chunk = follower.block.chunk
        self._blocks.append(_Laid(index, chunk.first_line + chunk.lines, *self._boxes(), below))

    def _boxes(self) -> tuple[Counts, Counts, Floats, Floats]:
        laid, begin, end = self._stretches.each, self._stretches.begin, self._stretches.end
        if laid is None:
            return begin, end, np.zeros((3, 0)), np.zeros((3, 0))
        first = np.arange(0, len(begin), -(-len(begin) // BOXES))
        if len(first) == len(begin):
            return begin, end, laid.low, laid.high
        low, high = (
            np.minimum.reduceat(laid.low, first, axis=1),
            np.maximum.reduceat(laid.high, first, axis=1),
        )
        return begin[first], end[np.append(first[1:], len(begin)) - 1], low, high

    def findings(self, plan: Plan) -> Iterator[Finding]:
        """One finding for all of them."""
        found = self._through(plan) if any(block.below for block in self._blocks) else {}
        if found:
            line = min(found)
            layer, met = max(plan.survey.index_at(line), 0) + 1, found[line]
            yield Finding("wall-crossed", "warning", line, (
                f"in layer {layer} the nozzle is moved through clay that stands: it is "
                f"{met.nozzle_mm:.1f} mm up where the clay is {met.clay_mm:.1f} mm high, so it tears the "
                "wall; take the move out, or let the nozzle rise over the wall before it"
            ), len(found))  # fmt: skip

    def _through(self, plan: Plan) -> dict[int, _Met]:
        """Where they are deepest, by the line on which each stands."""
        kept: list[_Pairs] = []
        count = 0
        for number, block in enumerate(self._blocks):
            if block.below and block.end_line > plan.since:
                for pairs in self._pairs(number, self._ways(number, plan)):
                    kept.append(pairs)
                    count += len(pairs.number)
                    if count > 2 * MOST_PAIRS:
                        kept = [_deepest(kept)]
                        count = len(kept[0].number)
        found: dict[int, _Met] = {}
        if not kept:
            return found
        deepest = _deepest(kept)
        order = np.argsort(deepest.number, kind="stable")
        for number, group in groupby(order.tolist(), lambda at: int(deepest.number[at])):
            clay = _clay(plan.survey.follow(self._blocks[number].mark))
            for at in group:
                line = int(deepest.ways.line[at])
                met, known = _met(deepest.some(slice(at, at + 1)), clay, self._half_mm / 2), found.get(line)
                if met is not None and (known is None or _depth_mm(met) > _depth_mm(known)):
                    found[line] = met
        return found

    def _ways(self, number: int, plan: Plan) -> _Ways:
        """Those of a block that lead below the top of what is laid before, and that go with the piece."""
        follower = plan.survey.follow(self._blocks[number].mark)
        moves = follower.moves
        line = moves.line + follower.block.chunk.first_line
        top_mm = max(float(block.high[2].max(initial=-np.inf)) for block in self._blocks[: number + 1])
        low_mm = boxes_mm(follower, arcs_of(follower))[0][2]
        which = ~moves.laying & (moves.path_mm > 0) & (low_mm < top_mm - self._half_mm)
        which &= (line >= plan.since) & plan.stays(line)
        if any(plan.shift_mm):
            moved = np.abs(shifted_mm(follower, plan.of(Shift)) - np.array(plan.shift_mm)[:, None])
            which &= moved.max(axis=0) < SAME_MM
        of, start, end = _straight(follower, which)
        return _Ways(line[of], start, end, self._half_mm + self._rises_mm(plan, line[of]))

    def _rises_mm(self, plan: Plan, line: Counts) -> Floats:
        """By how much the layers rise to which lines belong: no less than usual, no more than a layer may."""
        layers = plan.survey.layers
        rise_mm = np.diff(layers["height_mm"], prepend=0.0)
        usual_mm = np.sort(rise_mm)[len(rise_mm) // 2] if len(rise_mm) else self._most_rise_mm
        rise_mm = np.append(self._most_rise_mm, np.maximum(rise_mm, usual_mm))
        which = np.searchsorted(layers["first_line"], line, side="right")
        return np.asarray(np.minimum(rise_mm, self._most_rise_mm)[which])

    def _pairs(self, number: int, ways: _Ways) -> Iterator[_Pairs]:
        """Each way of a block with clay laid before, or in the same block, whose boxes it may meet."""
        blocks = self._blocks[: number + 1]
        counts = np.array([len(block.begin) for block in blocks])
        of = np.repeat(np.arange(len(blocks)), counts)
        begin, end = (np.concatenate([getattr(b, side) for b in blocks]) for side in ("begin", "end"))
        low, high = (np.concatenate([getattr(b, side) for b in blocks], axis=1) for side in ("low", "high"))
        many = max(1, min(GROUP, AT_ONCE // max(len(of), 1)))
        for first in range(0, len(ways.line), many):
            group = ways.some(slice(first, first + many))
            near = np.flatnonzero(_meets(_round(group), low, high, self._half_mm / 2)[0])
            if not len(near):
                continue
            meets = _meets(group, low[:, near], high[:, near], self._half_mm / 2)
            cuts = np.flatnonzero(np.diff(of[near], prepend=-1))
            top_mm = np.maximum.reduceat(np.where(meets, high[2, near], -np.inf), cuts, axis=1)
            since = np.minimum.reduceat(np.where(meets, begin[near], _NEVER), cuts, axis=1)
            until = np.maximum.reduceat(np.where(meets, end[near], 0), cuts, axis=1)
            way, block = np.nonzero(until)
            own = group.some(way)
            yield _Pairs(
                top_mm[way, block] - own.low_mm(),
                own,
                of[near[cuts[block]]],
                since[way, block],
                until[way, block],
            )


def _round(ways: _Ways) -> _Ways:
    """One from corner to corner of the box round them."""
    low, high = np.minimum(ways.start, ways.end), np.maximum(ways.start, ways.end)
    low, high = low.min(axis=1, keepdims=True), high.max(axis=1, keepdims=True)
    return _Ways(ways.line[:1], low, high, ways.deep_mm.min(keepdims=True))


def _deepest(each: list[_Pairs]) -> _Pairs:
    ways = [pairs.ways for pairs in each]
    joined = _Pairs(
        np.concatenate([pairs.most_mm for pairs in each]),
        _Ways(
            np.concatenate([w.line for w in ways]),
            np.concatenate([w.start for w in ways], axis=1),
            np.concatenate([w.end for w in ways], axis=1),
            np.concatenate([w.deep_mm for w in ways]),
        ),
        *(np.concatenate([getattr(p, side) for p in each]) for side in ("number", "begin", "end")),
    )
    return joined.some(np.argsort(-joined.most_mm, kind="stable")[:MOST_PAIRS])


def _depth_mm(met: _Met) -> float:
    return met.clay_mm - met.nozzle_mm


def _straight(follower: Follower, which: NDArray[np.bool_]) -> tuple[Counts, Floats, Floats]:
    """(the move each belongs to; start; end) of some moves of a block, arcs as short straight ones."""
    moves = follower.moves
    if not arcs_of(follower):
        of = np.flatnonzero(which)
        return of, moves.start[:, of], moves.end[:, of]
    places, of = places_mm(follower, which)
    same = of[1:] == of[:-1]
    return of[1:][same], places[:, :-1][:, same], places[:, 1:][:, same]


def _clay(follower: Follower) -> _Clay:
    of, start, end = _straight(follower, follower.moves.laying)
    line = follower.moves.line[of] + follower.block.chunk.first_line
    return _Clay(of, line, start, end, np.minimum(start, end), np.maximum(start, end))


def _meets(ways: _Ways, low: Floats, high: Floats, near_mm: float) -> NDArray[np.bool_]:
    """Whether each way may meet clay in each of k boxes, (3, k), so near and well above it; shape (n, k)."""
    least, most = np.minimum(ways.start, ways.end)[..., None], np.maximum(ways.start, ways.end)[..., None]
    meets = high[2] > least[2] + ways.deep_mm[:, None]
    for axis in range(2):
        meets &= low[axis] < most[axis] + near_mm
        meets &= high[axis] > least[axis] - near_mm
    return np.asarray(meets)


def _met(pair: _Pairs, clay: _Clay, near_mm: float) -> _Met | None:
    """Where the one way is deepest below a bead whose middle is so near, if that is deep enough."""
    way = pair.ways
    begin, end = np.searchsorted(clay.of, [pair.begin[0], pair.end[0]]).tolist()
    end = min(end, int(np.searchsorted(clay.line, way.line[0])))
    at = begin + np.flatnonzero(_meets(way, clay.low[:, begin:end], clay.high[:, begin:end], near_mm)[0])
    if not len(at):
        return None
    start, last = clay.start[:, at], clay.end[:, at]
    met = meetings(way.start[:2], way.end[:2], start[:2], last[:2])
    nozzle_mm = way.start[2] + (way.end[2] - way.start[2]) * met.share
    clay_mm = start[2] + (last[2] - start[2]) * met.other_share
    depth_mm = np.where(met.apart_mm < near_mm, clay_mm - nozzle_mm, -np.inf)
    if depth_mm.max() <= way.deep_mm[0]:
        return None
    deepest = np.unravel_index(int(np.argmax(depth_mm)), depth_mm.shape)
    return _Met(float(nozzle_mm[deepest]), float(clay_mm[deepest]))
