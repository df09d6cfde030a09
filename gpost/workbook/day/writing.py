"""The day as files in one folder: for each piece the file to run and its summary, and the sheet of the day.

All is made in a folder beside its place and put there when the whole day is done.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from gpost.common.filenames import is_sliced, unpacked_name
from gpost.common.plain import shown, storable
from gpost.common.signals import STOPS, held
from gpost.config.model import Config
from gpost.errors import GpostError, OutputError, PlanError, SourceError
from gpost.origin import origin_of
from gpost.page.index import INDEX
from gpost.pipeline import run_file
from gpost.plan.plan import Plan
from gpost.read.source import Source
from gpost.report.jsonout import to_json
from gpost.report.model import Summary
from gpost.report.text import sheet_text
from gpost.steps.askfirst import AskFirst, Called
from gpost.supply.names import Names
from gpost.survey.marks import is_rest
from gpost.workbook.day.earlier import JSON, NOTHING_WRITTEN, NUMBERED, Written, named
from gpost.workbook.day.own import day_record, of_day
from gpost.workbook.day.pages import day_index, page_of, write_page
from gpost.workbook.day.pieces import SAME_ML, DayPiece, LeftOut
from gpost.workbook.day.rest import Left
from gpost.workbook.day.sheet import DaySheet, PieceRow, make_sheet
from gpost.workbook.day.wishes import Wishes
from gpost.workbook.day.words import NO_FILES, day_json, day_text
from gpost.write.inputs import Inputs
from gpost.write.sink import check_target, put_in_place, work_folder

TEXT = "day.txt"
HEAD_BYTES = 4096
"""So much of a file is looked at for the line that says what it is."""


class Order(NamedTuple):
    """What is to be done."""

    config: Config
    wishes: Wishes
    left: Left | None
    overwrite: bool
    inputs: Inputs
    stays: Written
    """What an earlier day has written and is printed already: the numbers go on from there."""
    goes: Written
    """What it has written that is not to be printed any more."""
    first_number: int = 1
    """What the first cartridge is called."""
    notes: tuple[str, ...] = ()
    """What the sheet says first."""
    pages: bool = False
    """Whether each piece gets its page, and the day its index."""

    def sheet(self, pieces: Sequence[DayPiece]) -> DaySheet:
        """The day's sheet for these pieces."""
        sheet = make_sheet(pieces, self.config, self.wishes, self.left, self.first_number)
        return replace(sheet, notes=(*self.notes, *sheet.notes))


class Done(NamedTuple):
    """A day that is packed, and written if that was asked for."""

    sheet: DaySheet
    left_out: Sequence[LeftOut]
    files: Mapping[str, str] = NO_FILES
    """The file of each piece, by the piece's name."""
    printed: Written = NOTHING_WRITTEN
    """What an earlier day has written and is printed already."""

    def text(self, width: int | None = None) -> str:
        """The day's sheet in words, laid out as `laid_out` does."""
        return day_text(self.sheet, self.left_out, self.files, width)

    @property
    def json(self) -> str:
        """The same as JSON."""
        return day_json(self.sheet, self.left_out, self.files, self.printed)


def write_day(
    order: Order,
    out: Path,
    pieces: Sequence[DayPiece],
    left_out: Sequence[LeftOut],
    *,
    on_piece: Callable[[int, int], None] | None = None,
) -> Done:
    """Write the day into a folder, and pack it anew without what can't be printed as it is packed.

    Raises OutputError; then nothing of it is in its place.
    """
    out_of_it = list(left_out)
    while True:
        sheet = order.sheet(pieces)
        written = named(sheet, order.stays)
        rests = _check_places(order, out, written)
        with work_folder(out) as work:
            summaries: dict[str, Summary] = {}
            failed = list(_pieces(order, pieces, sheet, written, work, summaries, on_piece))
            if not failed:
                sheet = _as_written(sheet, summaries)
                sheet = replace(sheet, notes=(*sheet.notes, *map(_stays, rests)))
                done = Done(sheet, out_of_it, written.files, order.stays)
                (work / TEXT).write_text(done.text(), "utf-8")
                (work / JSON).write_text(done.json, "utf-8")
                if order.pages:
                    page = day_index(sheet, out_of_it, written, order.stays, summaries, out)
                    (work / INDEX).write_text(page, "utf-8")
                _put(order, out, written, work)
                return done
        out_of_it += failed
        gone = {row.name for row in failed}
        pieces = [piece for piece in pieces if piece.name not in gone]


def _as_written(sheet: DaySheet, summaries: Mapping[str, Summary]) -> DaySheet:
    """The sheet with what the written files are warned of, by the names of their pieces."""
    rows = (replace(row, warned=summaries[row.name].warnings) for row in sheet.pieces)
    return replace(sheet, pieces=tuple(rows))


