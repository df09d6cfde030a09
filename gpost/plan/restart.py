"""Where a stopped print goes on: the measured top, matched to the path that the file goes."""

from __future__ import annotations

import math
from bisect import bisect_left
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gpost.errors import PlanError
from gpost.plan.ends import (
    AT_AN_END,
    TIE_MM,
    End,
    bead_end,
    by_length,
    by_place,
    likeliest,
    other_turn,
    path_of,
    turn_ends,
    waving_turns,
)
from gpost.plan.intentions import LayClay
from gpost.plan.laidpath import LaidPath
from gpost.plan.layers import find_layer
from gpost.plan.plan import Plan
from gpost.plan.resume import PAPER_MM, blocks_at, is_among
from gpost.spot import Spot
from gpost.survey.layerrows import HEIGHT_STEP_MM
from gpost.survey.model import Survey

Floats = NDArray[np.float64]
SAID = 2
"""Tops that are told where the measured one is none of them: the nearest."""
ELSEWHERE = (
    ". The wall waves: its top counts at that place alone, and from one measured elsewhere the rest would be "
    "laid too high, or the nozzle go into the wall"
)
ON_LEVEL = (
    "it goes on at the start of the turn that lies on that top: if the bead ended before the turn's end, the "
    "rest of that turn is missing, a gap of up to one layer (say --at X,Y where the bead ends)"
)
ON_CLIMB = (
    "it goes on at the start of the turn that begins nearest to that top. This wall climbs within its turns: "
    "what lies between there and the end of the bead is missing or laid twice, and the top tells the place "
    "as well as by how much the wall has sunk (say --at X,Y where the bead ends)"
)
SAY_WHERE = "and say where that is (--at X,Y)"


class Asked(NamedTuple):
    """Where the potter says that the bead ends. One of the first three is given."""

    height_mm: float | None = None
    """The measured top, above the machine's zero: of the bead at the place where it ends."""
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
    sunk_mm: float = 0.0
    """On a wall that climbs all the time: how much more is laid twice, and less missing, for each mm by which
    it stands lower than the file has it. The most that they can be are those of a wall that doesn't."""


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
    rise_mm: float
    """Of the layer that goes on."""
    off_mm: float
    words: str
    joint: Joint = Joint()
    stands_mm: tuple[float, float, float] | None = None
    """The bead that was measured, as the file has it, moved as planned; None: the one before the spot."""


def find_restart(plan: Plan, asked: Asked) -> Found:
    """The place in the plan that was printed. Raises PlanError where there is none, or it isn't safe."""
    survey = plan.survey
    if survey.pieces != 1 or not len(survey.layers):
        raise PlanError("a file of one piece with layers can be gone on with, and this is none")
    match = _matched(plan, asked)
    spot = _past_own_pause(plan, match.spot)
    if spot <= Spot(survey.first_bead):
        raise PlanError("nothing stands of the piece there; print it anew with the file that was run")
    if spot.line >= survey.laid_until:
        raise PlanError("all of the piece is laid there; nothing is left to print")
    end_mm = bead_end(plan, spot)
    measured_mm = asked.height_mm if asked.height_mm is not None else asked.top_mm
    shift_mm, words = 0.0, match.words
    if measured_mm is not None:
        x, y, top_mm = match.stands_mm or end_mm
        shift_mm = round(measured_mm - top_mm, 3)
        anywhere = match.stands_mm is None and asked.height_mm is not None
        there = [] if not shift_mm else _ends_there(plan, None if anywhere else (x, y), measured_mm)
        ask = f", {SAY_WHERE}" if anywhere else ""
        # where the path passes that height, half-way is no less between two starts than any other place
        slack_mm = TIE_MM if match.joint.sunk_mm else -TIE_MM
        words += _doubt(plan, top_mm, match.rise_mm, there, measured_mm, ask, slack_mm)
        if shift_mm and asked.layer is not None and waving_turns(plan, measured_mm, match.rise_mm / 2):
            words += ELSEWHERE
    if survey.index_at(spot.line) < 1 and shift_mm:
        raise PlanError(
            f"the first layer lies on the bed and can't be laid {abs(shift_mm):g} mm off; leave the measured "
            "top out, or print it anew"
        )
    end_mm = (end_mm[0], end_mm[1], end_mm[2] + shift_mm)
    return Found(spot, shift_mm, end_mm, match.off_mm, words, match.joint)


