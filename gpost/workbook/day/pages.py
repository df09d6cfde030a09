"""A day's pages: one a piece, and the index that leads through the day."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from gpost.common.filenames import unpacked_name
from gpost.common.plain import shown, storable
from gpost.page.index import INDEX, Event, Index, Load, Piece, index_html, piece_of
from gpost.plan.plan import Plan
from gpost.report.model import Summary
from gpost.report.prepared import clay_record
from gpost.report.slugs import ORDER, slug_texts
from gpost.report.visits import visits
from gpost.report.wording import Stars, begun
from gpost.words import listed, say
from gpost.workbook.day.earlier import Written
from gpost.workbook.day.pieces import LeftOut
from gpost.workbook.day.sheet import CartridgeRow, DaySheet
from gpost.workbook.day.words import event_text, head, time_of_day, to_load


def page_of(file: str) -> str:
    """The page of `01-vase.gcode` is `01-vase.html`."""
    return f"{unpacked_name(Path(file)).stem}.html"


def write_page(summary: Summary, plan: Plan, output: Path) -> None:
    """Write the page of a piece beside its file. Raises SourceError."""
    from gpost.page.sheet import page_html

    page = page_html(summary.model_copy(update={"output": storable(output.name)}), plan, INDEX)
    output.with_name(page_of(output.name)).write_text(page, "utf-8")


def day_index(
    sheet: DaySheet,
    left_out: Sequence[LeftOut],
    written: Written,
    printed: Written,
    summaries: Mapping[str, Summary],
    out: Path,
) -> str:
    """The day's index: `summaries` of its pieces by their names; `printed`: what came before."""
    pieces = [
        piece_of(
            summaries[row.name],
            written.files[row.name],
            page_of(written.files[row.name]),
            say("index.from_to", start=_time(row.start_s), end=_time(row.end_s)),
            warned=sheet.warned_of(row),
        )
        for row in sheet.pieces
    ]
    pieces += [Piece(row.name, wrong=row.reason) for row in left_out]
    events = [*_events(sheet, written, summaries)]
    return index_html(
        Index(
            say("index.day", folder=shown(out.resolve().name)),
            head(sheet),
            pieces,
            sheet.warnings,
            [*sheet.notes, *Stars(sheet.defaults).explained()],
            events,
            [_load(sheet, row) for row in sheet.cartridges],
            [clay_record(row) for row in sheet.clays],
            printed=[say("index.is_printed", piece=printed.files[name]) for name in printed.names],
        )
    )


def _events(sheet: DaySheet, written: Written, summaries: Mapping[str, Summary]) -> Iterator[Event]:
    """What comes when; each wait of a piece with what its own summary says of it.

    A piece of a day may ask first whether its clay is in, where somebody is there anyway: that is no event.
    """
    counted = Counter(event.piece for event in sheet.events if event.waits)
    told = {name: visits(summary) for name, summary in summaries.items()}
    waits = {name: iter(found[max(len(found) - counted[name], 0) :]) for name, found in told.items()}
    for event in sheet.events:
        text = event_text(event, written.files)
        yield Event(
            event.clock_s,
            _time(event.clock_s),
            event.lasts_s,
            text if event.piece and text.startswith(event.piece) else begun(text),
            page_of(written.files[event.piece]) if event.piece else "",
            next(waits[event.piece], None) if event.waits else None,
        )


def _time(clock_s: float) -> str:
    return time_of_day(clock_s).strip()


def _load(sheet: DaySheet, row: CartridgeRow) -> Load:
    said = [to_load(sheet, row)]
    if row.held_ml is None and row.fill_ml:
        said.append(say("index.fill", ml=f"{row.fill_ml:.0f}"))
    said += [say("index.used", pieces=listed(map(shown, row.pieces)))] if row.pieces else []
    text = listed([*said, *([ORDER[row.loaded_from]] if row.slugs else [])], "names.semicolon")
    name = say("names.cartridge_of", number=row.number, clay=shown(row.colour))
    return Load(name, text, tuple(slug_texts(row.slugs)))
