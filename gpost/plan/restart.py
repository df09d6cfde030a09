"""Where a stopped print goes on: the measured top, matched to the path that the file goes."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.errors import PlanError
from gpost.plan.laidpath import LaidPath, Near
from gpost.plan.layers import find_layer
from gpost.plan.plan import Plan
from gpost.spot import Spot
from gpost.survey.model import HEIGHT_STEP_MM, Survey

Floats = NDArray[np.float64]
NEAR_LAYERS = 2
"""Layers below and above the measured top that are looked at for its place in the turn."""
HARDLY = 0.25
"""So much of a bead's width laid can't be told from nothing: common practice, no source."""
TIE_MM = 0.006
"""Heights are measured to a hundredth at best: by half of that nobody can tell which turn is nearer."""
AT_AN_END = 1e-6
"""Part of a move too small to split it there."""


class Asked(NamedTuple):
    """Where the potter says that the bead ends. One of the first three is given."""

    height_mm: float | None = None
    """The measured top, above the machine's zero."""
    layer: int | None = None
    """Counted from 1: the first that is laid again."""
    spot: Spot | None = None
    at_mm: tuple[float, float] | None = None
    """Where in the turn the bead ends, machine x and y; with `height_mm`."""
    along_mm: float | None = None
    """The same as the path laid since the turn's start."""
    top_mm: float | None = None
    """The measured top; with a layer or a spot."""


class Joint(NamedTuple):
    """The bead where it goes on, in mm along it, by what was said of its end. None: not known."""

    gap_mm: float | None = 0.0
    """Between where the old bead ends and the new one starts."""
    overlap_mm: float | None = 0.0
    """Laid twice."""
    at_most: bool = False
    """Whether these are the most that they can be: where in the turn the bead ends wasn't said."""


class Found(NamedTuple):
    """Where it goes on."""

    spot: Spot
    shift_mm: float
    """The rest is laid so much higher than it was planned."""
    end_mm: tuple[float, float, float]
    """Where the last bead ends, machine mm, its height as measured."""
    off_mm: float
    """How far the path lies from the place that was given."""
    words: str
    """Where it goes on, and what that does."""
    joint: Joint = Joint()


class _Match(NamedTuple):
    spot: Spot
    top_mm: float
    """The height that the file gives the top there, moved as planned."""
    rise_mm: float
    """Of the layer that goes on."""
    off_mm: float
    words: str
    joint: Joint = Joint()


def find_restart(plan: Plan, asked: Asked) -> Found:
    """The place in the plan that was printed. Raises PlanError where there is none, or it isn't safe."""
    survey = plan.survey
    if survey.pieces != 1 or not len(survey.layers):
        raise PlanError("a file of one piece with layers can be gone on with, and this is none")
    match = _matched(plan, asked)
    spot = _past_own_pause(survey, match.spot)
    if spot <= Spot(survey.first_bead):
        raise PlanError("nothing stands of the piece there; print it anew with the file that was run")
    if spot.line >= survey.laid_until:
        raise PlanError("all of the piece is laid there; nothing is left to print")
    end_mm = _bead_end(plan, spot)
    measured_mm = asked.height_mm if asked.height_mm is not None else asked.top_mm
    if asked.height_mm is None:
        match = match._replace(top_mm=end_mm[2])
    shift_mm = 0.0 if measured_mm is None else round(measured_mm - match.top_mm, 3)
    is_far = abs(shift_mm) > min(match.rise_mm / 4, match.rise_mm / 2 - TIE_MM)
    other = None if measured_mm is None or not is_far else _other_turn(plan, end_mm, measured_mm)
    if abs(shift_mm) > match.rise_mm / 2 - TIE_MM:
        raise PlanError(_too_far(plan, measured_mm or 0.0, match, other))
    if survey.index_at(spot.line) < 1 and shift_mm:
        raise PlanError(
            f"the first layer lies on the bed and can't be laid {abs(shift_mm):g} mm off; leave the measured "
            "top out, or print it anew"
        )
    end_mm = (end_mm[0], end_mm[1], end_mm[2] + shift_mm)
    words = match.words
    if other is not None and abs(shift_mm) > match.rise_mm / 4:
        words += (
            f". That is more than a quarter of a layer off, and the bead may have ended in {other}: measure "
            "again, a little before the end and a little behind it"
        )
    return Found(spot, shift_mm, end_mm, match.off_mm, words, match.joint)


