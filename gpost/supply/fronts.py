"""How the place where new clay is expected stands to the one where it was asked for."""

from __future__ import annotations

import math

from gpost.clay.chances import reach_sds
from gpost.plan.intentions import Pause
from gpost.plan.intime import wanted
from gpost.plan.layers import spot_words
from gpost.plan.plan import Plan
from gpost.spot import Spot
from gpost.supply.cartridges import LEAST_TOLD_ML, change_spots, front_spot, lag_ml
from gpost.supply.sure import front_span

LEAST_TOLD_MM = 0.05
"""A colour that is less early or late than this is in time."""
LEAST_WHOLE_MM = 2.0
"""Heights that lie so far apart deserve whole mm."""


def asked_text(plan: Plan, pause: Pause) -> str:
    """How the place where the new clay is expected stands to the one that was asked for."""
    late_ml, survey = lag_ml(plan, pause), plan.survey
    if pause.asked_mm is None:
        if abs(late_ml) < LEAST_TOLD_ML:
            return "as asked"
        late = f"{abs(late_ml):.1f} ml {'later' if late_ml > 0 else 'earlier'}"
        return f"{late} than asked for, which was from {spot_words(survey, wanted(pause))} on"
    spot = front_spot(plan, pause)
    off_mm = round(survey.height_at(spot), 1) - round(pause.asked_mm, 1)
    if abs(off_mm) < LEAST_TOLD_MM:
        return "as asked"
    if abs(off_mm) < _unsure_mm(plan, pause):
        return f"at the {pause.asked_mm:g} mm asked for, as near as can be told"
    off = f"{abs(off_mm):.1f} mm {'above' if off_mm > 0 else 'below'} the {pause.asked_mm:g} mm asked for"
    turn = max(survey.index_at(spot.line), 0)
    waves_mm = survey.waves_between(turn, turn)
    if waves_mm is None:
        return off
    low_mm, high_mm = waves_mm  # its bead there is as far off by the wave as by the turn
    return f"{off}, in a turn that goes from {low_mm:.1f} to {high_mm:.1f} mm"


def expected_text(plan: Plan, pause: Pause) -> str:
    """Where a pause stands, and where its clay is expected, how it changes, and how sure that is."""
    stands, front = (spot_words(plan.survey, spot) for spot in (pause.spot, front_spot(plan, pause)))
    return (
        f"{pause.colour}: the pause is at {stands}, and the new clay is expected at {front}, "
        f"{asked_text(plan, pause)}{change_text(plan, pause)}{span_text(plan, pause)}"
    )


def _unsure_mm(plan: Plan, pause: Pause) -> float:
    """A standard deviation of where the clay shows, mm: less can't be told; 0 where it isn't known."""
    span = front_span(plan, pause)
    if span is None:
        return 0.0
    low_mm, high_mm = plan.survey.heights_between(*span)
    return (high_mm - low_mm) / (2 * reach_sds())


def span_text(plan: Plan, pause: Pause) -> str:
    """Between which heights the new clay begins to count as showing; nothing where no spread is known."""
    span = front_span(plan, pause)
    if span is None:
        return ""
    low_mm, high_mm = shown_between(plan, span)
    return "" if low_mm == high_mm else f"; in 95 prints of 100 {heights_text(low_mm, high_mm)}"


def height_of(plan: Plan, spot: Spot) -> float | None:
    """Nozzle height at a spot where clay shows, mm; None: never in this piece."""
    return plan.survey.height_at(spot) if spot.line < plan.survey.lines else None


def shown_between(plan: Plan, span: tuple[Spot, Spot]) -> tuple[float | None, float | None]:
    """The lowest and the highest at which clay may begin to show, mm; None: never in this piece."""
    first, last = span
    if last.line >= plan.survey.lines:
        return height_of(plan, first), None
    return plan.survey.heights_between(first, last)


def heights_text(low_mm: float | None, high_mm: float | None) -> str:
    """Two heights, rounded away from each other to what they deserve; None: never in this piece."""
    if low_mm is None:
        return "it never shows in this piece"
    low, high = heights(low_mm, high_mm)
    return f"between {low} and {high} mm" if high else f"from {low} mm on, or never in this piece"


def heights(low_mm: float, high_mm: float | None) -> tuple[str, str]:
    """The two as numbers; "": never in this piece."""
    if high_mm is None:
        return f"{math.floor(low_mm)}", ""
    step_mm = 1.0 if high_mm - low_mm >= LEAST_WHOLE_MM else 0.1
    low, high = math.floor(low_mm / step_mm + 1e-6), math.ceil(high_mm / step_mm - 1e-6)
    return f"{low * step_mm:.4g}", f"{high * step_mm:.4g}"


def change_text(plan: Plan, pause: Pause) -> str:
    """Where a change that the hose spreads out begins, is half and is full; nothing for a plug."""
    if not plan.config.cartridge.hose.mixes:
        return ""
    begins, half, full = (spot_words(plan.survey, spot) for spot in change_spots(plan, pause))
    return f"; it starts to show (5 %) at {begins}, is half at {half}, is full (95 %) at {full}"
