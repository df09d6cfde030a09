"""Whether what a step wants can be carried out at all: places in the file, amounts, shapes, commands."""

from __future__ import annotations

import math
from typing import get_args

import numpy as np

from gpost.config.commands import instead
from gpost.config.settings import one_command
from gpost.errors import PlanError
from gpost.plan.intentions import (
    Air,
    Ask,
    Command,
    DryChance,
    Ground,
    Intention,
    LayClay,
    LeastLayerTime,
    MovePause,
    Note,
    Pause,
    Rehearse,
    Restart,
    Say,
    ScaleFeed,
    ScaleFlow,
    Shift,
    Silence,
    SilencePush,
    Stroke,
    Wait,
)
from gpost.spot import Spot
from gpost.survey.model import Survey

LEAST_WAIT_S, MOST_WAIT_S = 0.001, 86_400.0
"""What a dwell can say to the millisecond; and a day."""
MOST_POINTS = 10_000
"""Of all beads that are laid at one place."""


def check_intention(intention: object, survey: Survey, *, has_e: bool = True) -> None:
    """Raise ValueError, with a sentence that goes on from "step NAME ", for what no file can carry out.

    `has_e`: whether clay is metered by E. Raises PlanError for what this file can't carry out.
    """
    match intention:
        case Restart():
            _need(False, "wants to go on with a stopped print, which only who runs the job can ask for")
        case Pause():
            _check_pause(intention, survey)
        case MovePause():
            _check_pause(intention.new, survey)
        case Wait():
            _check_spot(intention.spot, survey)
            _amount(intention.seconds, "a wait", above=True)
            _need(
                LEAST_WAIT_S <= intention.seconds <= MOST_WAIT_S,
                f"wants a wait of {intention.seconds:g} s; it may last from {LEAST_WAIT_S:g} s to a day",
            )
        case LayClay():
            _check_spot(intention.spot, survey)
            _check_lay(intention)
        case Say() | Ask():
            _check_spot(intention.spot, survey)
        case Air():
            _check_spot(intention.spot, survey)
            _need(0 <= intention.level <= 1, f"wants the blower at {intention.level:g}; a level is 0 to 1")
        case Command():
            _check_spot(intention.spot, survey)
            for code in intention.codes:
                _check_code(code)
        case ScaleFeed() | ScaleFlow():
            _check_scale(intention)
            if isinstance(intention, ScaleFlow) and not has_e:
                raise PlanError(
                    "clay can't be scaled when the file has no E (`metering: {unit: path}`); change the feed "
                    "or the machine's own flow"
                )
        case Silence():
            _check_lines(intention, survey)
        case SilencePush():
            _check_push(intention, survey)
        case _:
            _check_rest(intention)


def _check_rest(intention: object) -> None:
    """What no line of the file hangs on, and what is no intention at all."""
    match intention:
        case Shift():
            _need(
                intention.first_line <= intention.end_line, "wants to move lines that end before they begin"
            )
            _need(all(math.isfinite(by) for by in intention.by_mm), "wants to move the piece by no number")
        case Ground():
            for low, high in (intention.x_mm, intention.y_mm):
                _need(low < high, "wants a slab that ends where it begins, or before")
            _amount(intention.clay_ml, "a slab's clay")
        case Rehearse():
            _need(False, "wants a rehearsal, which only who runs the job can ask for")
        case LeastLayerTime():
            _amount(intention.seconds, "a least layer time")
        case DryChance():
            _need(
                0 < intention.chance <= 0.5,
                f"takes a chance of {intention.chance}; it is above 0, and 0.5 at most",
            )
        case _:
            known = isinstance(intention, get_args(Intention))
            _need(known, f"wants a thing of the kind {type(intention).__name__}, which gpost can't do")
            _need(not isinstance(intention, Note) or isinstance(intention.text, str), "notes what is no text")


def _need(right: bool, sentence: str) -> None:
    if not right:
        raise ValueError(sentence)


def _amount(value: float, what: str, *, above: bool = False) -> None:
    _need(math.isfinite(value), f"wants {what} that is no ordinary number")
    right = value > 0 if above else value >= 0
    _need(right, f"wants {what} of {value:g}, which must be {'above 0' if above else '0 or more'}")


