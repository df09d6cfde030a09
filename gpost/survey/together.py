"""How much of a layer is laid in one go, without a travel: of several walls laid by turns, one turn."""

from __future__ import annotations

import math

import numpy as np

from gpost.spot import Spot
from gpost.survey.loops import CLOSED_PATH
from gpost.survey.model import Survey


def turn_mm(survey: Survey, index: int, spot: Spot) -> float:
    """Path of the ring or turn of a layer in which the last clay before a spot lies, between two travels.

    Infinite where that goes round nothing: a stroke never comes back over itself.
    """
    lines = survey.start_of(index).line, survey.start_of(index + 1).line
    laying, aside, length, begin, end, before = [], [], [], [], [], []
    for number, mark in enumerate(survey.marks):
        if mark.first_line >= lines[1] or mark.first_line + mark.lines <= lines[0]:
            continue
        moves = survey.follow(number).moves
        line = moves.line + mark.first_line
        which = slice(*np.searchsorted(line, lines).tolist())
        laying.append(moves.laying[which])
        aside.append((moves.xy & ~moves.laying)[which])
        length.append(moves.length_mm[which])
        begin.append(moves.start[:2, which])
        end.append(moves.end[:2, which])
        before.append((line[which] < spot.line) | ((line[which] == spot.line) & (spot.fraction > 0)))
    if not laying:
        return math.inf
    lays = np.concatenate(laying)
    reached = np.flatnonzero(lays & np.concatenate(before))
    if not len(reached):
        return math.inf
    travels = np.cumsum(np.concatenate(aside))
    own = lays & (travels == travels[reached[-1]])
    points = np.concatenate([np.concatenate(ways, axis=1)[:, own] for ways in (begin, end)], axis=1)
    path_mm = float(np.concatenate(length)[own].sum())
    return path_mm if path_mm >= CLOSED_PATH * float(np.hypot(*np.ptp(points, axis=1))) else math.inf
