"""The step that lays more clay in the first layers."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

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
    need_layers,
)


class BaseSettings(Settings):
    """How much more clay, and where."""

    layers: Count = Field(2, le=100, description="So many first layers get the factor.")
    flow_percent: Positive = Field(115, description="Clay laid in these layers, in percent of the file's.")
    by_layer_percent: tuple[Positive, ...] = Field(
        (), description="A percentage for each layer from the first on; instead of the two keys above."
    )


class Base(Step[BaseSettings]):
    """Lays more clay in the first layers, so that a thin base seals.

    Base layers alone can leave pinholes between the beads, and the pot leaks. A little more clay closes
    them; so does a slab under the piece. Only moves that lay clay get more; pressure moves stay as they
    are. `by_layer_percent: [120, 110]` gives each layer its own. The E register is set back after the last
    of these layers, so that later lines stay untouched.

        steps:
          - base:
              layers: 2
              flow_percent: 115
    """

    name = "base"
    Settings = BaseSettings
    after = ("cold",)

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """One scaled stretch a layer, and what it adds."""
        need_layers(survey)
        settings = self.settings
        percents = settings.by_layer_percent or (settings.flow_percent,) * settings.layers
        layers = survey.layers
        added_ml = 0.0
        for index, percent in enumerate(percents[: len(layers)]):
            factor = percent / 100
            added_ml += float(layers["laid_ml"][index]) * (factor - 1)
            if factor != 1:
                start, end = survey.start_of(index).line, survey.start_of(index + 1).line
                yield ScaleFlow(start, end, factor, "the base")
        count = min(len(percents), len(layers))
        if len(percents) > count:
            yield Note(f"{len(percents)} layers are asked for, and the piece has {count}")
        word = "more" if added_ml >= 0 else "less"
        where = "layer" if count == 1 else f"{count} layers"
        yield Note(f"{abs(added_ml):.1f} ml {word} clay in the first {where}")


@hookimpl
def gpost_steps() -> Iterable[type[Step[Any]]]:
    """The step of this module."""
    return [Base]
