"""The step that lays beads round the piece's foot, by which the bed is levelled by eye."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from gpost.api import (
    Field,
    Intention,
    Note,
    Pause,
    Plan,
    RingSettings,
    Step,
    Survey,
    first_bead,
    hookimpl,
    lay_round,
    need_layers,
)


class FootSettings(RingSettings):
    """All settings of the step: where the beads lie, and whether it waits."""

    wait: bool = Field(True, description="Whether it waits after every round.")


class Foot(Step[FootSettings]):
    """Lays beads round the piece's foot before its first layer, and waits after each.

    A first layer that is squeezed here and hangs there comes off the slab. This step goes round the foot
    slowly, with beads just as high and as wide as the first layer's, from outside in. After each round the
    nozzle is parked, and the machine waits: turn the bed's screws then, where the bead is too thin or too
    thick, and never while it moves. The next round shows whether it is right. If there's no room, gpost says
    how much there is; a purge is laid before, so give that a larger `gap_mm`, or lay it on another `side`.

        steps:
          - foot:
              rounds: 3
              distance_mm: 4
    """

    name = "foot"
    Settings = FootSettings
    after = ("cold", "base", "place", "slab", "purge")
    needs_api = 2

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """A bead and a wait for each round."""
        need_layers(survey)
        rounds, bead = lay_round(plan, self.settings, why=self.name), first_bead(plan)
        for number, lay in enumerate(rounds, 1):
            which = f"{number} of {len(rounds)}"
            yield lay
            if self.settings.wait:
                told = f"bead {which} lies round the foot: turn the bed's screws now, never while it moves"
                shown = f"Turn bed screws only now, never while it moves: {which}"
                yield Pause(lay.spot, "foot", told, shown)
        yield Note(
            f"each bead round the foot is {bead.width_mm:.1f} mm wide and {bead.height_mm:.2f} mm high, as "
            f"in the first layer, and is laid at {rounds[0].feed_mm_min:.0f} mm/min"
        )


@hookimpl
def gpost_steps() -> Iterable[type[Step[Any]]]:
    """The step of this module."""
    return [Foot]
