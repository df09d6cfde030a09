"""How hard the blower blows layer by layer, as the file was sliced and as it is printed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gpost.common.among import distinct
from gpost.common.frozen import locked
from gpost.motion import codes
from gpost.plan.intentions import Air
from gpost.plan.once import once
from gpost.plan.plan import Plan
from gpost.survey.model import Survey

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
FULL = 255.0
"""The source's own M106 S that blows hardest: the usual one of these commands."""
MOST_BLOCKS = 8
"""Own blower commands in more blocks of the file are not looked at: each is read once more for it."""


@once
def air_percents(plan: Plan) -> tuple[Floats | None, Floats | None]:
    """(as printed, as sliced), half-way through each layer, shape (layers,); None where it is not known."""
    own = _own(plan)
    if own is None:
        return None, None
    line, percent = own
    stays = plan.stays(line)
    asked = sorted(plan.of(Air), key=lambda air: air.spot)
    lines = np.concatenate([line[stays], np.array([air.spot.line for air in asked], np.int64)])
    sent = plan.config.machine.air.sent
    levels = np.concatenate([percent[stays], np.array([100 * sent(air.level) for air in asked])])
    # what is inserted before a line comes before that line's own command
    first = np.concatenate([np.ones(int(stays.sum())), np.zeros(len(asked))])
    order = np.lexsort((first, lines))
    return _by_layer(plan.survey, lines[order], levels[order]), _by_layer(plan.survey, line, percent)


def _own(plan: Plan) -> tuple[Ints, Floats] | None:
    """Lines with the file's own blower commands, ascending, and what they set, percent."""
    survey, air = plan.survey, plan.config.machine.air
    full = air.full if air.on.startswith("M106") else FULL
    lines = survey.lines_with("M", (codes.AIR_ON, codes.AIR_OFF))
    if not len(lines):
        return lines, np.zeros(0)
    starts = np.array([mark.first_line for mark in survey.marks], np.int64)
    blocks = distinct(np.searchsorted(starts, lines, side="right") - 1)
    if not len(starts) or len(blocks) > MOST_BLOCKS:
        return None
    ways = [survey.follow(int(index)) for index in blocks]
    plain = _percents([way.air_levels for way in ways], full)
    own = _percents([way.studio_air_levels for way in ways], air.full)
    return lines, np.maximum(_set_by(lines, *plain), _set_by(lines, *own))


def _percents(found: list[tuple[Ints, Floats]], full: float) -> tuple[Ints, Floats]:
    """Lines, and the percent that they set, of what was found block by block."""
    levels = np.concatenate([level for _, level in found])
    return np.concatenate([line for line, _ in found]), np.clip(100 * levels / full, 0.0, 100.0)


def _set_by(lines: Ints, line: Ints, percent: Floats) -> Floats:
    """What is set once each of some lines is done; nothing before the first that sets anything."""
    return np.asarray(np.append(0.0, percent)[np.searchsorted(line, lines, side="right")], np.float64)


def _by_layer(survey: Survey, line: Ints, percent: Floats) -> Floats:
    """What is set half-way through the lines of each layer."""
    first = survey.layers["first_line"]
    end = np.append(first[1:], max(survey.laid_until, int(first[-1]) + 1))
    before = np.searchsorted(line, (first + end) // 2, side="right")
    return locked(np.asarray(np.concatenate([[0.0], percent])[before], np.float64))
