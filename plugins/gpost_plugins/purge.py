"""Step `purge`: clay laid beside the piece before the first layer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from gpost.api import (
    BeadSettings,
    Field,
    Intention,
    Note,
    NotNegative,
    Plan,
    Settings,
    SilencePush,
    Step,
    Survey,
    hookimpl,
    lay_beside,
    need_layers,
)


class PurgeVolume(Settings):
    """How much clay is laid."""

    volume_ml: NotNegative | None = Field(
        None, description="Clay to lay, ml; left out: the hose volume of `cartridge:`."
    )
    silence_own_prime: bool = Field(
        False,
        description="Silence what the file itself pushes out in one place before its first clay; the purge "
        "does instead.",
    )


class PurgeSettings(BeadSettings, PurgeVolume):
    """All settings of a purge; the volume is shown first."""


class Purge(Step[PurgeSettings]):
    """Lays clay in lines beside the piece before the first layer.

    The first clay out of the nozzle is soft, full of air, or of the last piece's colour. This step lays
    so much of it on the bed that good clay follows: as much as the hose holds, if you don't say
    otherwise. The lines keep clear of the piece's real outline and of the park, and the nozzle is wiped
    at the end. If there's no room, gpost says how much would fit. Many files prime by themselves, in one
    place and often faster than clay can be pushed: `silence_own_prime` takes that out, with what is
    drawn back there, and all that is laid later stays as it is.

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
        if self.settings.silence_own_prime:
            yield from _without_own_prime(survey)
        volume_ml = self.settings.volume_ml
        if volume_ml is None:
            volume_ml = plan.config.cartridge.line_ml
        if volume_ml == 0:
            yield Note("the volume is 0 ml, so nothing is laid")
        else:
            yield lay_beside(plan, self.settings, volume_ml, survey.start_of(0), why="purge", tall=False)


def _without_own_prime(survey: Survey) -> Iterator[Intention]:
    """Silence all that is pushed, and drawn back, in one place before the first clay is laid."""
    first_line = survey.start_of(0).line
    laid = survey.laid_path(0, first_line)[0]
    begin = int(laid[0]) if len(laid) else first_line
    pushes, standing = survey.pushes(0, begin), survey.pushed_standing(begin)
    silenced, left = pushes.some(pushes.alone), pushes.some(~pushes.alone & (pushes.clay_ml > 0))
    yield from (SilencePush(line, "the file's own prime") for line in silenced.line.tolist())
    if len(silenced.line):
        lines = f"{len(silenced.line)} line{'s' if len(silenced.line) > 1 else ''}"
        yield Note(f"the file's own prime is silenced: {silenced.clay_ml.sum():.1f} ml on {lines}")
    elif not len(left.line) and not standing:
        yield Note("the file doesn't prime by itself, so there was nothing to silence")
    if standing:
        yield Note(
            f"the file fills the nozzle by its auger alone, while it stands on line {standing[0].line + 1} "
            "(G4), and that stays; take it out of the file if the purge is to do instead",
            warning=True,
        )
    if len(left.line):
        yield Note(
            f"line {left.line[0] + 1} pushes {left.clay_ml[0]:.1f} ml out in one place, and does more than "
            f"that, so it stays; leave nothing but E and F on it (such as G1 E5 F300)",
            warning=True,
        )


@hookimpl
def gpost_steps() -> Iterable[type[Step[Any]]]:
    """The step of this module."""
    return [Purge]
