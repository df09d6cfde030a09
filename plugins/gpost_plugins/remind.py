"""The step that calls the potter now and then."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, Literal

import numpy as np
from pydantic import Field, model_validator

from gpost.api import (
    Command,
    Intention,
    Note,
    NotNegative,
    Pause,
    PlainText,
    Plan,
    PlanError,
    Positive,
    Say,
    Settings,
    Spot,
    Step,
    Survey,
    hookimpl,
)
from gpost_plugins.levels import index_of, layer_at, need_one_piece, place, start

MOST_CALLS = 1000


class RemindSettings(Settings):
    """When, how, and what is said."""

    every_min: Positive | None = Field(None, description="So many minutes of machine time between two calls.")
    at_heights_mm: tuple[Positive, ...] = Field((), description="Heights at which to call, mm.")
    how: Literal["message", "beep", "pause"] = Field(
        "message", description="Show a message; beep too (`machine: beep`); or stop and wait."
    )
    text: PlainText = Field("Wet the slab's edge, look at the wall", description="What is shown.")
    clear_mm: NotNegative = Field(
        30.0, description="Path that a call keeps from the start of a layer and from other pauses, mm."
    )

    @model_validator(mode="after")
    def _some_time(self) -> RemindSettings:
        if self.every_min is None and not self.at_heights_mm:
            raise ValueError("say when with every_min or at_heights_mm")
        return self


class Remind(Step[RemindSettings]):
    """Calls the potter every so many minutes, or at chosen heights.

    The slab's edge dries first and wants wetting again and again; the wall wants looking at. A message is
    shown while the machine goes on; with `how: beep` it beeps as well, with `how: pause` it stops and waits.
    Minutes are machine time, with the feeds as the other steps have left them. A call never falls within
    `clear_mm` of path of a layer's start or of another pause, where it would only thicken the seam.

        steps:
          - remind:
              every_min: 20
              text: Wet the edge of the slab
    """

    name = "remind"
    Settings = RemindSettings
    after = ("cold", "base", "place", "slab", "purge", "swap", "refill", "fan", "taper", "stand")

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """One call for each mark that finds its place."""
        need_one_piece(survey)
        if self.settings.how == "beep" and not plan.config.machine.beep:
            raise PlanError("the machine has no command for a beep; set `machine: beep`, or how: message")
        spots = sorted(set(self._spots(survey, plan)))
        for spot in spots:
            yield from self._call(survey, spot)
        yield Note(f"{len(spots)} reminders: {self.settings.text}")

    def _call(self, survey: Survey, spot: Spot) -> Iterator[Intention]:
        where = place(survey, spot)
        match self.settings.how:
            case "pause":
                yield Pause(spot, "remind", f"{self.settings.text}, {where}", self.settings.text)
            case "beep":
                yield Say(spot, self.settings.text)
                yield Command(spot, self._beep, "a beep")
            case _:
                yield Say(spot, self.settings.text)

    def _spots(self, survey: Survey, plan: Plan) -> Iterator[Spot]:
        self._beep = plan.config.machine.beep
        taken = [pause.spot for pause in plan.pauses]
        for line in self._lines(survey, plan):
            spot = self._clear(survey, line, taken)
            if spot is not None:
                yield spot

    def _lines(self, survey: Survey, plan: Plan) -> Iterator[int]:
        """Source lines at which a call is due."""
        for height_mm in self.settings.at_heights_mm:
            yield start(survey, layer_at(survey, None, height_mm)).line
        if self.settings.every_min is None:
            return
        firsts = [*survey.layers["first_line"].tolist(), survey.lines]
        clock = [plan.clock_before(line) for line in firsts]
        due_s = self.settings.every_min * 60
        if clock[-1] > MOST_CALLS * due_s:
            raise PlanError(f"more than {MOST_CALLS:,} calls would come; make every_min larger")
        for mark_s in np.arange(due_s, clock[-1], due_s).tolist():
            if mark_s > clock[0]:
                yield int(np.interp(mark_s, clock, firsts))

    def _clear(self, survey: Survey, line: int, taken: list[Spot]) -> Spot | None:
        """The line nearest to the one due, clear of the layer's ends and of other pauses; None: none is."""
        index = max(index_of(survey, Spot(line)), 0)
        firsts = [*survey.layers["first_line"].tolist(), survey.laid_until]
        first, end = firsts[index], firsts[index + 1]
        path_mm = float(survey.layers["path_mm"][index])
        per_line_mm = path_mm / max(end - first, 1)
        clear = int(np.ceil(self.settings.clear_mm / max(per_line_mm, 1e-9)))
        forbidden = [(first - clear, first + clear), (end - clear, end + clear)]
        forbidden += [(spot.line - clear, spot.line + clear + 1) for spot in taken]
        candidates = [line, *(b for pair in forbidden for b in pair)]
        free = [
            at
            for at in candidates
            if first <= at < end and not any(low < at < high for low, high in forbidden)
        ]
        return Spot(min(free, key=lambda at: abs(at - line))) if free else None


@hookimpl
def gpost_steps() -> Iterable[type[Step[Any]]]:
    """The step of this module."""
    return [Remind]