def _doubt(
    plan: Plan, top_mm: float, rise_mm: float, there: list[End], measured_mm: float, ask: str, slack_mm: float
) -> str:
    """What is said of the other turn that may be meant. Raises PlanError where it may as well be that one.

    `top_mm`: what the file has at the place that was measured; `there`: all that comes by it. `ask`: what the
    potter may say besides. `slack_mm`: so much beyond half a layer can be made up for.
    """
    off_mm = round(abs(measured_mm - top_mm), 3)
    other = other_turn(plan, there, top_mm, measured_mm)
    said = None
    if other is not None:
        # where a wall waves and twists, turns lie nearer to each other in one place than in another
        rise_mm = min(rise_mm, abs(other.top_mm - top_mm))
        x, y = other.at_mm(plan)
        said = f"the turn at {other.top_mm:.2f} mm (layer {other.layer(plan)}, x {x:.1f}, y {y:.1f} mm)"
    if off_mm > rise_mm / 2 + slack_mm:
        also = "may be meant as well" if ask else "comes by there too"
        by = f"; {said} {also}" if said else ""
        raise PlanError(
            f"the measured top of {measured_mm:g} mm is {off_mm:.2f} mm from what the file has there "
            f"({top_mm:.2f} mm), and only less than half a layer ({rise_mm / 2:.2f} mm) can be made up "
            f"for{by}; {_nearest(plan, measured_mm, there)}{ask}"
        )
    if said is None or off_mm <= rise_mm / 4:
        return ""
    return (
        f". That is more than a quarter of a layer off, and the bead may have ended in {said}: measure "
        "again, a little before the end and a little behind it"
    )


def spot_at_clock(plan: Plan, clock_s: float) -> tuple[Spot, int | None]:
    """Where the plan's clock reaches so many seconds, inside a move too; an estimate, as the clock is.

    And how many pauses and beads of steps have been there by then; None: all. Inside a block that is
    inserted it is the spot of that block; a pause has been once its wait has, beads once they are begun. The
    clock of a rest begins with it.
    """
    begun = (stop.start_s for stop in plan.stops if stop.intention is plan.restart)
    clock_s += next(begun, 0.0)
    inside = (stop.spot for stop in plan.stops if stop.start_s <= clock_s < stop.end_s)
    spot = next(inside, None) or _moved_until(plan, clock_s)
    here = [stop for stop in plan.stops if is_among(stop.intention, blocks_at(plan, spot))]
    waits_s = (0.0 if isinstance(stop.intention, LayClay) else stop.wait_after_s for stop in here)
    done = sum(clock_s > stop.start_s + wait_s for stop, wait_s in zip(here, waits_s, strict=True))
    return spot, None if done == len(here) else done


def _moved_until(plan: Plan, clock_s: float) -> Spot:
    """The same outside of what is inserted: how far the file's own moves have come."""
    # first its layer, by the table, then its line, for which that layer alone is read again
    edges = [0, *plan.survey.layers["first_line"].tolist(), plan.survey.lines]
    layer = bisect_left(edges, clock_s, key=plan.clock_before)
    first, end = edges[max(layer - 1, 0)], edges[min(layer, len(edges) - 1)]
    low = first + bisect_left(range(first, end), clock_s, key=lambda line: plan.clock_at(Spot(line)))
    line = max(low - 1, 0)
    before_s, after_s, moved_s = plan.clock_at(Spot(line)), plan.clock_at(Spot(low)), clock_s
    for stop in plan.stops:
        if stop.spot.line == line < low:  # what stands before the move or inside it is no part of its time
            after_s -= stop.seconds
            moved_s -= stop.seconds if stop.end_s <= clock_s else 0.0
    if not low or after_s <= before_s:
        return Spot(low)
    return _standing(plan.survey, line, (moved_s - before_s) / (after_s - before_s))


def _matched(plan: Plan, asked: Asked) -> _Match:
    survey = plan.survey
    if asked.spot is not None:
        rise_mm = _rises(survey)[max(survey.index_at(asked.spot.line), 0)]
        return _Match(asked.spot, rise_mm, 0.0, "it goes on exactly there")
    if asked.layer is not None:
        found = find_layer(plan, asked.layer, None)
        if found is None or found.first >= len(survey.layers):
            raise PlanError(f"the piece has no layer {asked.layer}; it has {len(survey.layers)}")
        words = "it goes on at the start of that layer; what was laid of it already is laid twice"
        joint = Joint(0.0, _turn_mm(survey, found.first), at_most=True)
        return _Match(found.spot, _rises(survey)[found.first], 0.0, words, joint)
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
    """The turn that begins on the measured top. Raises PlanError where a height alone tells no place."""
    tops_mm, rises = _tops(plan), _rises(plan.survey)
    index = int(np.argmin(np.abs(tops_mm - height_mm)))
    if height_mm > float(tops_mm[-1]) + rises[-1] / 2:
        raise PlanError(f"{height_mm:g} mm is above the piece; {_nearest(plan, height_mm, [])}")
    waving = waving_turns(plan, height_mm, rises[min(index + 1, len(rises) - 1)] / 2)
    if waving:
        raise PlanError(_ask_place(height_mm, waving))
    if index + 1 >= len(tops_mm):
        raise PlanError("the wall has its full height there; nothing is left to print")
    words, joint = _joint_on(plan, index, height_mm)
    return _Match(plan.survey.start_of(index + 1), rises[index + 1], 0.0, words, joint)


