"""The step that raises the piece onto a slab."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import model_validator

from gpost.api import (
    ClayName,
    Field,
    Ground,
    Intention,
    Note,
    NotNegative,
    Plan,
    PlanError,
    Positive,
    Settings,
    Shift,
    Step,
    Survey,
    foot_middle,
    foot_path,
    half_wall_mm,
    hookimpl,
    need_layers,
)

Floats = NDArray[np.float64]
SAME_MM = 0.01
"""Sizes that differ by less are the same: places in a file are rounded to thousandths, at both ends. No slab
is cut to a hundredth."""


class SlabSettings(Settings):
    """The slab's size and place."""

    thickness_mm: Positive = Field(3.0, description="Thickness of the slab, mm.")
    gap_mm: NotNegative = Field(
        0.1, description="Gap between the nozzle's first height and the slab, mm; a sheet of paper is 0.1."
    )
    x_size_mm: Positive | None = Field(None, description="Length of a rectangular slab along x, mm.")
    y_size_mm: Positive | None = Field(None, description="Length of a rectangular slab along y, mm.")
    diameter_mm: Positive | None = Field(None, description="Diameter of a round slab, mm.")
    x_mm: float | None = Field(None, description="Middle of the slab, machine x, mm; left out: the foot's.")
    y_mm: float | None = Field(None, description="Middle of the slab, machine y, mm; left out: the foot's.")
    clay: ClayName | None = Field(
        None, description="Name of the slab's clay, for what to wedge; left out: the first cartridge's."
    )
    margin_mm: NotNegative = Field(10.0, description="Slab that must show around the foot, mm.")

    @model_validator(mode="after")
    def _one_form(self) -> SlabSettings:
        rectangle = self.x_size_mm is not None and self.y_size_mm is not None
        half = (self.x_size_mm is None) != (self.y_size_mm is None)
        if half or rectangle == (self.diameter_mm is not None):
            raise ValueError("a slab has either x_size_mm and y_size_mm, or diameter_mm")
        return self


class Slab(Step[SlabSettings]):
    """Raises the piece onto a wet slab.

    The slab under the piece becomes its floor, or is cut away later. Everything is printed higher by the
    slab's thickness and the first gap. The piece's foot, that is its first layer, and a margin around it must
    lie on the slab, and the slab on the bed; a purge or a swap lays nothing onto it. Heights in the summary
    are above the slab.

        steps:
          - slab:
              thickness_mm: 3
              diameter_mm: 250
    """

    name = "slab"
    Settings = SlabSettings
    after = ("cold", "base", "place")

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """One shift upwards, and the ground that is taken."""
        need_layers(survey)
        foot = foot_path(plan)
        x_mm, y_mm = self._middle(plan)
        self._check_foot(foot, x_mm, y_mm, half_wall_mm(plan))
        self._check_bed(plan, x_mm, y_mm)
        rise_mm = self.settings.thickness_mm + self.settings.gap_mm
        top_mm = plan.bounds_mm[2][1] + rise_mm
        if top_mm > plan.config.machine.ceiling_mm:
            raise PlanError(
                f"on a slab the piece would be {top_mm:.1f} mm high, over the ceiling of "
                f"{plan.config.machine.ceiling_mm:g} mm; take a thinner slab or a lower piece"
            )
        half_x, half_y = self._halves()
        yield Shift(0, survey.lines, (0.0, 0.0, rise_mm), "onto the slab")
        x_range, y_range = (x_mm - half_x, x_mm + half_x), (y_mm - half_y, y_mm + half_y)
        is_round, thickness_mm = self.settings.diameter_mm is not None, self.settings.thickness_mm
        clay_ml = (math.pi if is_round else 4.0) * half_x * half_y * thickness_mm / 1000
        yield Ground(
            x_range, y_range, thickness_mm, "the slab", is_round, clay_ml=clay_ml, colour=self.settings.clay
        )
        middle = f"x {x_mm:z.1f}, y {y_mm:z.1f} mm"
        yield Note(f"lay the slab with its middle at {middle}; the piece is {rise_mm:g} mm up")

    def _halves(self) -> tuple[float, float]:
        settings = self.settings
        if settings.diameter_mm is not None:
            return settings.diameter_mm / 2, settings.diameter_mm / 2
        return (settings.x_size_mm or 0.0) / 2, (settings.y_size_mm or 0.0) / 2

    def _middle(self, plan: Plan) -> tuple[float, float]:
        x_mm, y_mm = self.settings.x_mm, self.settings.y_mm
        own_x, own_y = foot_middle(plan)
        return own_x if x_mm is None else x_mm, own_y if y_mm is None else y_mm

    def _check_foot(self, foot: Floats, x_mm: float, y_mm: float, half_wall_mm: float) -> None:
        """The foot with its walls and the margin lies on the slab. Raises PlanError with the size needed."""
        far_mm = np.abs(foot - np.array([[x_mm], [y_mm]]))
        free_mm = half_wall_mm + self.settings.margin_mm
        if self.settings.diameter_mm is not None:
            sizes = [("diameter", self.settings.diameter_mm, float(np.hypot(*far_mm).max()))]
        else:
            half_x, half_y = self._halves()
            along_x, along_y = far_mm.max(axis=1).tolist()
            sizes = [("length along x", 2 * half_x, along_x), ("length along y", 2 * half_y, along_y)]
        for what, has_mm, reach_mm in sizes:
            needed_mm = 2 * (reach_mm + free_mm)
            if needed_mm > has_mm + SAME_MM:
                # rounded up: what is told is enough, and never what it is already
                told_mm = math.ceil((needed_mm - SAME_MM) * 10) / 10
                raise PlanError(
                    f"the piece's foot and a margin of {self.settings.margin_mm:g} mm do not lie on the "
                    f"slab: its {what} must be at least {told_mm:.1f} mm, and it is {has_mm:g} mm; take a "
                    "larger slab, move it, or lower margin_mm"
                )

    def _check_bed(self, plan: Plan, x_mm: float, y_mm: float) -> None:
        bed = plan.config.machine.bed
        half_x, half_y = self._halves()
        if self.settings.diameter_mm is not None:
            angles = [math.radians(degrees) for degrees in range(0, 360, 5)]
            edge = [(x_mm + half_x * math.cos(a), y_mm + half_y * math.sin(a)) for a in angles]
        else:
            edge = [(x_mm + i * half_x, y_mm + j * half_y) for i in (-1, 1) for j in (-1, 1)]
        for x, y in edge:
            if not bed.holds(x, y):
                raise PlanError(
                    f"the slab would hang over the bed's edge at x {x:.1f}, y {y:.1f} mm; take a smaller "
                    "slab, or move it"
                )


@hookimpl
def gpost_steps() -> Iterable[type[Step[Any]]]:
    """The step of this module."""
    return [Slab]