def spot_at_clock(plan: Plan, clock_s: float) -> Spot:
    """Where the plan's clock reaches so many seconds, inside a move too; an estimate, as the clock is.

    The clock of a rest begins with it.
    """
    begun = (stop.start_s for stop in plan.stops if stop.intention is plan.restart)
    clock_s += next(begun, 0.0)
    low, high = 0, plan.survey.lines
    while low < high:
        middle = (low + high) // 2
        if plan.clock_before(middle) < clock_s:
            low = middle + 1
        else:
            high = middle
    before_s, after_s = plan.clock_before(max(low - 1, 0)), plan.clock_before(low)
    if not low or after_s <= before_s:
        return Spot(low)
    return _standing(plan.survey, low - 1, (clock_s - before_s) / (after_s - before_s))


def _matched(plan: Plan, asked: Asked) -> _Match:
    survey = plan.survey
    if asked.spot is not None:
        rise_mm = _rises(survey)[max(survey.index_at(asked.spot.line), 0)]
        return _Match(asked.spot, 0.0, rise_mm, 0.0, "it goes on exactly there")
    if asked.layer is not None:
        found = find_layer(plan, asked.layer, None)
        if found is None or found.first >= len(survey.layers):
            raise PlanError(f"the piece has no layer {asked.layer}; it has {len(survey.layers)}")
        words = "it goes on at the start of that layer; what was laid of it already is laid twice"
        joint = Joint(0.0, _turn_mm(survey, found.first), at_most=True)
        return _Match(found.spot, 0.0, _rises(survey)[found.first], 0.0, words, joint)
    if asked.height_mm is None:
        raise PlanError("say where the print has stopped: a height, a layer, a line or a clock")
    if asked.at_mm is not None or asked.along_mm is not None:
        return _in_turn(plan, asked.height_mm, asked)
    return _turn_on(plan, asked.height_mm)


def _rises(survey: Survey) -> list[float]:
    """What each layer adds to the top, mm; one that adds nothing counts as the layer above it."""
    tops_mm = np.maximum.accumulate(survey.layers["height_mm"])
    below_mm = np.append(0.0, tops_mm[:-1])
    rise_mm = tops_mm - below_mm
    rises = rise_mm > HEIGHT_STEP_MM
    usual_mm = float(np.median(rise_mm[rises])) if rises.any() else 0.0
    found: list[float] = np.where(rises, rise_mm, usual_mm).tolist()
    return found


def _turn_on(plan: Plan, height_mm: float) -> _Match:
    """The turn that begins on the measured top."""
    tops_mm = _tops(plan)
    index = int(np.argmin(np.abs(tops_mm - height_mm)))
    if index + 1 >= len(tops_mm):
        if height_mm > float(tops_mm[-1]) + _rises(plan.survey)[-1] / 2:
            raise PlanError(_beyond(plan, height_mm))
        raise PlanError("the wall has its full height there; nothing is left to print")
    words = (
        "it goes on at the start of the turn that lies on that top: if the bead ended before the turn's end, "
        "the rest of that turn is missing, a gap of up to one layer (say --at X,Y where the bead ends)"
    )
    rise_mm = _rises(plan.survey)[index + 1]
    joint = Joint(_turn_mm(plan.survey, index), 0.0, at_most=True)
    return _Match(plan.survey.start_of(index + 1), float(tops_mm[index]), rise_mm, 0.0, words, joint)


def _turn_mm(survey: Survey, index: int) -> float:
    """The bead of a layer, mm along it."""
    return LaidPath(survey, survey.start_of(index).line, survey.start_of(index + 1).line).length_mm


