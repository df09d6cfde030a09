"""Step `fan`: the blower by layer or height."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import model_validator

from gpost.api import (
    Air,
    AirInPause,
    Count,
    Field,
    FoundLayer,
    FullPercent,
    Intention,
    NotNegative,
    Plan,
    PlanError,
    Settings,
    Silence,
    Spot,
    Step,
    Survey,
    above_top_note,
    find_layer,
    hookimpl,
    need_one_piece,
    spot_words,
    spread_notes,
)

SOURCE_AIR = (1060, 1070)
"""Codes times ten of the source's own blower commands, M106 and M107."""


class AirBand(Settings):
    """One stretch of the piece, from its start up to the next band's."""

    from_layer: Count | None = Field(
        None, description="First layer of the band, counted from 1. Give this or `from_height_mm`."
    )
    from_height_mm: NotNegative | None = Field(
        None, description="Nozzle height at which the band starts, mm. Give this or `from_layer`."
    )
    level_percent: FullPercent = Field(0.0, description="How hard the blower blows: 0 off, 100 full.")

    @model_validator(mode="after")
    def _one_start(self) -> AirBand:
        if (self.from_layer is None) == (self.from_height_mm is None):
            raise ValueError("give exactly one of from_layer and from_height_mm")
        return self


BASE_OFF = (
    AirBand(from_layer=1, from_height_mm=None, level_percent=0),
    AirBand(from_layer=4, from_height_mm=None, level_percent=30),
)
"""Off while the base grips the slab, gentle from then on."""


class FanSettings(Settings):
    """The bands, and how one goes over into the next."""

    bands: tuple[AirBand, ...] = Field(
        BASE_OFF,
        min_length=1,
        description="Where the blower changes, from the bottom up; below the first band it is off.",
    )
    ramp_layers: Count = Field(
        1, description="So many layers, from a band's first on, to go over to its level in even steps."
    )
    ramp: bool = Field(
        False, description="Go over evenly all the way from each band's start to the next one's."
    )
    off_in_pause: bool = Field(
        True,
        description="Switch the blower off while the machine waits, at the pauses of steps and at the file's "
        "own waits (M0, M1, M25, M226, M600, and what pauses your machine), and on again after each.",
    )

    @model_validator(mode="after")
    def _one_ramp(self) -> FanSettings:
        if self.ramp and self.ramp_layers > 1:
            raise ValueError("give ramp: true or ramp_layers, not both")
        return self


class Fan(Step[FanSettings]):
    """Sets the blower by layer or height.

    Moving air stiffens the wall, but too much of it shrinks one layer visibly against the next, and air
    on the base keeps it from gripping the slab. So the blower stays off for the base, comes on gently,
    and may blow harder where the wall leans. Cold air only. The file's own blower commands are silenced.
    While the machine waits for you, at the file's own waits too, the blower is off, or the rim dries.
    How the blower is switched is set in `machine: air`.

        steps:
          - fan:
              bands:
                - {from_layer: 1, level_percent: 0}
                - {from_layer: 4, level_percent: 20}
                - {from_height_mm: 60, level_percent: 60}
              ramp_layers: 5
    """

    name = "fan"
    Settings = FanSettings
    after = ("cold", "purge", "swap", "refill")

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """Silence the source's blower, then set each change of level, and off after the last clay."""
        need_one_piece(survey)
        own = survey.lines_with("M", SOURCE_AIR)
        if len(own):
            yield Silence(own, "the file's own blower commands")
        yield AirInPause(self.settings.off_in_pause)
        bands: list[tuple[FoundLayer, float]] = []
        for band in self.settings.bands:
            there = find_layer(plan, band.from_layer, band.from_height_mm)
            what = f"the band of {band.level_percent:g} %"
            if there is None:
                yield above_top_note(survey, what, band.from_layer, band.from_height_mm)
            else:
                yield from spread_notes(survey, what, band.from_height_mm, there)
                bands.append((there, band.level_percent / 100))
        before = -1.0
        spots = {there.first: there.spot for there, _ in bands}
        for index, level in enumerate(self._levels(survey, bands)):
            if level != before:
                yield Air(spots.get(index, survey.start_of(index)), float(level))
            before = level
        if before > 0:
            yield Air(Spot(survey.laid_until), 0.0)

    def _levels(self, survey: Survey, bands: Sequence[tuple[FoundLayer, float]]) -> NDArray[np.float64]:
        """Level of each layer, 0 to 1, and behind them that of a band which begins inside the last one."""
        inside = any(there.first == len(survey.layers) for there, _ in bands)
        layers = np.arange(len(survey.layers) + inside)
        starts, goals = _rising(survey, [there for there, _ in bands]), [goal for _, goal in bands]
        if not starts:
            return np.zeros(len(layers))
        if self.settings.ramp:
            level = np.where(layers < starts[0], 0.0, np.interp(layers, starts, goals))
            return np.asarray(level.round(4), dtype=np.float64)
        level = np.zeros(len(layers))
        for first, goal in zip(starts, goals, strict=True):
            share = np.clip((layers[first:] - first + 1) / self.settings.ramp_layers, 0, 1)
            from_level = level[first - 1] if first else goal
            level[first:] = from_level + (goal - from_level) * share
        return level.round(4)


def _rising(survey: Survey, bands: Sequence[FoundLayer]) -> list[int]:
    """Index of each band's first layer. Raises PlanError when they don't rise."""
    for first, second in itertools.pairwise(bands):
        if second.first <= first.first:
            raise PlanError(
                f"the band from {spot_words(survey, second.spot)} comes after the one from "
                f"{spot_words(survey, first.spot)}; list the bands from the bottom up, one a layer"
            )
    return [band.first for band in bands]


@hookimpl
def gpost_steps() -> Iterable[type[Step[Any]]]:
    """The step of this module."""
    return [Fan]
