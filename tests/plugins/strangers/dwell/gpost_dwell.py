"""A step of a stranger's: the wall has time to set every so many layers."""

from __future__ import annotations

from collections.abc import Iterable

from gpost.api import Intention, Plan, Positive, Settings, Spot, Step, Survey, Wait, hookimpl


class DwellSettings(Settings):
    """How often, and for how long."""

    every_layers: int = 10
    """Layers between two waits."""
    wait_s: Positive = 60
    """How long each lasts, s."""


class Dwell(Step[DwellSettings]):
    """Stands still for a while before every so manyth layer."""

    name = "dwell"
    Settings = DwellSettings

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """One wait at the start of each of those layers."""
        for first_line in survey.layers["first_line"][:: self.settings.every_layers][1:]:
            yield Wait(Spot(int(first_line)), self.settings.wait_s, "to set")


@hookimpl
def gpost_steps() -> list[type[Step[DwellSettings]]]:
    """The step of this file."""
    return [Dwell]
