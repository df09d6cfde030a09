"""What is prepared before a job, and what comes of it, as records: clays, slab, the piece and its sizes."""

from __future__ import annotations

from gpost.clay.water import Size, fired_size
from gpost.plan.beside import foot_middle
from gpost.plan.intentions import Ground
from gpost.plan.plan import Plan
from gpost.report.model import ClayRecord, OutsideRecord, PieceRecord, SlabRecord
from gpost.supply.cartridges import colours
from gpost.supply.claylist import ClayRow, clay_needs, clay_row
from gpost.supply.weights import weigh


def clay_records(plan: Plan) -> tuple[ClayRecord, ...]:
    """Each clay to wedge."""
    return tuple(clay_record(clay_row(plan.config, need)) for need in clay_needs(plan))


def clay_record(row: ClayRow) -> ClayRecord:
    """One clay to wedge, of a piece or of a day."""
    return ClayRecord(
        name=row.need.name,
        piece_ml=row.need.piece_ml,
        beside_ml=row.need.beside_ml,
        left_ml=row.need.left_ml,
        slab_ml=row.need.slab_ml,
        waste_ml=row.waste_ml,
        on_ml=row.need.on_ml,
        clay_ml=row.clay_ml,
        wet_g=row.wet_g,
        stains_g={} if row.batch is None else dict(row.batch.grams),
        water_g=0.0 if row.batch is None else row.batch.water_g,
    )


def slab_record(plan: Plan) -> SlabRecord | None:
    """The slab; None without one."""
    for ground in plan.of(Ground)[:1]:
        (x_low, x_high), (y_low, y_high) = ground.x_mm, ground.y_mm
        mass = weigh(plan.config, {ground.colour or plan.config.clay.colour: ground.clay_ml})
        return SlabRecord(
            x_mm=(x_low + x_high) / 2,
            y_mm=(y_low + y_high) / 2,
            x_size_mm=x_high - x_low,
            y_size_mm=y_high - y_low,
            thickness_mm=ground.top_mm,
            wet_g=mass.wet_g,
            dry_g=mass.dry_g,
            round=ground.round,
        )
    return None


def piece_record(plan: Plan) -> PieceRecord:
    """Mass of the piece, where it stands, and its sizes: it stands on the bed's zero, or on the slab."""
    if not len(plan.survey.layers):
        return PieceRecord()
    clay, (x_mm, y_mm, z_mm) = plan.config.clay, plan.bounds_mm
    amounts_ml = colours(plan)
    mass, bead_mm = weigh(plan.config, amounts_ml), plan.bead_width_mm
    printed = Size(x_mm[1] - x_mm[0], y_mm[1] - y_mm[0], z_mm[1])
    fired = fired_size(printed, clay.shrinkage_percent, clay.shrinkage_z_percent)
    foot_x, foot_y = foot_middle(plan)
    return PieceRecord(
        clay_ml=sum(amounts_ml.values()),
        wet_g=mass.wet_g,
        dry_g=mass.dry_g,
        water_g=mass.water_g,
        fired_x_mm=fired.x_mm,
        fired_y_mm=fired.y_mm,
        fired_height_mm=fired.z_mm,
        foot_x_mm=foot_x,
        foot_y_mm=foot_y,
        outside_wet=_outside(printed, bead_mm, 0.0, 0.0),
        outside_dry=None
        if clay.drying_percent is None
        else _outside(printed, bead_mm, clay.drying_percent, _drying_z(plan)),
        outside_fired=_outside(
            printed,
            bead_mm,
            clay.shrinkage_percent,
            clay.shrinkage_percent if clay.shrinkage_z_percent is None else clay.shrinkage_z_percent,
        ),
    )


def _drying_z(plan: Plan) -> float:
    """Drying shrinkage upwards, percent: as the whole is to that along the bed."""
    clay = plan.config.clay
    drying, whole, upwards = clay.drying_percent or 0.0, clay.shrinkage_percent, clay.shrinkage_z_percent
    return drying if upwards is None or not whole else upwards * (drying / whole)


def _outside(path: Size, bead_mm: float, along_percent: float, upwards_percent: float) -> OutsideRecord:
    """Sizes of a path with the bead round it, shrunk by so much."""
    size = fired_size(
        Size(path.x_mm + bead_mm, path.y_mm + bead_mm, path.z_mm), along_percent, upwards_percent
    )
    wall = fired_size(Size(bead_mm, bead_mm, 0.0), along_percent, upwards_percent)
    return OutsideRecord(x_mm=size.x_mm, y_mm=size.y_mm, height_mm=size.z_mm, wall_mm=wall.x_mm)
