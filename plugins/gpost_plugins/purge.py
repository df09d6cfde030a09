"""Step `purge`: clay laid beside the piece before the first layer."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from pydantic import Field

from gpost.api import Intention, Note, NotNegative, Plan, Settings, Step, Survey, hookimpl
from gpost_plugins.ground import BeadSettings, lay_beside
from gpost_plugins.levels import need_layers, start


class PurgeVolume(Settings):
    """How much clay is laid."""

    volume_ml: NotNegative | None = Field(
        None, description="Clay to lay, ml; left out: the line volume of `cartridge:`."
    )


class PurgeSettings(BeadSettings, PurgeVolume):
    """All settings of a purge; the volume is shown first."""


class Purge(Step[PurgeSettings]):
    """Lays clay in lines beside the piece before the first layer.

    The first clay out of the nozzle is soft, full of air, or of the last piece's colour. This step lays
    so much of it on the bed that good clay follows: as much as the line holds, if you don't say
    otherwise. The lines keep clear of the piece's real outline and of the park, and the nozzle is wiped
    at the end. If there's no room, gpost says how much would fit.

        steps:
          - purge:
              volume_ml: 40
              side: left
              bead_width_mm: 10
              bead_height_mm: 4
    """

    name = "purge"
    Settings = PurgeSettings
    after = ("cold", "base", "place", "slab")

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """Lay the volume at layer 1's start."""
        need_layers(survey)
        volume_ml = self.settings.volume_ml
        if volume_ml is None:
            volume_ml = plan.config.cartridge.line_ml
        if volume_ml == 0:
            return [Note("the volume is 0 ml, so nothing is laid")]
        return [lay_beside(plan, self.settings, volume_ml, start(survey, 0), why="purge", tall=False)]


@hookimpl
def gpost_steps() -> Iterable[type[Step[Any]]]:
    """The step of this module."""
    return [Purge]
