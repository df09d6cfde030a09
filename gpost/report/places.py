"""Where a spot of the source is for the potter: layer, nozzle height and clock."""

from __future__ import annotations

import numpy as np

from gpost.plan.plan import Plan
from gpost.report.model import Place
from gpost.spot import Spot


class Places:
    """Looks spots up in one plan."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._first_lines = np.ascontiguousarray(plan.survey.layers["first_line"])

    def layer(self, line: int) -> int:
        """The layer, counted from 1, that a source line belongs to; 0 before the first."""
        return int(np.searchsorted(self._first_lines, line, side="right"))

    def place(
        self,
        spot: Spot,
        *,
        end_line: int | None = None,
        output_line: int | None = None,
        clock_s: float | None = None,
    ) -> Place:
        """The record of a spot, or of a stretch of lines that ends before `end_line`.

        `clock_s`: where it is known already.
        """
        plan, layer = self._plan, self.layer(spot.line)
        if clock_s is None:
            # edits may be thousands, and by lines is near enough for them: no layer is read again
            clock_s = plan.clock_at(spot) if end_line is None else plan.clock_before(spot.line)
        return Place(
            layer=layer,
            last_layer=layer if end_line is None else max(self.layer(end_line - 1), layer),
            height_mm=plan.survey.height_at(spot),
            output_line=output_line,
            clock_s=clock_s,
            source_line=spot.line + 1,
            last_source_line=None if end_line is None else end_line,
        )
