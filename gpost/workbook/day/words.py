"""The day's sheet in words and as JSON."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from types import MappingProxyType

from gpost import __version__
from gpost.common.filenames import unpacked_name
from gpost.common.layout import Column, Part, Table, laid_out
from gpost.common.plain import shown, storable
from gpost.report.calendar import PUTS_OFF
from gpost.report.defaults import LOAD_G
from gpost.report.digits import rounded
from gpost.report.prepared import clay_record
from gpost.report.slugs import ORDER, slug_record, slugs_lines
from gpost.report.summary import CAUTIONS
from gpost.report.textload import clay_text, least_text
from gpost.report.wording import MOST_TOLD, Stars, Warned, at_least, dashed, named, warned, wrapped
from gpost.words import say
from gpost.workbook.day.clock import Event
from gpost.workbook.day.earlier import NOTHING_WRITTEN, Written
from gpost.workbook.day.pieces import LeftOut
from gpost.workbook.day.sheet import CartridgeRow, DaySheet, PieceRow

DAY_S = 24 * 3600
NO_FILES: Mapping[str, str] = MappingProxyType({})
HOLDS = (
    "first_ml is what the cartridge holds when the piece begins, if just as much was loaded as is said above"
)
BY_HAND = (
    f"{HOLDS}: give it to the piece's own run (cartridge: first_ml; its number as first_number). More in it "
    "does no harm."
)
IN_FILES = (
    f"{HOLDS}. Each file begins by showing it with the clay, and waits before anything moves: look, and let "
    "it go on if it is right."
)


def day_text(
    sheet: DaySheet,
    left_out: Sequence[LeftOut],
    files: Mapping[str, str] = NO_FILES,
    width: int | None = None,
) -> str:
    """The sheet, laid out as `laid_out` does; nothing in it can steer a terminal.

    `files`: the file that is written for each piece, by the piece's name.
    """
    lines: list[Part] = [*wrapped(head(sheet))]
    for note in sheet.notes:
        lines += wrapped(shown(note))
    for title, part in (
        ("Look at this first", dashed([*sheet.warnings, *_warned(sheet, files)])),
        ("Prepare", _prepare(sheet)),
        ("Cartridges, in the order of loading", _cartridges(sheet)),
        ("Pieces, in the order of printing", _pieces(sheet, files)),
        ("When to be there", _events(sheet, files)),
        ("Left out", dashed([named(row.name, row.reason) for row in left_out])),
    ):
        found = list(part)
        lines += ["", title, *found] if found else []
    lines += ["", *wrapped(PUTS_OFF)]
    if sheet.pieces:
        lines += ["", "Take care", *dashed(CAUTIONS)]
    return laid_out(lines, width)


def day_json(
    sheet: DaySheet,
    left_out: Sequence[LeftOut],
    files: Mapping[str, str] = NO_FILES,
    printed: Written = NOTHING_WRITTEN,
) -> str:
    """The sheet as a JSON document; clock times are seconds after the day's midnight.

    `files` as above; `printed`: what an earlier day has written and is printed already.
    """
    document = {
        "version": 1,
        "gpost_version": __version__,
        "colour_changes": sheet.colour_changes,
        "colour_changes_within": sheet.changes_within,
        "sure_percent": sheet.sure_percent,
        "clays": [clay_record(row).model_dump() for row in sheet.clays],
        "cartridges": [_cartridge_record(row) for row in sheet.cartridges],
        "pieces": [_piece_record(row, files) for row in sheet.pieces],
        "printed": [_printed_record(name, printed) for name in printed.names],
        "events": [
            {"clock_s": round(e.clock_s, 1), "text": storable(event_text(e, files))} for e in sheet.events
        ],
        "notes": [storable(text) for text in sheet.notes],
        "warnings": [storable(text) for text in sheet.warnings],
        "left_out": [{"name": storable(row.name), "reason": storable(row.reason)} for row in left_out],
        "cautions": list(CAUTIONS),
    }
    return json.dumps(document, indent=1, ensure_ascii=False) + "\n"


def time_of_day(clock_s: float) -> str:
    """Such as ` 9:05`, to the nearest minute; the next day's get a `+1`."""
    minutes = round(clock_s / 60)
    days, minutes = divmod(minutes, DAY_S // 60)
    return f"{minutes // 60:>2}:{minutes % 60:02d}" + (f"+{days}" if days else "")


def _cartridge_record(row: CartridgeRow) -> dict[str, object]:
    return {
        "number": row.number,
        "colour": storable(row.colour),
        "fill_ml": round(row.fill_ml, 3),
        "pieces": [storable(name) for name in row.pieces],
        "clay_ml": round(row.clay_ml, 3),
        "load_ml": round(row.load_ml, 3),
        "wet_g": round(row.wet_g, 1),
        "loaded_s": round(row.loaded_s, 1),
        "done_s": round(row.done_s, 1),
        "minutes": round(row.minutes, 1),
        "held_ml": row.held_ml,
        "loaded_from": row.loaded_from or None,
        "slugs": [rounded(slug_record(slug)) for slug in row.slugs],
    }


def _piece_record(row: PieceRow, files: Mapping[str, str]) -> dict[str, object]:
    return {
        "name": storable(row.name),
        "file": storable(files[row.name]) if files else None,
        "cartridges": list(row.cartridges),
        "clay_ml": round(row.clay_ml, 3),
        "before_ml": round(row.before_ml, 3),
        "first_ml": round(row.first_ml, 3),
        "start_s": round(row.start_s, 1),
        "end_s": round(row.end_s, 1),
        "warnings": len(row.warned),
        "warned": [storable(text) for text in row.warned[:MOST_TOLD]],
    }


def _printed_record(name: str, printed: Written) -> dict[str, object]:
    return {
        "name": storable(name),
        "file": storable(printed.files[name]),
        "cartridges": list(printed.cartridges.get(name, ())),
    }


def head(sheet: DaySheet) -> str:
    if not sheet.pieces:
        return say("day.none")
    key = "day.changes_within" if sheet.changes_within else "day.changes"
    return say(
        "day.head",
        pieces=say("day.pieces", count=len(sheet.pieces)),
        cartridges=say("day.cartridges", count=len(sheet.cartridges)),
        changes=say(key, count=sheet.colour_changes, within=sheet.changes_within),
        begin=time_of_day(sheet.events[0].clock_s).strip(),
        end=time_of_day(sheet.pieces[-1].end_s).strip(),
    )


def _warned(sheet: DaySheet, files: Mapping[str, str]) -> Iterator[str]:
    """What the pieces are warned of, in the order of printing."""
    rows = []
    for row in sheet.pieces:
        own = sheet.warned_of(row)
        rest = f"in {unpacked_name(Path(files[row.name])).stem}.txt" if files else "which gpost check says"
        rows.append(Warned(row.name, own[:MOST_TOLD], len(own), rest))
    return warned(rows)


def _prepare(sheet: DaySheet) -> Iterator[Part]:
    for row in sheet.clays:
        text = clay_text(clay_record(row), Stars(sheet.defaults)(LOAD_G))
        yield from wrapped(text, first="  ", indent=" " * 6)


def _cartridges(sheet: DaySheet) -> Iterator[Part]:
    for row in sheet.cartridges:
        fill = f"{row.fill_ml:.0f} ml to fill the hose, " if row.fill_ml else ""
        yield from wrapped(
            f"{row.number:>2}  {shown(row.colour)}: {fill}{', '.join(map(shown, row.pieces)) or 'no piece'}; "
            f"{to_load(sheet, row)}, {row.minutes:.0f} min in use",
            first="  ",
            indent=" " * 6,
        )
        if row.slugs:
            yield from wrapped(ORDER[row.loaded_from], first=" " * 6, indent=" " * 6)
        yield from slugs_lines(row.slugs, " " * 6)
    for text in Stars(sheet.defaults).explained():
        yield from wrapped(text, first="  ", indent=" " * 8)


def to_load(sheet: DaySheet, row: CartridgeRow) -> str:
    """What a cartridge must hold, or what is in it."""
    if row.held_ml is not None:
        return say("loads.is_on", ml=f"{row.held_ml:.0f}")
    amounts = at_least(row.load_ml), at_least(row.wet_g)
    return least_text(*amounts, sheet.sure_percent, Stars(sheet.defaults))


def _pieces(sheet: DaySheet, files: Mapping[str, str]) -> Iterator[Part]:
    if sheet.pieces:
        columns = (
            Column("file" if files else "piece", 32, number=False, ends=12),
            Column("cartr.", 7, long="cartridges"),
            Column("ml", 6, long="clay, ml"),
            Column("first_ml", 9),
            Column("start", 7),
            Column("end", 7),
            Column("warn", 4, long="warnings"),
        )
        yield Table(columns, [_piece(row, files) for row in sheet.pieces], margin="  ")
        yield from wrapped(IN_FILES if files else BY_HAND, first="  ", indent="  ")


def _piece(row: PieceRow, files: Mapping[str, str]) -> tuple[str, ...]:
    return (
        shown(files.get(row.name, row.name)),
        f"{row.cartridges[0]}" + (f"-{row.cartridges[-1]}" if len(row.cartridges) > 1 else ""),
        f"{row.clay_ml:.0f}",
        f"{row.first_ml:.0f}",
        time_of_day(row.start_s),
        time_of_day(row.end_s),
        f"{len(row.warned)}",
    )


def _events(sheet: DaySheet, files: Mapping[str, str]) -> Iterator[Part]:
    for event in sheet.events:
        text = shown(event_text(event, files))
        yield from wrapped(f"{time_of_day(event.clock_s):<7} {text}", first="  ", indent=" " * 10)


def event_text(event: Event, files: Mapping[str, str]) -> str:
    """What to do; a piece that is started by the name of its file."""
    return say("day.start", piece=files[event.piece]) if event.starts and event.piece in files else event.text
