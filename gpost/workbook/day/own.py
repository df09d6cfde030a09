"""The summary of one piece of a day, which says of cartridges and clays what the day's sheet says."""

from __future__ import annotations

from collections.abc import Sequence

from gpost.common.plain import storable
from gpost.report.loaded import slug_records
from gpost.report.model import CartridgeRecord, ClayRecord, Summary
from gpost.report.origin import CalledRecord, DayRecord
from gpost.report.prepared import clay_record
from gpost.supply.claylist import clay_row
from gpost.supply.names import Names
from gpost.workbook.day.pieces import DayPiece
from gpost.workbook.day.sheet import CartridgeRow, PieceRow


def of_day(summary: Summary, piece: DayPiece, row: PieceRow, own: Sequence[CartridgeRow]) -> Summary:
    """The summary with the loads of `own`, the piece's cartridges in their order.

    What turning a knob does, and what weights tell, is left out of cartridges that other pieces share: it
    is reckoned by this piece alone.
    """
    alone = {cartridge.number for cartridge in own if len(cartridge.pieces) == 1}
    filled = {cartridge.number for cartridge in own if cartridge.fill_ml}
    loads_ml = {cartridge.number: cartridge.load_ml for cartridge in own}
    return summary.model_copy(
        update={
            "in_day": True,
            "clays": _clays(piece),
            "cartridges": tuple(
                _cartridge(record, cartridge, row, first=cartridge is own[0])
                for record, cartridge in zip(summary.cartridges, own, strict=True)
            ),
            "pauses": tuple(
                pause
                if pause.load_ml is None or pause.cartridge is None
                else pause.model_copy(update={"load_ml": loads_ml[pause.cartridge]})
                for pause in summary.pauses
            ),
            "weighings": tuple(
                record
                for record in summary.weighings
                if {record.cartridge, record.cartridge + 1} <= alone and record.cartridge not in filled
            ),
            "knobs": tuple(record for record in summary.knobs if record.cartridge in alone),
        }
    )


def day_record(row: PieceRow, own: Sequence[CartridgeRow], names: Sequence[Names]) -> DayRecord:
    """What the day has said for the piece: by it a stopped one is planned anew. `names`: of all pieces."""
    return DayRecord(
        first_ml=row.first_ml,
        called=tuple(CalledRecord(number=row.number, load_ml=row.load_ml) for row in own),
        clays_known=tuple(dict.fromkeys(name for each in names for name in each.known)),
        clays_used=tuple(dict.fromkeys(name for each in names for name in each.used)),
    )


def _cartridge(record: CartridgeRecord, told: CartridgeRow, row: PieceRow, *, first: bool) -> CartridgeRecord:
    """The record of a cartridge as the sheet tells to load it."""
    sure = record.sure_load_ml is not None
    return record.model_copy(
        update={
            "load_ml": told.load_ml,
            "load_g": told.wet_g,
            "sure_load_ml": told.load_ml if sure else None,
            "sure_load_g": told.wet_g if sure else None,
            "to_load_ml": told.load_ml,
            "to_load_g": told.wet_g,
            "slugs": slug_records(told.slugs),
            "pieces": tuple(map(storable, told.pieces)),
            "begins_ml": row.first_ml if first else None,
            "is_on": first and (told.held_ml is not None or told.pieces[0] != row.name),
        }
    )


def _clays(piece: DayPiece) -> tuple[ClayRecord, ...]:
    """What the piece takes of each clay; what stays in hose and cartridges is the day's."""
    if piece.job is None:
        return ()
    config = piece.job.recipe.config
    return tuple(clay_record(clay_row(config, need._replace(left_ml=0.0))) for need in piece.needs)
