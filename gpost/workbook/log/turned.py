"""What was turned by hand in a print, and what that makes of its clay and its time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from gpost.clay.byhand import share_of_turns
from gpost.common.plain import shown
from gpost.errors import ConfigError
from gpost.report.model import LayerTable, Summary
from gpost.report.origin import ResumeRecord
from gpost.report.wording import times
from gpost.supply.turned import Turn


class Effect(NamedTuple):
    """What turned knobs make of a print, as shares of what was predicted."""

    flow_share: float = 1.0
    """Clay metered in the piece; of a rest in the whole piece."""
    time_share: float = 1.0
    """Machine time."""


def effect(summary: Summary, turns: Sequence[Turn]) -> Effect:
    """What the turns make of it: the sum over layers of each one's clay times its factor, and of its time.

    Time goes with 1 / speed, which leaves out that a machine needs time to speed up. Raises ConfigError where
    the summary can't say, or the piece has no such place.
    """
    if not turns:
        return Effect()
    table = summary.layer_table
    if table is None or table.clay_ml is None:
        raise ConfigError(
            f"the summary of {shown(summary.source)} was made by an earlier gpost, and doesn't say how much "
            "clay is in each layer, so that --turned can't be counted; run the piece again for a new summary"
        )
    _check(turns, table, summary.resume)
    clay = [turn for turn in turns if turn.knob == "flow"]
    time = [turn for turn in turns if turn.knob == "speed"]
    resume, laid_ml = summary.resume, table.clay_ml[-1]
    flow_share = share_of_turns(_places(clay, table, table.clay_ml, resume), laid_ml)
    if resume is not None:  # what was laid before the stop is as the run's file had it
        flow_share = 1 + (flow_share - 1) * laid_ml / summary.piece.clay_ml
    return Effect(
        flow_share,
        share_of_turns(_places(time, table, table.clock_s, resume), summary.time_s, slower=True),
    )


def _check(turns: Sequence[Turn], table: LayerTable, resume: ResumeRecord | None) -> None:
    for turn in turns:
        if resume is not None and turn.place < (resume.top_mm if turn.by_height else resume.layer):
            raise ConfigError(
                f"--turned {turn}: the summary is of a rest, which begins in layer {resume.layer}, at "
                f"{resume.top_mm:g} mm. Add the print by the summary of the whole run instead, without "
                f"--minutes, with all that was turned, and with {turn.knob}=100@{resume.layer} if the rest "
                "was printed as it was sliced"
            )
        top = table.height_mm[-1] if turn.by_height else table.layer[-1]
        if turn.place > top:
            what = f"is {top:g} mm high" if turn.by_height else f"has {times(table.layer[-1], 'layer')}"
            raise ConfigError(f"--turned {turn}: the piece {what}; say where it was turned")


def _places(
    turns: Sequence[Turn], table: LayerTable, done: Sequence[float], resume: ResumeRecord | None
) -> list[tuple[float, float]]:
    """(what is done where it is turned, factor) of each in rising order; of two at one place the last counts.

    `done`: of each row of the table, when its layer is done, from the start or from where a rest begins.
    Between rows, and inside a layer for a height, in proportion.
    """
    highs = np.maximum.accumulate(np.array(table.height_mm))
    first_mm = highs[1] - highs[0] if len(highs) > 1 else highs[0]
    begin_mm, whole = (highs[0] - first_mm, 0) if resume is None else (resume.top_mm, resume.layer - 1)
    found = []
    for turn in turns:
        if turn.by_height:
            at = np.interp(turn.place, [begin_mm, *highs], [0.0, *done])
        else:
            at = np.interp(turn.place - 1, [whole, *table.layer], [0.0, *done])
        found.append((float(at), turn.percent / 100))
    return sorted(found, key=lambda turn: turn[0])
