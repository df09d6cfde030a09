"""Makes the records of what is weighed and turned by hand from the plan."""

from __future__ import annotations

from gpost.plan.plan import Plan
from gpost.report.byhand import (
    FlowRecord,
    KnobRecord,
    RemedyRecord,
    SafeRecord,
    ShownRecord,
    SpeedRecord,
    WeighingRecord,
)
from gpost.supply.knobs import Knob, Shown, Turned, knobs
from gpost.supply.safelayers import SafeLayer
from gpost.supply.weighing import Remedy, weighings


def weighing_records(plan: Plan) -> tuple[WeighingRecord, ...]:
    """One for each cartridge that is taken off for another."""
    empty_g = plan.config.cartridge.empty_g
    return tuple(
        WeighingRecord(
            cartridge=found.number,
            held_ml=found.held_ml,
            held_g=found.held_g,
            left_g=found.left_g,
            low_g=found.low_g,
            high_g=found.high_g,
            empty_g=empty_g,
            several=found.several,
            remedies=tuple(_remedy(remedy, empty_g) for remedy in found.remedies),
        )
        for found in weighings(plan)
    )


def knob_records(plan: Plan) -> tuple[KnobRecord, ...]:
    """From each cartridge's start on, and from the first other waits while it is on."""
    return tuple(map(_knob, knobs(plan)))


def _remedy(remedy: Remedy, empty_g: float | None) -> RemedyRecord:
    return RemedyRecord(
        came_percent=100 * remedy.flow,
        clay_g=remedy.left_g,
        weighs_g=None if empty_g is None else empty_g + remedy.left_g,
        more_ml=remedy.more_ml,
        more_g=remedy.more_g,
        safe=_safe(remedy.safe),
        dry=remedy.dry,
    )


def _knob(knob: Knob) -> KnobRecord:
    return KnobRecord(
        cartridge=knob.cartridge,
        from_layer=knob.from_layer,
        from_height_mm=knob.from_mm,
        from_s=knob.from_s,
        visit_s=knob.visit_s,
        flows=tuple(map(_flow, knob.flows)),
        speeds=tuple(
            SpeedRecord(percent=round(100 * factor, 6), visit_s=visit_s) for factor, visit_s in knob.speeds_s
        ),
    )


def _flow(turned: Turned) -> FlowRecord:
    return FlowRecord(
        percent=round(100 * turned.factor, 6),
        safe=_safe(turned.safe),
        visit_s=turned.visit_s,
        shows=tuple(map(_shown, turned.shows)),
    )


def _shown(shown: Shown) -> ShownRecord:
    low_mm, high_mm = (None, None) if shown.turn_mm is None else shown.turn_mm
    return ShownRecord(colour=shown.colour, height_mm=shown.height_mm, low_mm=low_mm, high_mm=high_mm)


def _safe(safe: SafeLayer | None) -> SafeRecord | None:
    return None if safe is None else SafeRecord(**safe._asdict())