def _tops(plan: Plan) -> Floats:
    return np.asarray(plan.tops_mm + plan.shift_mm[2])


class _End(NamedTuple):
    """Where the bead may end, by the place in the turn."""

    near: Near
    top_mm: float
    """Of what is laid there if it ends there."""
    path: LaidPath
    begun: float = math.inf
    """How much of the bead lies before it, in widths of a bead."""

    @property
    def only_begun(self) -> bool:
        """The bead has hardly begun there: too little of it to be measured as its end."""
        return self.begun < HARDLY


def _in_turn(plan: Plan, height_mm: float, asked: Asked) -> _Match:
    """The place in the turn at which the bead ends."""
    found = list(
        _ends_by_place(plan, height_mm, asked.at_mm) if asked.at_mm else _ends_along(plan, height_mm, asked)
    )
    if not found:
        raise PlanError(f"no turn near {height_mm:g} mm is so long; measure along it from its start")
    best = min(found, key=lambda end: _likely(end, height_mm))
    near = best.near
    spot = _standing(plan.survey, near.spot.line, near.spot.fraction)
    ahead_mm = best.path.before_mm(spot) - best.path.before_mm(near.spot)
    words = f"it goes on {near.off_mm:.1f} mm from the place you gave"
    if spot != near.spot:
        words += "; the line of the file there does more than move, and can't be split"
    spot = _next_turn(plan.survey, spot)
    words += _or_whole(plan, best, spot)
    joint = Joint(abs(max(ahead_mm, 0.0)), abs(min(ahead_mm, 0.0)))  # never -0.0
    rise_mm = _rises(plan.survey)[max(plan.survey.index_at(spot.line), 0)]
    return _Match(spot, best.top_mm, rise_mm, near.off_mm, words, joint)


def _or_whole(plan: Plan, end: _End, spot: Spot) -> str:
    """What to do if the bead ends not near its turn's start but near the turn's end, which comes by too."""
    survey, index = plan.survey, plan.survey.index_at(spot.line)
    following = survey.start_of(index + 1)
    begun_mm = end.path.before_mm(end.near.spot) - end.path.before_mm(survey.start_of(index))
    if end.only_begun or end.begun >= 1 or not 0 < begun_mm < plan.bead_width_mm:
        return ""
    place = (at + by for at, by in zip(end.near.at_mm[:2], plan.shift_mm, strict=False))
    if math.dist(tuple(place), _bead_end(plan, following)[:2]) > plan.bead_width_mm:
        return ""
    last = following.line >= survey.laid_until
    do = "nothing is left to print" if last else f"say --from-layer {index + 2}"
    return f". Less than a bead's width of that turn lies before it: if the whole turn is laid already, {do}"


def _likely(end: _End, height_mm: float) -> tuple[float, bool, float]:
    """Least for the likeliest: of two ends of one height, as at a seam, that of the whole bead."""
    return round(abs(end.top_mm - height_mm), 3), end.only_begun, end.near.off_mm


def _near_turns(plan: Plan, height_mm: float) -> range:
    last = int(np.argmin(np.abs(_tops(plan) - height_mm)))
    return range(max(last - NEAR_LAYERS, 0), min(last + NEAR_LAYERS + 1, len(plan.survey.layers)))


def _ends_by_place(plan: Plan, height_mm: float, at_mm: tuple[float, float]) -> Iterator[_End]:
    """By x and y: wherever the path comes by. Raises PlanError where it doesn't.

    Where a bead begins nothing of it is laid, and the top is that of the turn below, which comes by too.
    """
    (dx, dy, dz), reach_mm, turns = plan.shift_mm, plan.bead_width_mm, _near_turns(plan, height_mm)
    path = LaidPath(
        plan.survey, plan.survey.start_of(turns[0]).line, plan.survey.start_of(turns[-1] + 1).line
    )
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
    for near, begun_mm in ends:
        yield _End(near, near.at_mm[2] + dz, path, begun_mm / reach_mm)


