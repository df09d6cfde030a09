"""The step that puts the piece on a mark."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from pydantic import model_validator

from gpost.api import (
    Box,
    Field,
    Intention,
    Note,
    OwnPlace,
    Plan,
    PlanError,
    Settings,
    Shift,
    Step,
    Survey,
    foot_middle,
    hookimpl,
    lines_between,
    need_layers,
    own_places,
    piece_box,
    places_text,
)

SMALLEST_MM = 0.0005


class PlaceSettings(Settings):
    """Where the piece's middle comes to lie."""

    x_mm: float | None = Field(None, description="Middle of the piece's foot, machine x, mm.")
    y_mm: float | None = Field(None, description="Middle of the piece's foot, machine y, mm.")
    only_say: bool = Field(False, description="Move nothing; only say where the middle is.")

    @model_validator(mode="after")
    def _somewhere(self) -> PlaceSettings:
        if not self.only_say and self.x_mm is None and self.y_mm is None:
            raise ValueError("say where with x_mm and y_mm, or set only_say: true")
        return self


class Place(Step[PlaceSettings]):
    """Moves the piece so that its middle lies on a chosen point, such as a mark on the slab.

    The middle is that of the piece's foot, its first layer. The whole piece must stay on the bed. A skirt or
    a line that the file lays beside the piece goes with it. A bucket into which the file pushes clay, and
    the parks where it waits for you, stay where they are; the notes say so, and warn of one that can't.
    With `only_say` nothing is moved, and the summary says where to lay the slab.

        steps:
          - place:
              x_mm: 140
              y_mm: 120
    """

    name = "place"
    Settings = PlaceSettings
    after = ("cold", "base")

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """One shift along the bed, from the start till the nozzle has risen from the last clay."""
        need_layers(survey)
        box = piece_box(plan)
        x_mm, y_mm = foot_middle(plan)
        if self.settings.only_say:
            yield Note(f"the middle of the piece is at x {x_mm:z.1f}, y {y_mm:z.1f} mm")
            return
        to_x = x_mm if self.settings.x_mm is None else self.settings.x_mm
        to_y = y_mm if self.settings.y_mm is None else self.settings.y_mm
        by_x, by_y = round(to_x - x_mm, 3), round(to_y - y_mm, 3)
        there = Box(box.a_min + by_x, box.a_max + by_x, box.b_min + by_y, box.b_max + by_y)
        self._check(plan, there)
        moved = f"moved by {by_x:g}, {by_y:g} mm"
        yield Note(f"the middle of the piece is at x {to_x:.1f}, y {to_y:.1f} mm ({moved})")
        if max(abs(by_x), abs(by_y)) > SMALLEST_MM:
            # a wipe after the last clay must not go back to the old place across the rim
            until = survey.lifted_from(survey.laid_until, survey.height_mm)
            own = own_places(plan, until)
            stays = [place.stay for place in own if place.stay is not None]
            for first_line, end_line in lines_between(stays, until):
                yield Shift(first_line, end_line, (by_x, by_y, 0.0), "onto its place")
            yield from self._of_own_places(own, there, (by_x, by_y))

    def _of_own_places(
        self, own: Sequence[OwnPlace], there: Box, by_mm: tuple[float, float]
    ) -> Iterable[Note]:
        """What becomes of the file's own bucket and parks; `there`: the piece's new ground."""
        stay, go = ([at for at in own if (at.stay is None) == goes] for goes in (False, True))
        under = [
            at for at in stay if there.a_min < at.x_mm < there.a_max and there.b_min < at.y_mm < there.b_max
        ]
        if stay:
            yield Note(f"left where the file has it, as no part of the piece: {places_text(stay)}")
        if go:
            yield Note(
                "moved with the piece, since the file's next moves go on from there or no lift leads there: "
                f"{places_text(go, by_mm)}; look whether there is room, and put your bucket or tray there",
                warning=True,
            )
        if under:
            yield Note(
                f"the piece would stand where the file has {places_text(under)}; choose another point, or "
                "take that out of the file",
                warning=True,
            )

    def _check(self, plan: Plan, box: Box) -> None:
        """The box's sides lie on the bed: on a round bed by their middles, the piece may be round too.

        The checks before a run look at every move.
        """
        middle_x, middle_y = (box.a_min + box.a_max) / 2, (box.b_min + box.b_max) / 2
        sides = [(box.a_min, middle_y), (box.a_max, middle_y), (middle_x, box.b_min), (middle_x, box.b_max)]
        for x_mm, y_mm in sides:
            if not plan.config.machine.bed.holds(x_mm, y_mm):
                raise PlanError(
                    f"there the piece would reach x {x_mm:z.1f}, y {y_mm:z.1f} mm, off the bed; choose a "
                    "point farther in"
                )


@hookimpl
def gpost_steps() -> Iterable[type[Step[Any]]]:
    """The step of this module."""
    return [Place]
