"""Ways of the nozzle without clay that lead through what the file has laid before."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from operator import attrgetter
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.config.metering import bead_width_mm
from gpost.config.model import Config
from gpost.motion.arcbox import arcs_of, places_mm
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
MOST_WAYS = 1000
"""So many of a block are looked at, the lowest: a wall that waves has some for each layer."""
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


class _Way(NamedTuple):
    """A straight way on which nothing is laid."""

    line: int
    start: Floats
    """(3,), machine mm."""
    end: Floats
    deep_mm: float
    """From so far below the top of clay on it is told."""


class _Pair(NamedTuple):
    """A way, and clay of one block whose boxes it meets."""

    most_mm: float
    """No deeper than that the way leads through it."""
    way: _Way
    number: int
    """Of the block that has the clay."""
    begin: int
    """The first of the moves that lay it, and the one after the last."""
    end: int


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
        pairs: list[_Pair] = []
        for number, block in enumerate(self._blocks):
            if block.below and block.end_line > plan.since:
                pairs += self._pairs(number, self._ways(number, plan))
                pairs = _deepest(pairs) if len(pairs) > 2 * MOST_PAIRS else pairs
        found: dict[int, _Met] = {}
        for number, group in groupby(sorted(_deepest(pairs), key=attrgetter("number")), attrgetter("number")):
            clay = _clay(plan.survey.follow(self._blocks[number].mark))
            for pair in group:
                met, known = _met(pair, clay, self._half_mm / 2), found.get(pair.way.line)
                if met is not None and (known is None or _depth_mm(met) > _depth_mm(known)):
                    found[pair.way.line] = met
        return found

    def _ways(self, number: int, plan: Plan) -> list[_Way]:
        """Those of a block that lead below the top of what is laid before, and that go with the piece."""
        follower = plan.survey.follow(self._blocks[number].mark)
        moves = follower.moves
        line = moves.line + follower.block.chunk.first_line
        top_mm = max(float(block.high[2].max(initial=-np.inf)) for block in self._blocks[: number + 1])
        low_mm = np.minimum(moves.start[2], moves.end[2])
        at = np.flatnonzero(~moves.laying & (moves.path_mm > 0) & (low_mm < top_mm - self._half_mm))
        at = at[(line[at] >= plan.since) & plan.stays(line[at])]
        if len(at) and any(plan.shift_mm):
            moved = np.abs(shifted_mm(follower, plan.of(Shift)) - np.array(plan.shift_mm)[:, None])
            at = at[moved[:, at].max(axis=0) < SAME_MM]
        at = at[np.sort(np.argsort(low_mm[at], kind="stable")[:MOST_WAYS])]
        rises_mm = self._rises_mm(plan, line[at])
        return [
            _Way(
                int(line[move]), moves.start[:, move].copy(), moves.end[:, move].copy(), self._half_mm + rise
            )
            for move, rise in zip(at.tolist(), rises_mm.tolist(), strict=True)
        ]

    def _rises_mm(self, plan: Plan, line: Counts) -> Floats:
        """By how much the layers rise to which lines belong: no less than usual, no more than a layer may."""
        layers = plan.survey.layers
        rise_mm = np.diff(layers["height_mm"], prepend=0.0)
        usual_mm = np.sort(rise_mm)[len(rise_mm) // 2] if len(rise_mm) else self._most_rise_mm
        rise_mm = np.append(self._most_rise_mm, np.maximum(rise_mm, usual_mm))
        which = np.searchsorted(layers["first_line"], line, side="right")
        return np.asarray(np.minimum(rise_mm, self._most_rise_mm)[which])

    def _pairs(self, number: int, ways: list[_Way]) -> Iterator[_Pair]:
        """Each way of a block with each box of clay laid before, or in the same block, that it may meet."""
        if not ways:
            return
        near_mm = self._half_mm / 2
        of, begin, end, low, high = self._boxes_near(number, ways)
        for way in ways:
            at = np.flatnonzero(_meets(way, low, high, near_mm))
            for group in np.split(at, np.flatnonzero(np.diff(of[at])) + 1) if len(at) else ():
                most_mm = float(high[2, group].max()) - min(way.start[2], way.end[2])
                yield _Pair(most_mm, way, int(of[group[0]]), int(begin[group[0]]), int(end[group[-1]]))

    def _boxes_near(self, number: int, ways: list[_Way]) -> tuple[Counts, Counts, Counts, Floats, Floats]:
        """(its block, begin, end, low, high) of each box up to a block that any of its ways may meet."""
        ends = np.array([(way.start, way.end) for way in ways]).reshape(-1, 3)
        whole = _Way(-1, ends.min(axis=0), ends.max(axis=0), min(way.deep_mm for way in ways))
        near = [
            (block, np.flatnonzero(_meets(whole, block.low, block.high, self._half_mm / 2)))
            for block in self._blocks[: number + 1]
        ]
        of = np.repeat(np.arange(len(near)), [len(at) for _, at in near])
        begin, end = (np.concatenate([getattr(b, side)[at] for b, at in near]) for side in ("begin", "end"))
        low, high = (
            np.concatenate([getattr(b, side)[:, at] for b, at in near], axis=1) for side in ("low", "high")
        )
        return of, begin, end, low, high


def _deepest(pairs: list[_Pair]) -> list[_Pair]:
    return sorted(pairs, key=attrgetter("most_mm"), reverse=True)[:MOST_PAIRS]


def _depth_mm(met: _Met) -> float:
    return met.clay_mm - met.nozzle_mm


def _clay(follower: Follower) -> _Clay:
    moves = follower.moves
    if arcs_of(follower):
        places, of = places_mm(follower, moves.laying)
        same = of[1:] == of[:-1]
        start, end, of = places[:, :-1][:, same], places[:, 1:][:, same], of[1:][same]
    else:
        of = np.flatnonzero(moves.laying)
        start, end = moves.start[:, of], moves.end[:, of]
    line = moves.line[of] + follower.block.chunk.first_line
    return _Clay(of, line, start, end, np.minimum(start, end), np.maximum(start, end))


def _meets(way: _Way, low: Floats, high: Floats, near_mm: float) -> NDArray[np.bool_]:
    """Whether there may be clay in each of some boxes, (3, k), that the way is well below, and so near to."""
    least, most = np.minimum(way.start, way.end)[:, None], np.maximum(way.start, way.end)[:, None]
    meets = high[2] > least[2] + way.deep_mm
    meets &= ((low[:2] < most[:2] + near_mm) & (high[:2] > least[:2] - near_mm)).all(axis=0)
    return np.asarray(meets)


def _met(pair: _Pair, clay: _Clay, near_mm: float) -> _Met | None:
    """Where the way is deepest below a bead whose middle is so near, if that is deep enough."""
    way = pair.way
    begin, end = np.searchsorted(clay.of, [pair.begin, pair.end]).tolist()
    end = min(end, int(np.searchsorted(clay.line, way.line)))
    at = begin + np.flatnonzero(_meets(way, clay.low[:, begin:end], clay.high[:, begin:end], near_mm))
    if not len(at):
        return None
    start, last = clay.start[:, at], clay.end[:, at]
    met = meetings(way.start[:2, None], way.end[:2, None], start[:2], last[:2])
    nozzle_mm = way.start[2] + (way.end[2] - way.start[2]) * met.share
    clay_mm = start[2] + (last[2] - start[2]) * met.other_share
    depth_mm = np.where(met.apart_mm < near_mm, clay_mm - nozzle_mm, -np.inf)
    if depth_mm.max() <= way.deep_mm:
        return None
    deepest = np.unravel_index(int(np.argmax(depth_mm)), depth_mm.shape)
    return _Met(float(nozzle_mm[deepest]), float(clay_mm[deepest]))
