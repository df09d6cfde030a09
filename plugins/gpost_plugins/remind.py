"""The step that calls the potter now and then."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, Literal

import numpy as np
from pydantic import model_validator

from gpost.api import (
    Command,
    Field,
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
    above_top_note,
    find_layer,
    hookimpl,
    layer_end,
    need_one_piece,
    spot_words,
    spread_notes,
)

MOST_CALLS = 1000
LAYERS_ON = 5
"""In so many layers a place is looked for before a call is given up."""


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
        machine = plan.config.machine
        at_heights = [(mm, find_layer(plan, None, mm)) for mm in self.settings.at_heights_mm]
        for mm, there in at_heights:
            if there is None:
                yield above_top_note(survey, "a reminder", None, mm)
            else:
                yield from spread_notes(survey, "a reminder", mm, there)
        due = [there.spot.line for _, there in at_heights if there is not None]
        due += self._every(survey, plan)
        if self.settings.how == "beep" and not machine.beep:
            raise PlanError("the machine has no command for a beep; set `machine: beep`, or how: message")
        taken = [*(pause.spot for pause in plan.pauses), *(Spot(own.line) for own in plan.own_pauses)]
        calls: list[Spot] = []
        for line in due:
            spot = self._clear(survey, line, [*taken, *calls])
            if spot is not None:
                calls.append(spot)
        for spot in sorted(calls):
            yield from self._call(survey, spot, machine.beep)
        yield Note(f"{len(calls)} reminder{'' if len(calls) == 1 else 's'}: {self.settings.text}")
        lost = len(due) - len(calls)
        if lost:
            text = (
                f"{lost} of {len(due)} reminders found no place so far from seams and pauses; lower clear_mm"
            )
            yield Note(text, warning=True)

    def _call(self, survey: Survey, spot: Spot, beep: tuple[str, ...]) -> Iterator[Intention]:
        text = self.settings.text
        if self.settings.how == "pause":
            yield Pause(spot, "remind", f"{text}, {spot_words(survey, spot)}", text, within_layer=True)
            return
        yield Say(spot, text)
        if self.settings.how == "beep":
            yield Command(spot, beep, "a beep")

    def _every(self, survey: Survey, plan: Plan) -> Iterator[int]:
        """Source lines at which a call is due that comes every so many minutes."""
        if self.settings.every_min is None:
            return
        firsts = [*survey.layers["first_line"].tolist(), survey.laid_until]
        clock = [*plan.layer_clock_s[:-1].tolist(), plan.clock_before(survey.laid_until)]
        due_s = self.settings.every_min * 60
        if clock[-1] > MOST_CALLS * due_s:
            raise PlanError(f"more than {MOST_CALLS:,} calls would come; make every_min larger")
        for mark_s in np.arange(due_s, clock[-1], due_s).tolist():
            if mark_s > clock[0]:
                yield int(np.interp(mark_s, clock, firsts))

    def _clear(self, survey: Survey, line: int, taken: Sequence[Spot]) -> Spot | None:
        """The spot nearest to the line due that is clear of seams and of what is taken; None: there is none.

        Looked for in the layer of the line, and then in the layers after it.
        """
        first = max(survey.index_at(line), 0)
        for index in range(first, min(first + LAYERS_ON, len(survey.layers))):
            start, end = survey.start_of(index).line, layer_end(survey, index).line
            lines, path_mm = survey.laid_path(start, end)
            before_mm = np.cumsum(path_mm) - path_mm
            clear = np.minimum(before_mm, path_mm.sum() - before_mm) >= self.settings.clear_mm
            for other in taken:
                if start <= other.line < end:
                    inside_mm = other.fraction * path_mm[lines == other.line].sum()
                    there_mm = path_mm[lines < other.line].sum() + inside_mm
                    clear &= np.abs(before_mm - there_mm) >= self.settings.clear_mm
            free = lines[clear]
            if len(free):
                return Spot(int(free[np.abs(free - line).argmin()]))
        return None


@hookimpl
def gpost_steps() -> Iterable[type[Step[Any]]]:
    """The step of this module."""
    return [Remind]