def _joint_on(plan: Plan, index: int, height_mm: float) -> tuple[str, Joint]:
    """What is said of the joint on a turn that a height alone has told, and its bounds.

    Of a level turn any part may be laid. Where turns climb the rim is as high as the end of the bead there,
    and one climb lower just before it: wherever on it was measured, the bead ends up to one climb higher,
    if the wall stands as the file has it.
    """
    survey, tops_mm = plan.survey, _tops(plan)
    turn = path_of(survey, range(index, index + 1))
    above = path_of(survey, range(index + 1, min(index + 4, len(tops_mm))))
    climbs_mm = max(turn.climbs_mm, path_of(survey, range(index + 1, index + 2)).climbs_mm)
    if climbs_mm <= PAPER_MM:
        return ON_LEVEL, Joint(turn.length_mm, 0.0, at_most=True)
    height_mm -= plan.shift_mm[2]
    low_mm = min(height_mm, float(tops_mm[index]) - plan.shift_mm[2]) - PAPER_MM
    missing_mm = turn.length_mm - turn.below_mm(low_mm)
    twice_mm = above.below_mm(height_mm + climbs_mm + PAPER_MM)
    return ON_CLIMB, Joint(
        missing_mm, twice_mm, at_most=True, sunk_mm=_turn_mm(survey, index + 1) / climbs_mm
    )


def _ask_place(height_mm: float, turns: range) -> str:
    """What the potter is asked where the wall goes up and down."""
    first, last = turns[0] + 1, turns[-1] + 1
    layers = f"layer {first} is" if first == last else f"layers {first} to {last} are"
    return (
        f"near {height_mm:g} mm the wall waves: {layers} about as high somewhere, and higher or lower "
        "elsewhere, so that the height alone doesn't tell where the bead ends. Measure the top at the very "
        f"end of the bead, {SAY_WHERE}"
    )


def _turn_mm(survey: Survey, index: int) -> float:
    """The bead of a layer, mm along it."""
    return path_of(survey, range(index, index + 1)).length_mm


def _tops(plan: Plan) -> Floats:
    return np.asarray(plan.tops_mm + plan.shift_mm[2])


def _in_turn(plan: Plan, height_mm: float, asked: Asked) -> _Match:
    """The place in the turn at which the bead ends."""
    if asked.at_mm is not None:
        found = by_place(plan, height_mm, asked.at_mm)
    else:
        found = list(by_length(plan, height_mm, asked.along_mm or 0.0))
    if not found:
        raise PlanError(f"no turn near {height_mm:g} mm is so long; measure along it from its start")
    best, stands = likeliest(plan, found, height_mm)
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
    return _Match(spot, rise_mm, near.off_mm, words, joint, (*stands.at_mm(plan), stands.top_mm))


def _or_whole(plan: Plan, end: End, spot: Spot) -> str:
    """What to do if the bead ends not near its turn's start but near the turn's end, which comes by too.

    A layer may have several turns: of walls side by side, or of pieces beside each other.
    """
    survey, index = plan.survey, plan.survey.index_at(spot.line)
    following = survey.start_of(index + 1)
    until = min(end.until, following)
    if end.only_begun or end.begun >= 1 or spot >= until:
        return ""
    if math.dist(end.at_mm(plan), bead_end(plan, until)[:2]) > plan.bead_width_mm:
        return ""
    if LaidPath(survey, until.line, following.line).length_mm:
        along_mm = LaidPath(survey, survey.start_of(index).line, until.line).length_mm
        # never behind its end: what stands where the next turn begins is a layer lower
        do = f"say --along {math.floor(10 * along_mm) / 10:.1f} instead of --at"
    else:
        last = following.line >= survey.laid_until
        do = "nothing is left to print" if last else f"say --from-layer {index + 2}"
    return f". Less than a bead's width of that turn lies before it: if the whole turn is laid already, {do}"


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


def _past_own_pause(plan: Plan, spot: Spot) -> Spot:
    """The spot behind a wait of the file's own that stands just there: it has been.

    Not where a step's pause comes just before it or behind it: that may still be due.
    """
    own = {pause.line for pause in plan.survey.own_pauses}
    while spot.fraction == 0 and spot.line in own:
        behind = Spot(spot.line + 1)
        if blocks_at(plan, spot) or blocks_at(plan, behind):
            break
        spot = behind
    return spot


def _ends_there(plan: Plan, at_mm: tuple[float, float] | None, measured_mm: float) -> list[End]:
    """All that comes by there; nothing where the wall leans, and no other turn does.

    Where the place isn't said, it is that of each turn's own end: layers to and fro end in two places.
    """
    if at_mm is None:
        return list(turn_ends(plan, measured_mm))
    try:
        return by_place(plan, measured_mm, at_mm)
    except PlanError:
        return []


def _nearest(plan: Plan, height_mm: float, there: list[End]) -> str:
    """The tops nearest to the measured one, at the place where the bead ends if two turns come by there."""
    tops = {round(end.top_mm, 2): end.layer(plan) for end in there}
    if len(tops) < SAID:
        tops = {round(mm, 2): index + 1 for index, mm in enumerate(_tops(plan).tolist())}
    nearest = sorted(sorted(tops, key=lambda mm: abs(mm - height_mm))[:SAID])
    said = " and ".join(f"{mm:.2f} mm (layer {tops[mm]})" for mm in nearest)
    return f"the nearest tops are {said}. Measure again, at the place where the bead ends"
