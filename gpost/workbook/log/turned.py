"""What was turned by hand in a print, and what that makes of its clay and its time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from gpost.clay.byhand import share_of_turns
from gpost.common.plain import shown
from gpost.errors import ConfigError
from gpost.report.model import LayerTable, Summary
from gpost.supply.turned import Turn


class Effect(NamedTuple):
    """What turned knobs make of a print, as shares of what was predicted."""

    flow_share: float = 1.0
    """Clay metered in the piece."""
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
    _check(turns, table)
    clay = [turn for turn in turns if turn.knob == "flow"]
    time = [turn for turn in turns if turn.knob == "speed"]
    return Effect(
        share_of_turns(_places(clay, table, table.clay_ml), table.clay_ml[-1]),
        share_of_turns(_places(time, table, table.clock_s), summary.time_s, slower=True),
    )


def _check(turns: Sequence[Turn], table: LayerTable) -> None:
    for turn in turns:
        top = table.height_mm[-1] if turn.by_height else table.layer[-1]
        if turn.place > top:
            what = f"is {top:g} mm high" if turn.by_height else f"has {top:g} layer{'s' * (top != 1)}"
            raise ConfigError(f"--turned {turn}: the piece {what}; say where it was turned")


def _places(turns: Sequence[Turn], table: LayerTable, done: Sequence[float]) -> list[tuple[float, float]]:
    """(what is done where it is turned, factor) of each in rising order; of two at one place the last counts.

    `done`: of each row of the table, when its layer is done. Between rows, and inside a layer for a height,
    in proportion.
    """
    highs = np.maximum.accumulate(np.array(table.height_mm))
    first_mm = highs[1] - highs[0] if len(highs) > 1 else highs[0]
    found = []
    for turn in turns:
        if turn.by_height:
            at = np.interp(turn.place, [highs[0] - first_mm, *highs], [0.0, *done])
        else:
            at = np.interp(turn.place - 1, [0, *table.layer], [0.0, *done])
        found.append((float(at), turn.percent / 100))
    return sorted(found, key=lambda turn: turn[0])
