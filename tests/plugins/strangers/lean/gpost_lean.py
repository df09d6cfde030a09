"""A step as a stranger writes it: more clay where the wall leans out."""

from __future__ import annotations

from collections.abc import Iterable

from gpost.api import (
    Count,
    Field,
    Intention,
    Note,
    Plan,
    Positive,
    ScaleFlow,
    Settings,
    Step,
    Survey,
    hookimpl,
    layer_end,
    need_one_piece,
    spot_words,
    wall_lean,
)


class LeanSettings(Settings):
    """How much more, and from which lean on."""

    least_lean_percent: Positive = Field(
        25.0, description="Lean from which on more is laid, mm out for 100 mm up."
    )
    more_percent: Positive = Field(
        50.0, description="Clay laid beyond the file's where the lean is 100 percent."
    )
    from_layer: Count = Field(2, description="First layer that is looked at, counted from 1.")


class Lean(Step[LeanSettings]):
    """Lays more clay where the wall leans out, as each turn rests on less of the one below.

    steps:
      - lean:
          more_percent: 40
    """

    name = "lean"
    Settings = LeanSettings
    after = ("base",)

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """One scaled stretch for each layer that leans out by so much."""
        need_one_piece(survey)
        leaning = []
        for index in range(self.settings.from_layer - 1, len(survey.layers)):
            lean = wall_lean(survey, index).mean
            if lean * 100 >= self.settings.least_lean_percent:
                leaning.append(index)
                first, end = survey.start_of(index).line, layer_end(survey, index).line
                yield ScaleFlow(
                    first, end, round(1 + lean * self.settings.more_percent / 100, 3), "it leans out"
                )
        where = f", from {spot_words(survey, survey.start_of(leaning[0]))} on" if leaning else ""
        yield Note(f"{len(leaning)} layers lean out{where}")


@hookimpl
def gpost_steps() -> list[type[Step[LeanSettings]]]:
    """The steps of this file."""
    return [Lean]