def _beside(file: str) -> tuple[str, str, str, str]:
    """All that is written for a piece: the file to run, its summary as text and as JSON, and its page."""
    stem = unpacked_name(Path(file)).stem
    return file, f"{stem}.txt", f"{stem}.json", page_of(file)


def _all(written: Written, *, pages: bool = True) -> list[str]:
    return [name for file in written.files.values() for name in _beside(file)[: 4 if pages else 3]]


def _named(order: Order, written: Written) -> list[str]:
    """All that the day writes."""
    return [*_all(written, pages=order.pages), TEXT, JSON, *([INDEX] if order.pages else [])]


def _check_places(order: Order, out: Path, written: Written) -> list[Path]:
    """The rests of stopped prints that lie among the files, and stay.

    Raises OutputError if something would be written over that may not be, or anything else lies among them.
    """
    rests = []
    for name in _named(order, written):
        check_target(out / name, overwrite=order.overwrite, inputs=order.inputs)
    known = {*_all(written.stored), *_all(order.stays), *(_all(order.goes) if order.overwrite else ())}
    for path in sorted(out.iterdir()):
        if not is_sliced(path) or not NUMBERED.fullmatch(path.name) or storable(path.name) in known:
            continue
        if not _is_rest(path):
            raise OutputError(
                f"{shown(path)} is none of this day's files and would lie among them; name an empty folder "
                "with -o, or move it away"
            )
        rests.append(path)
    return rests


def _is_rest(path: Path) -> bool:
    """Whether `gpost resume` has written it, whatever it is packed in."""
    try:
        first = next((chunk.data for chunk in Source(path).chunks()), b"")
        return is_rest(first[:HEAD_BYTES])
    except SourceError:
        return False


def _stays(rest: Path) -> str:
    """What is said of the rest of a stopped print that lies among the day's files."""
    return (
        f"{shown(rest.name)} lies among the day's files: it is the rest of a stopped print, no piece of this "
        "plan, and stays as it is."
    )


def _pieces(
    order: Order,
    pieces: Sequence[DayPiece],
    sheet: DaySheet,
    written: Written,
    work: Path,
    summaries: dict[str, Summary],
    on_piece: Callable[[int, int], None] | None,
) -> Iterator[LeftOut]:
    """Write each piece into the work folder, and keep its summary by its name; yields what can't be done."""
    by_name = {piece.name: piece for piece in pieces}
    names = [piece.names for piece in pieces]
    for done, row in enumerate(sheet.pieces, 1):
        try:
            output = work / written.files[row.name]
            summary, plan = _piece(by_name[row.name], row, sheet, output, names)
            summaries[row.name] = summary
            if order.pages:
                write_page(summary, plan, output)
        except OutputError:
            raise
        except GpostError as error:
            yield LeftOut(row.name, str(error).replace("\n", "; "))
        if on_piece is not None:
            on_piece(done, len(sheet.pieces))


def _piece(
    piece: DayPiece, row: PieceRow, sheet: DaySheet, output: Path, names: Sequence[Names]
) -> tuple[Summary, Plan]:
    """Raises PlanError if it takes anything else out of its cartridges than the day has for it."""
    job = piece.job
    if job is None:
        raise PlanError("it is of no file")
    own = [sheet.cartridges[number - sheet.cartridges[0].number] for number in row.cartridges]
    called = [Called(cartridge.number, cartridge.load_ml) for cartridge in own]
    steps = [*job.recipe.steps, AskFirst(called, names)]
    config = job.config(row.first_ml, own[0].number)
    plans: list[Plan] = []
    summary = run_file(job.path, output, config, steps, allow=job.allow, on_plan=plans.append)
    takes = [use.clay_ml for use in summary.cartridges]
    if len(takes) != len(row.uses_ml) or any(
        abs(one - other) > SAME_ML for one, other in zip(takes, row.uses_ml, strict=True)
    ):
        raise PlanError(
            f"from {row.first_ml:.0f} ml in its first cartridge it takes other amounts than it was packed "
            "with; print it by itself (gpost run)"
        )
    day = day_record(row, own, names)
    origin = origin_of(job.path, job.recipe, allow=job.allow, day=day)
    summary = of_day(summary, piece, row, own).model_copy(update={"origin": origin})
    _, text, record, _ = _beside(output.name)
    output.with_name(text).write_text(sheet_text(summary), "utf-8")
    output.with_name(record).write_text(to_json(summary), "utf-8")
    return summary, plans[0]


def _put(order: Order, out: Path, written: Written, work: Path) -> None:
    """Give all files their names; a signal waits until that is done."""
    names = _named(order, written)
    with held(*STOPS):
        stale = set(_all(order.goes)).difference(map(storable, names))
        for path in [path for path in out.iterdir() if storable(path.name) in stale]:
            path.unlink()
        for name in names:
            put_in_place(work / name, out / name, overwrite=order.overwrite)