def _ends_along(plan: Plan, height_mm: float, asked: Asked) -> Iterator[_End]:
    """By what of a turn is laid."""
    survey = plan.survey
    for index in _near_turns(plan, height_mm):
        path = LaidPath(survey, survey.start_of(index).line, survey.start_of(index + 1).line)
        near = path.after(asked.along_mm or 0.0)
        if near is not None and near.spot > Spot(survey.first_bead):
            yield _End(near, _bead_end(plan, near.spot)[2], path)


def _next_turn(survey: Survey, spot: Spot) -> Spot:
    """The start of the next turn where nothing more is laid in this one; else the spot itself."""
    following = survey.start_of(survey.index_at(spot.line) + 1)
    left = LaidPath(survey, spot.line, following.line).length_mm
    return spot if left or following.line >= survey.laid_until else following


def _standing(survey: Survey, line: int, share: float) -> Spot:
    """Where it can go on: at that share of the move, or at its nearer end where it can't be split."""
    if share >= 1 - AT_AN_END:
        return Spot(line + 1)
    spot = Spot(line, share if share > AT_AN_END else 0.0)
    there = survey.stands_at(spot, arcs=True)
    return there if there == spot or share < 0.5 else Spot(line + 1)


def _bead_end(plan: Plan, spot: Spot) -> tuple[float, float, float]:
    """Where the last clay before a spot was laid, machine mm."""
    for mark in reversed(plan.survey.marks):
        if mark.first_line <= spot.line:
            path = LaidPath(plan.survey, mark.first_line, min(spot.line + 1, mark.first_line + mark.lines))
            place = path.end_before(spot)
            if place is not None:
                x, y, z = (at + by for at, by in zip(place, plan.shift_mm, strict=True))
                return x, y, z
    raise PlanError("nothing stands of the piece there; print it anew with the file that was run")


def _past_own_pause(survey: Survey, spot: Spot) -> Spot:
    """The spot behind a wait of the file's own that stands just there: it has been."""
    own = {pause.line for pause in survey.own_pauses}
    while spot.fraction == 0 and spot.line in own:
        spot = Spot(spot.line + 1)
    return spot


def _other_turn(plan: Plan, end_mm: tuple[float, float, float], measured_mm: float) -> str | None:
    """The turn there whose top is the next nearest to the measured one, in words; None without one."""
    x, y, z = end_mm
    try:
        ends = _ends_by_place(plan, measured_mm, (x, y))
        others = [end for end in ends if abs(end.top_mm - z) > HEIGHT_STEP_MM]
    except PlanError:  # the wall leans: no other turn comes by
        return None
    if not others:
        return None
    other = min(others, key=lambda end: _likely(end, measured_mm))
    line = other.near.spot.line - (not other.near.spot.fraction)
    x, y, _ = other.near.at_mm
    x, y = x + plan.shift_mm[0], y + plan.shift_mm[1]
    return (
        f"the turn at {other.top_mm:.2f} mm (layer {plan.survey.index_at(line) + 1}, x {x:.1f}, y {y:.1f} mm)"
    )


def _too_far(plan: Plan, measured_mm: float, match: _Match, other: str | None) -> str:
    there = f"; {other} comes by there too" if other else ""
    return (
        f"the measured top of {measured_mm:g} mm is {abs(measured_mm - match.top_mm):.2f} mm from what the "
        f"file has there ({match.top_mm:.2f} mm), and only less than half a layer "
        f"({match.rise_mm / 2:.2f} mm) can be made up for{there}; "
        f"{_nearest(plan, measured_mm)}"
    )


def _beyond(plan: Plan, height_mm: float) -> str:
    return f"{height_mm:g} mm is above the piece; {_nearest(plan, height_mm)}"


def _nearest(plan: Plan, height_mm: float) -> str:
    tops_mm = _tops(plan)
    order = sorted(np.argsort(np.abs(tops_mm - height_mm))[:NEAR_LAYERS].tolist())
    said = " and ".join(f"{tops_mm[index]:.2f} mm (layer {index + 1})" for index in order)
    return f"the nearest tops are {said}. Measure again, at the place where the bead ends"
