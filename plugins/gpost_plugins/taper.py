"""Step `taper`: slower towards the top, and never too fast on a short layer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import model_validator

from gpost.api import (
    LEAST_FACTOR,
    Count,
    Field,
    FoundLayer,
    Intention,
    LeastLayerTime,
    Note,
    NotNegative,
    Plan,
    PlanError,
    Settings,
    Step,
    Survey,
    above_top_note,
    down_to_thousandths,
    feed_scales,
    find_layer,
    hookimpl,
    need_one_piece,
    real_factors,
    slow_factor,
    spot_words,
    spread_notes,
)

SAME_FEED = 1e-3
"""Shares of a feed that differ by less are the same."""


class FeedRung(Settings):
    """One step of a stepped taper."""

    from_layer: Count | None = Field(
        None, description="First layer, counted from 1. Give this or `from_height_mm`."
    )
    from_height_mm: NotNegative | None = Field(
        None, description="Nozzle height of its start, mm. Give this or `from_layer`."
    )
    feed_percent: float = Field(100.0, ge=1, le=100, description="Feed from there on, percent of the file's.")

    @model_validator(mode="after")
    def _one_start(self) -> FeedRung:
        if (self.from_layer is None) == (self.from_height_mm is None):
            raise ValueError("give exactly one of from_layer and from_height_mm")
        return self


class TaperSettings(Settings):
    """How the feed falls with height."""

    shape: Literal["linear", "steps"] = Field(
        "linear", description="linear: evenly from the start to the top; steps: as `steps` says."
    )
    from_layer: Count | None = Field(
        None, description="For linear: last layer at full feed. Give this or `from_height_mm`."
    )
    from_height_mm: NotNegative | None = Field(
        None, description="For linear: height up to which the feed stays, mm; neither: half the piece."
    )
    to_percent: float = Field(
        70.0, ge=1, le=100, description="For linear: feed of the top layer, percent of the file's."
    )
    steps: tuple[FeedRung, ...] = Field(
        (), description="For steps: where each feed starts, from the bottom up."
    )
    floor_mm_min: NotNegative = Field(300.0, description="No move is slowed below this feed, mm/min.")
    least_layer_s: NotNegative = Field(
        0.0, description="A layer that takes less time is slowed until it takes this, s; 0: off."
    )

    @model_validator(mode="after")
    def _fit_together(self) -> TaperSettings:
        if self.from_layer is not None and self.from_height_mm is not None:
            raise ValueError("give only one of from_layer and from_height_mm")
        if self.shape == "steps" and not self.steps:
            raise ValueError("shape: steps needs steps, such as [{from_height_mm: 80, feed_percent: 70}]")
        if self.shape == "linear" and self.steps:
            raise ValueError("steps need shape: steps; add that, or leave them out")
        if self.shape == "steps" and (self.from_layer is not None or self.from_height_mm is not None):
            raise ValueError("with shape: steps each step says where it starts")
        return self


class Taper(Step[TaperSettings]):
    """Slows the upper walls down, and layers that are too short in time.

    Wet clay stiffens slowly. A wall that rises faster than it stiffens sags, and a narrow neck is back
    under the nozzle before it has set. The feed of moves that lay clay falls evenly to the top, or in
    steps; travel keeps its feed. `least_layer_s` slows every layer that would take less time.
    `floor_mm_min` holds the feed up, as clay that is laid too slowly tears.

        steps:
          - taper:
              from_height_mm: 80
              to_percent: 60
              floor_mm_min: 600
              least_layer_s: 25
    """

    name = "taper"
    Settings = TaperSettings
    after = ("cold", "purge", "swap", "refill", "fan")

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """One feed factor a layer, neighbours with the same one merged."""
        need_one_piece(survey)
        rungs, told = self._rungs(plan)
        yield from told
        shape = self._linear(survey, rungs) if self.settings.shape == "linear" else self._steps(survey, rungs)
        factors = self._slowed(survey, plan, shape.round(3))
        lines = {there.first: there.spot.line for there, _ in rungs}
        scales = list(feed_scales(survey, factors, self.settings.floor_mm_min, "taper", lines))
        slower = plan.adding(self.name, scales)
        yield from scales
        asked, real = _fastest(survey, factors, lines), slower.layer_factors / plan.layer_factors
        least = real_factors(survey, scales, plan.layer_factors).min(initial=1.0)
        yield Note(self._told(asked, real, float(least), slower.total_s - plan.total_s))
        if self.settings.least_layer_s:
            yield LeastLayerTime(self.settings.least_layer_s)
        yield from self._short(survey, slower)

    def _told(
        self, asked: NDArray[np.float64], real: NDArray[np.float64], least: float, added_s: float
    ) -> str:
        """What becomes of the feeds: what the floor holds up is not as slow as was asked for.

        By layer; `least` of any part of one.
        """
        slower = real < 1 - SAME_FEED
        floor = f"the feed is kept above {self.settings.floor_mm_min:g} mm/min"
        if not slower.any():
            return f"no layer gets slower, as {floor}" if (asked < 1).any() else "no layer has to be slower"
        count = np.count_nonzero(slower)
        which, their = ("layer is", "its") if count == 1 else ("layers are", "their")
        text = (
            f"{count} {which} slower, down to {least * 100:.0f} % of {their} feed, which adds "
            f"{added_s / 60:.1f} min"
        )
        if (real > asked + SAME_FEED).any():
            text += f"; {asked.min() * 100:.0f} % would be needed, but {floor}"
        return text

    def _rungs(self, plan: Plan) -> tuple[list[tuple[FoundLayer, float]], list[Note]]:
        """(where each feed starts, its factor), and notes on what is above the top or goes up and down."""
        settings, begins_mm = self.settings, plan.survey.counted.from_mm
        asked = [(rung.from_layer, rung.from_height_mm, rung.feed_percent) for rung in settings.steps]
        if settings.shape == "linear":
            from_mm = settings.from_height_mm
            if settings.from_layer is None and from_mm is None:
                from_mm = float(begins_mm.min() + begins_mm.max()) / 2
            asked = [(settings.from_layer, from_mm, settings.to_percent)]
        rungs: list[tuple[FoundLayer, float]] = []
        told: list[Note] = []
        for layer, height_mm, percent in asked:
            there, what = find_layer(plan, layer, height_mm), f"the feed of {percent:g} %"
            if there is None:
                told.append(above_top_note(plan.survey, what, layer, height_mm))
            else:
                rungs.append((there, percent / 100))
                told += spread_notes(plan.survey, what, height_mm, there)
        return rungs, told

    def _linear(self, survey: Survey, rungs: Sequence[tuple[FoundLayer, float]]) -> NDArray[np.float64]:
        """Factor of each layer: 1 up to the start, `to_percent` at the top, straight in between."""
        height_mm = survey.counted.to_mm
        if not rungs:
            return np.ones(len(height_mm))
        first = min(rungs[0][0].first, len(height_mm) - 1)
        bottom_mm, top_mm = float(height_mm[first]), float(height_mm.max())
        rise = np.maximum((height_mm - bottom_mm) / max(top_mm - bottom_mm, 1e-9), 0)
        return np.asarray(1 - (1 - self.settings.to_percent / 100) * rise, dtype=np.float64)

    def _steps(self, survey: Survey, rungs: Sequence[tuple[FoundLayer, float]]) -> NDArray[np.float64]:
        """Factor of each layer by the step it lies in, and behind them that of a step inside the last one.

        Raises PlanError when the steps don't rise.
        """
        inside = any(there.first == len(survey.layers) for there, _ in rungs)
        factors = np.ones(len(survey.layers) + inside)
        before = -1
        for there, factor in rungs:
            if there.first <= before:
                raise PlanError(
                    f"the step from {spot_words(survey, there.spot)} is not a layer or more above the one "
                    f"before it; list the steps from the bottom up, one a layer"
                )
            factors[there.first :] = factor
            before = there.first
        return factors

    def _slowed(self, survey: Survey, plan: Plan, factors: NDArray[np.float64]) -> NDArray[np.float64]:
        """The factors, smaller where a layer would take less than the least time."""
        least_s = self.settings.least_layer_s
        if not least_s:
            return factors
        slowest = [
            slow_factor(row, least_s) / before
            for row, before in zip(survey.layers, plan.layer_factors, strict=True)
        ]
        found = np.minimum(factors, [*slowest, *slowest[-1:]][: len(factors)])
        return np.maximum(np.where(found < factors, down_to_thousandths(found), factors), LEAST_FACTOR)

    def _short(self, survey: Survey, plan: Plan) -> Iterator[Note]:
        """Warn of layers that the floor keeps too short."""
        short = np.flatnonzero(plan.layer_times_s < self.settings.least_layer_s - 0.05)
        if len(short):
            worst = int(short[np.argmin(plan.layer_times_s[short])])
            yield Note(
                f"{len(short)} layers stay shorter than {self.settings.least_layer_s:g} s, as the "
                f"feed is kept above {self.settings.floor_mm_min:g} mm/min; the shortest, "
                f"{spot_words(survey, survey.start_of(worst))}, takes {plan.layer_times_s[worst]:.1f} s",
                warning=True,
            )


def _fastest(survey: Survey, factors: NDArray[np.float64], lines: Mapping[int, int]) -> NDArray[np.float64]:
    """The largest factor that is asked for in each layer, shape (layers,).

    Where a step starts inside a layer that is its own or the one before. `lines`: where steps start, by the
    index of the layer behind.
    """
    asked = factors[: len(survey.layers)].copy()
    for index, line in lines.items():
        if index > 0 and line < survey.start_of(index).line:
            asked[index - 1] = factors[index - 1 : index + 1].max()
    return asked


@hookimpl
def gpost_steps() -> Iterable[type[Step[Any]]]:
    """The step of this module."""
    return [Taper]