def _check_spot(spot: Spot, survey: Survey) -> None:
    numbers = isinstance(spot.line, int | np.integer) and isinstance(spot.fraction, int | float)
    _need(numbers, f"wants to insert at line {spot.line!r}, which is no line number")
    inside = 0 <= spot.line <= survey.lines and 0 <= spot.fraction < 1
    whole = spot.fraction == 0 or spot.line < survey.lines
    part = f" (part {spot.fraction:g})" if spot.fraction else ""
    said = f"wants to insert at line {spot.line + 1}{part}, but the file has {survey.lines} lines"
    _need(inside and whole, said)


def _check_pause(pause: Pause, survey: Survey) -> None:
    _check_spot(pause.spot, survey)
    _amount(pause.prime_ml, "a prime")
    if pause.load_ml is not None:
        _amount(pause.load_ml, "a load")
    if pause.shows_at is not None:
        _check_spot(pause.shows_at, survey)
    share = pause.shows_share
    _need(0 <= share <= 1, f"wants a colour to show by a share of {share:g}; a share is 0 to 1")
    said = "wants a pause to be in time, but names no new clay, or not where it is to show"
    _need(not pause.in_time or (pause.new_cartridge and pause.shows_at is not None), said)
    if pause.lay is not None:
        _check_lay(pause.lay)


def _check_lay(lay: LayClay) -> None:
    _need(bool(lay.strokes), "wants to lay clay, but names no beads")
    _amount(lay.feed_mm_min, "a feed", above=True)
    _amount(lay.wipe_mm, "a wipe")
    points = sum(len(stroke.points_mm) for stroke in lay.strokes)
    _need(points <= MOST_POINTS, f"wants to lay clay through more than {MOST_POINTS:,} points")
    for stroke in lay.strokes:
        _check_stroke(stroke)


def _check_stroke(stroke: Stroke) -> None:
    points = np.asarray(stroke.points_mm, dtype=float)
    flat = points.ndim == 2 and points.shape[1] == 2
    _need(flat and len(points) > 1, "wants a bead that does not lead through at least 2 points x, y")
    _need(bool(np.isfinite(points).all()), "wants a bead through a point that is nowhere")
    path_mm = float(np.hypot(*np.diff(points, axis=0).T).sum())
    _amount(path_mm, "a bead's length", above=True)
    _amount(stroke.clay_ml, "a bead's clay")
    _amount(stroke.width_mm, "a bead's width", above=True)
    _amount(stroke.height_mm, "a bead's height", above=True)
    _need(math.isfinite(stroke.z_mm), "wants a bead at no height")


def _check_code(code: str) -> None:
    _need(isinstance(code, str) and code.isascii(), f"wants to send {code!r}, which is no plain text")
    try:
        one_command(code)
    except ValueError as error:
        raise ValueError(f"wants to send {code!r}: {error}") from error
    said = instead(code)
    if said:
        raise PlanError(f"the command {code!r} can't be sent: {said}")


def _check_scale(scale: ScaleFeed | ScaleFlow) -> None:
    what = "a feed factor" if isinstance(scale, ScaleFeed) else "a clay factor"
    _amount(scale.factor, what, above=True)
    _need(scale.first_line <= scale.end_line, "wants to scale lines that end before they begin")
    if isinstance(scale, ScaleFeed):
        _amount(scale.floor_mm_min, "a least feed")


def _check_lines(intention: Silence, survey: Survey) -> None:
    lines = np.asarray(intention.lines)
    _need(not lines.size or lines.dtype.kind in "iu", "wants to silence what are no line numbers")
    inside = not lines.size or (int(lines.min()) >= 0 and int(lines.max()) < survey.lines)
    _need(inside, f"wants to silence a line outside the file, which has {survey.lines} lines")


def _check_push(intention: SilencePush, survey: Survey) -> None:
    number = isinstance(intention.line, int | np.integer)
    _need(number, f"wants to silence line {intention.line!r}, which is no line number")
    found = survey.pushes(intention.line, intention.line + 1)
    said = f"wants to silence line {intention.line + 1} as a push in place, but it is none, or does more"
    _need(bool(found.alone.any()), said)
